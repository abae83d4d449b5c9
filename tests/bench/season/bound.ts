import { PLAN_SETTINGS } from '../../../src/dispatch/crew.js';
import { BEFORE_VISIT, type Ground, isWorkday, LONGEST_DAY_MINUTES, SUMMER } from './run-season.js';
import { rainLitres } from './world.js';

/** The least that a year without a dry pot takes, by somebody who knows all weather and thirst beforehand. */
export interface LeastWork {
  readonly stops: number;
  readonly truckDays: number;
  readonly summerTruckDays: number;
}

/**
 * Lower bounds of stops and truck-days. Each site alone is visited as late as its pots allow, which takes the fewest visits
 * (whoever comes earlier cannot come later the next time), and each pot alone is filled as late as it allows, which takes
 * the fewest fills. Their minutes and the shortest leg that leads to each visit are then poured into days of full length,
 * overtime included, wherever they fall. No plan does with less, and none that does not know the future reaches it.
 */
export function leastWork(ground: Ground, days: number, warmUp: number): LeastWork {
  const { world } = ground;
  let stops = 0;
  let minutes = 0;
  let summerMinutes = 0;
  world.sites.forEach((site, s) => {
    const { minutesPerStop, minutesPerPot, pumpLitresPerMinute } = PLAN_SETTINGS;
    const leg = shortestLeg(ground, s);
    const spend = (day: number, spent: number) => {
      minutes += spent;
      const name = world.calendar.days[day]!;
      if (name >= SUMMER.from && name <= SUMMER.to) summerMinutes += spent;
    };
    for (const { day } of latestVisits(ground, site.pots, days)) {
      if (day < warmUp) continue;
      stops++;
      spend(day, leg + minutesPerStop);
    }
    for (const pot of site.pots) {
      for (const { day, litres } of latestVisits(ground, [pot], days)) {
        if (day >= warmUp) spend(day, minutesPerPot + litres / pumpLitresPerMinute);
      }
    }
  });
  return {
    stops,
    truckDays: Math.ceil(minutes / LONGEST_DAY_MINUTES),
    summerTruckDays: Math.ceil(summerMinutes / LONGEST_DAY_MINUTES),
  };
}

function shortestLeg(ground: Ground, site: number): number {
  let least = Number.POSITIVE_INFINITY;
  for (let other = 0; other <= ground.depotPlace; other++) {
    if (other !== site) least = Math.min(least, ground.minutes(other, site));
  }
  return least;
}

/** Visits that fill some pots, each on the last working day that leaves none dry; where there is none, on the first that comes. */
function latestVisits(
  { world }: Ground,
  potsOfVisit: readonly number[],
  days: number,
): { day: number; litres: number }[] {
  const pots = potsOfVisit.map((p) => world.pots[p]!);
  const visits: { day: number; litres: number }[] = [];
  let litres = pots.map((pot) => pot.drawableLitres);
  let day = 0;
  while (day < days) {
    let last: { day: number; litres: number[] } | null = null;
    let ahead = litres;
    for (let d = day; d < days; d++) {
      const atVisit = ahead.map((left, k) => left - BEFORE_VISIT * pots[k]!.useLitres[d]!);
      const kept = atVisit.every((left) => left >= 0);
      if (isWorkday(d) && (kept || last === null)) last = { day: d, litres: atVisit.map((left) => Math.max(0, left)) };
      const evening = atVisit.map((left, k) => left - (1 - BEFORE_VISIT) * pots[k]!.useLitres[d]!);
      if (last !== null && !evening.every((left) => left >= 0)) break;
      if (d === days - 1) return visits;
      ahead = evening.map((left, k) => {
        const { drawableLitres, surfaceM2 } = pots[k]!;
        return Math.min(drawableLitres, Math.max(0, left) + rainLitres(surfaceM2, world.rainMm[d]!));
      });
    }
    if (last === null) return visits;
    const room = last.litres.reduce((sum, left, k) => sum + pots[k]!.drawableLitres - left, 0);
    visits.push({ day: last.day, litres: room });
    litres = pots.map((pot) => {
      const full = pot.drawableLitres - (1 - BEFORE_VISIT) * pot.useLitres[last.day]!;
      return Math.min(pot.drawableLitres, Math.max(0, full) + rainLitres(pot.surfaceM2, world.rainMm[last.day]!));
    });
    day = last.day + 1;
  }
  return visits;
}

import { parseArgs } from 'node:util';
import { PLAN_SETTINGS } from '../../src/dispatch/crew.js';
import type { Benchmark } from './run.js';
import { leastWork } from './season/bound.js';
import { statusOf } from './season/forecast.js';
import {
  Ground,
  isWorkday,
  type Outing,
  ordered,
  type Policy,
  packed,
  plannerPolicy,
  runSeason,
  type SeasonResult,
} from './season/run-season.js';
import { type BenchWorld, demoWorld, REPORTED, townWorld } from './season/world.js';

const HELP = `Usage: npm run --silent bench season -- [--days N] [--iterations N] [--sites N] [--technicians N] [--seed NAME] [--from DAY] [--risk P]
       [--only POLICY]

Lives through a year of watering, day by day, under four ways to decide who goes where, all with the same weather, the same
pots and the same forecasts with their errors: fixed weekly rounds; go to whatever is dry by the middle of its forecast
before the crew goes out next; go to whatever may be dry with one chance in ten, and fill only that; and the planner of the
product with a fixed number of rounds of search a night. Prints CSV: truck-days, kilometres, litres, dry pot-days; and below
it the truck-days that no way without a dry pot can do without.

  --days N          days, after a fortnight that is not counted (365)
  --iterations N    of the planner's search a night (150)
  --sites N         a town of that many sites instead of the demo's fleet
  --technicians N   of the town (5)
  --visit-worth X   what a visit usually costs (as the product has it)
  --seed NAME       of weather, town and pots (season, which is the one that is reported: tune on others)
  --from DAY        a Monday (2026-01-05)
  --risk P          accepted chance (0-1) that a pot is dry before its visit (0.05)
  --only POLICY     weekly, p50, p10 or planner`;

const WARM_UP_DAYS = 14;

export const benchmark: Benchmark = {
  name: 'season',
  summary: 'a year of rounds by the planner against fixed rounds and rules of thumb',
  help: HELP,
  async run(args) {
    const { values } = parseArgs({
      args: [...args],
      options: {
        days: { type: 'string', default: '365' },
        iterations: { type: 'string', default: '150' },
        sites: { type: 'string' },
        technicians: { type: 'string', default: '5' },
        'visit-worth': { type: 'string', default: String(PLAN_SETTINGS.visitWorth) },
        seed: { type: 'string', default: REPORTED.seed },
        from: { type: 'string', default: REPORTED.firstDay },
        risk: { type: 'string', default: '0.05' },
        only: { type: 'string' },
      },
    });
    const days = Number(values.days) + WARM_UP_DAYS;
    const choice = { seed: values.seed, firstDay: values.from };
    const built =
      values.sites === undefined
        ? demoWorld(days, choice)
        : townWorld(Number(values.sites), Number(values.technicians), days, choice);
    const dryRisk = Number(values.risk);
    const world: BenchWorld = { ...built, sites: built.sites.map((site) => ({ ...site, dryRisk })) };
    const ground = new Ground(world);
    const policies: Readonly<Record<string, () => Policy>> = {
      weekly: () => weeklyPolicy(ground),
      p50: () => duePolicy(ground, 'p50Ms', false),
      p10: () => duePolicy(ground, 'p10Ms', true),
      planner: () =>
        plannerPolicy(ground, Number(values.iterations), {
          ...PLAN_SETTINGS,
          visitWorth: Number(values['visit-worth']),
        }),
    };
    console.log(
      'world,policy,truck_days,summer_truck_days,stops,km,litres,work_hours,overtime_hours,dry_pot_days,summer_dry_pot_days,dry_outs,seconds',
    );
    for (const [name, make] of Object.entries(policies)) {
      if (values.only !== undefined && values.only !== name) continue;
      const startedMs = performance.now();
      const result = runSeason(ground, days, WARM_UP_DAYS, make());
      print(world, name, result, (performance.now() - startedMs) / 1000);
    }
    const least = leastWork(ground, days, WARM_UP_DAYS);
    console.log(
      `# no way without a dry pot does with less than ${least.truckDays} truck-days (${least.summerTruckDays} in summer), ${least.stops} stops`,
    );
  },
};

function print(world: BenchWorld, name: string, r: SeasonResult, seconds: number): void {
  const row = [
    world.name,
    name,
    r.truckDays,
    r.summerTruckDays,
    r.stops,
    r.km.toFixed(0),
    r.litres.toFixed(0),
    (r.minutes / 60).toFixed(0),
    (r.overtimeMinutes / 60).toFixed(1),
    r.dryPotDays.toFixed(1),
    r.summerDryPotDays.toFixed(1),
    r.dryOuts,
    seconds.toFixed(0),
  ];
  console.log(row.join(','));
}

/** Litres that a week in summer draws from a site, by which fixed rounds are made. */
function summerWeek(world: BenchWorld, site: number): { litres: number; pots: number } {
  const day = Math.max(0, world.calendar.days.indexOf('2026-07-15'));
  const { pots } = world.sites[site]!;
  const litres = pots.reduce(
    (sum, pot) =>
      sum + Math.min(world.pots[pot]!.drawableLitres, 7 * world.pots[pot]!.litresPerMm[day]! * world.usualEt0Mm[day]!),
    0,
  );
  return { litres, pots: pots.length };
}

/** Every site once a week, on its own weekday, by as few rounds as a summer's week takes. */
function weeklyPolicy(ground: Ground): Policy {
  const { world } = ground;
  const technicians = world.tanks.map((_, t) => t);
  let left: readonly number[] = world.sites.map((_, s) => s);
  const week: Outing[][] = [];
  for (let weekday = 0; weekday < 5; weekday++) {
    const day = packed(ground, left, technicians, (site) => summerWeek(world, site));
    week.push(day.outings.map((one) => ({ ...one, pots: null })));
    left = day.left;
  }
  if (left.length > 0)
    throw new Error(`${left.length} sites fit into no weekly round: the world has too few technicians.`);
  return (day) => (isWorkday(day) ? week[day % 7]! : []);
}

/** Goes where a pot is due before the crew can be there again, nearest first. */
function duePolicy(ground: Ground, quantile: 'p10Ms' | 'p50Ms', onlyDue: boolean): Policy {
  const { world } = ground;
  const technicians = world.tanks.map((_, t) => t);
  return (day, litres) => {
    if (!isWorkday(day)) return [];
    const nextMs = world.calendar.dayStartMs[isWorkday(day + 1) ? day + 1 : day + 3]! + 12 * 3_600_000;
    const due = new Set(
      world.pots.flatMap((_, pot) => {
        const at = statusOf(world, pot, day, litres[pot]!).forecast.dry![quantile];
        return at !== null && at < nextMs ? [pot] : [];
      }),
    );
    const sites = world.sites.flatMap((site, s) => (site.pots.some((pot) => due.has(pot)) ? [s] : []));
    const litresOf = (site: number) => {
      const filled = world.sites[site]!.pots.filter((pot) => !onlyDue || due.has(pot));
      const missing = filled.reduce((sum, pot) => sum + world.pots[pot]!.drawableLitres - litres[pot]!, 0);
      return { litres: missing, pots: filled.length };
    };
    return packed(ground, ordered(ground, sites), technicians, litresOf).outings.map((one) => ({
      ...one,
      pots: onlyDue ? due : null,
    }));
  };
}

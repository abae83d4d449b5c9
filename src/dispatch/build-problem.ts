import type { EpochMs, LocalDay, PersonId } from '../domain/ids.js';
import { addDays, DAY_MS, daysBetween, HOUR_MS, LocalDays } from '../domain/local-day.js';
import type { Depot } from '../domain/registry.js';
import type { CrewDay, PlannedPot, PlannedSite, PlanSettings, PublishedStop } from './crew.js';
import type { Customer, Lock, Problem, PublishedVisits, RefillPlace, Tour } from './problem.js';
import {
  type DryTime,
  fitDryTime,
  latestDays,
  type PotWater,
  sharedLatestDay,
  siteLatestDay,
  type VisitDeadlines,
  visitDeadlines,
} from './risk.js';
import { type FillChoice, isFilled, LEFT_RISK_SHARE, lastsUntil } from './top-up.js';
import type { GeoPoint, TravelMatrix } from './travel.js';

export interface PlanInput {
  readonly nowMs: EpochMs;
  readonly firstDay: LocalDay;
  readonly dayCount: number;
  readonly timeZone: string;
  readonly sites: readonly PlannedSite[];
  readonly crew: readonly CrewDay[];
  readonly depots: readonly Depot[];
  readonly published: readonly PublishedStop[];
  readonly settings: PlanSettings;
  /** All use as a multiple of what is forecast, to suppose other weather; 1 where it is left out. */
  readonly useFactor?: number;
}

/** What the planner knows of one site, beside the problem that it solves. */
export interface SiteOutlook {
  readonly dryTimes: readonly (DryTime | 'dry' | 'lasting')[];
  readonly pots: readonly PotWater[];
  /** From the water alone. */
  readonly waterLatestDay: readonly number[];
  readonly fillChoice: FillChoice;
  /** [p + 1][d]: expected litres and pots that are filled on day d after a visit on day p ([0]: after none). */
  readonly litres: readonly (readonly number[])[];
  readonly filledPots: readonly (readonly number[])[];
  /** With tasks and agreements as well. */
  readonly latestDay: readonly number[];
}

export interface BuiltProblem {
  readonly problem: Problem;
  /** Tour t is `crew[t]` of the input; customer c is `sites[c]`. */
  readonly input: PlanInput;
  readonly outlooks: readonly SiteOutlook[];
  /** Days from now until a visit on each day of the horizon, by the hour of the settings. */
  readonly visitInDays: readonly number[];
  readonly tourOf: ReadonlyMap<string, number>;
}

/** The points that a travel matrix has to cover, in the order in which `buildProblem` counts places. */
export function planPoints(input: PlanInput): readonly GeoPoint[] {
  return placesOf(input).points;
}

interface Places {
  readonly points: readonly GeoPoint[];
  readonly depots: readonly number[];
  /** By tour. */
  readonly starts: readonly number[];
  readonly ends: readonly number[];
}

/** Sites first, one place each; then depots and where days start and end, each point once: most days start at one yard. */
function placesOf({ sites, depots, crew }: PlanInput): Places {
  const points: GeoPoint[] = sites.map((one) => one.site);
  const known = new Map<string, number>();
  const placeOf = ({ latitude, longitude }: GeoPoint): number => {
    const key = `${latitude} ${longitude}`;
    const place = known.get(key) ?? points.length;
    if (place === points.length) points.push({ latitude, longitude });
    known.set(key, place);
    return place;
  };
  return {
    depots: depots.map(placeOf),
    starts: crew.map((one) => placeOf(one.start)),
    ends: crew.map((one) => placeOf(one.end)),
    points,
  };
}

export function tourKey(personId: PersonId, day: LocalDay): string {
  return `${day} ${personId}`;
}

/**
 * Puts sites, forecasts, tasks and crew to the planner: one customer a site, one tour a person and day.
 * @param travel of `planPoints(input)`
 * @throws RangeError where the matrix does not cover the points
 */
export function buildProblem(input: PlanInput, travel: TravelMatrix): BuiltProblem {
  const { sites, crew, depots, settings, dayCount, firstDay } = input;
  const places = placesOf(input);
  const placeCount = places.points.length;
  if (travel.size !== placeCount) {
    throw new RangeError(`The travel matrix covers ${travel.size} points, the plan has ${placeCount}.`);
  }
  const days = new LocalDays(input.timeZone);
  const visitInDays = Array.from({ length: dayCount }, (_, d) =>
    Math.max(0, (days.startMs(addDays(firstDay, d)) + settings.visitedByHour * HOUR_MS - input.nowMs) / DAY_MS),
  );
  const tourOf = new Map(crew.map((one, t) => [tourKey(one.personId, one.day), t]));
  const outlooks = sites.map((site) => outlookOf(site, input, visitInDays, days));
  const published = publishedBySite(input, tourOf);
  const tapPlaces: RefillPlace[] = sites.flatMap((one, place) =>
    one.site.tap ? [{ place, minutes: settings.refillMinutes }] : [],
  );
  const depotPlaces: RefillPlace[] = depots.map((_, k) => ({
    place: places.depots[k]!,
    minutes: settings.refillMinutes,
  }));
  // By person-day that is pinned: customers that are not among its own may not join.
  const closedTours = crew.flatMap(({ onlySites }, t) =>
    onlySites == null ? [] : [{ tour: t, own: new Set(onlySites) }],
  );
  const problem: Problem = {
    dayCount,
    placeCount,
    distance: travel.km,
    minutes: travel.minutes,
    tours: crew.map((one, t) => tourFor(one, places.starts[t]!, places.ends[t]!, input)),
    customers: sites.map((site, c) =>
      customerFor(site, c, outlooks[c]!, input, tourOf, published.get(site.site.id) ?? null, closedTours),
    ),
    refillPlaces: [...depotPlaces, ...tapPlaces],
    supply: null,
  };
  return { problem, input, outlooks, visitInDays, tourOf };
}

function tourFor(one: CrewDay, startPlace: number, endPlace: number, { settings, firstDay }: PlanInput): Tour {
  return {
    id: tourKey(one.personId, one.day),
    day: daysBetween(firstDay, one.day),
    startPlace,
    endPlace,
    openMinute: one.openMinute,
    closeMinute: one.closeMinute,
    overtimeMinutes: one.overtimeMinutes,
    costPerOvertimeMinute: settings.costPerOvertimeMinute,
    tankUnits: one.tankLitres,
    tankUnitsAtStart: one.tankLitresAtStart,
    mayRefill: one.tankLitres > 0,
    fixedCost: settings.costPerTruckDay,
    costPerDistance: settings.costPerKm,
    costPerMinute: settings.costPerDriveMinute,
    pause: one.pause,
    skills: one.skills,
  };
}

function customerFor(
  one: PlannedSite,
  place: number,
  outlook: SiteOutlook,
  input: PlanInput,
  tourOf: ReadonlyMap<string, number>,
  published: PublishedVisits | null,
  closedTours: readonly { readonly tour: number; readonly own: ReadonlySet<string> }[],
): Customer {
  const { settings, crew, firstDay } = input;
  const windows = one.servedToday === true ? one.windows.map((day, d) => (d === 0 ? [] : day)) : one.windows;
  const taskMinutes = one.tasks.reduce((sum, task) => sum + (task.kind === 'refill' ? 0 : task.minutes), 0);
  const extraMinutes = outlook.filledPots.map((row, k) =>
    row.map((pots) => settings.minutesPerPot * pots + (k === 0 ? taskMinutes : 0)),
  );
  const locks: Lock[] = one.locks.map((lock) => ({
    day: daysBetween(firstDay, lock.day),
    tour: lock.personId === null ? null : (tourOf.get(tourKey(lock.personId, lock.day)) ?? null),
    position: lock.position,
  }));
  return {
    id: one.site.id,
    place,
    windows,
    serviceMinutes: settings.minutesPerStop,
    serviceMinutesPerUnit: 1 / settings.pumpLitresPerMinute,
    usesTank: !one.site.tap,
    skills: one.skills,
    forbiddenTours: [
      ...(one.forbiddenPeople.length === 0
        ? []
        : crew.flatMap((day, t) => (one.forbiddenPeople.includes(day.personId) ? [t] : []))),
      ...closedTours.flatMap(({ tour, own }) => (own.has(one.site.id) ? [] : [tour])),
    ],
    locks,
    published,
    demand: {
      kind: 'risk',
      latestDay: outlook.latestDay,
      units: outlook.litres,
      extraMinutes,
      // Litres take their minutes whichever day it is; coming at all is what can be saved.
      visitCost: settings.costPerSiteMinute * settings.minutesPerStop,
      costPerExtraMinute: settings.costPerSiteMinute,
      lateCostPerDay: settings.lateCostPerDay,
      endCredit: endCredit(outlook, input),
    },
  };
}

/**
 * Worth of what a site's water lasts past the horizon's end, by the day of the last visit: each day of the site's cover its share
 * of the next visit, each of a pot's its share of the next fill.
 */
function endCredit({ latestDay, waterLatestDay, fillChoice, pots }: SiteOutlook, input: PlanInput): number[] {
  const { settings, dayCount } = input;
  const last = dayCount - 1;
  const credited = (until: number) => Math.min(Math.max(0, until - last), settings.creditedDays);
  const fullDays = (until: number) => Math.max(1, until - last);
  const perVisit = settings.visitWorth + settings.costPerSiteMinute * settings.minutesPerStop;
  const perFill = settings.costPerSiteMinute * settings.minutesPerPot;
  return latestDay.map((until, k) =>
    pots.reduce(
      (sum, _, pot) =>
        sum +
        (credited(lastsUntil(fillChoice, pot, k - 1)) * perFill) / fullDays(fillChoice.holdsUntil[pot]![dayCount]!),
      (credited(until) * perVisit) / fullDays(waterLatestDay[dayCount]!),
    ),
  );
}

function outlookOf(one: PlannedSite, input: PlanInput, visitInDays: readonly number[], days: LocalDays): SiteOutlook {
  const { settings, firstDay, dayCount } = input;
  const pots = one.pots.map((pot) => {
    const water = thirstier(potWater(pot, input.nowMs, settings), input.useFactor ?? 1);
    return one.servedToday === true ? filled(water) : water;
  });
  const deadlines = pots.map((pot) => visitDeadlines(pot, visitInDays, one.useFactors, one.dryRisk));
  const alone = siteLatestDay(deadlines, dayCount);
  const waterLatestDay = sharedLatestDay(pots, visitInDays, one.useFactors, one.dryRisk, alone);
  const leftRisk = LEFT_RISK_SHARE * one.dryRisk;
  const asked = new Set(one.tasks.flatMap((task) => (task.kind === 'refill' ? [task.containerId] : [])));
  const fillChoice: FillChoice = {
    holdsUntil: pots.map((pot) => latestDays(pot, visitInDays, one.useFactors, leftRisk)),
    asked: one.pots.map((pot) => asked.has(pot.container.id)),
    nextVisit: waterLatestDay,
  };
  let first = waterLatestDay[0]!;
  for (const task of one.tasks) first = Math.min(first, Math.max(0, daysBetween(firstDay, days.dayOf(task.dueByMs))));
  if (one.agreedBy !== null) first = Math.min(first, Math.max(0, daysBetween(firstDay, one.agreedBy)));
  return {
    dryTimes: pots.map((pot) => pot.dryTime),
    pots,
    waterLatestDay,
    latestDay: [first, ...waterLatestDay.slice(1)],
    fillChoice,
    ...fillsOf(fillChoice, deadlines, dayCount),
  };
}

function fillsOf(
  choice: FillChoice,
  pots: readonly VisitDeadlines[],
  dayCount: number,
): Pick<SiteOutlook, 'litres' | 'filledPots'> {
  const litres: number[][] = [];
  const filledPots: number[][] = [];
  for (let previous = -1; previous < dayCount; previous++) {
    const litresOn = new Array<number>(dayCount).fill(0);
    const filledOn = new Array<number>(dayCount).fill(0);
    for (let pot = 0; pot < pots.length; pot++) {
      const since = previous >= 0 && isFilled(choice, pot, -1, previous) ? previous + 1 : 0;
      for (let day = previous + 1; day < dayCount; day++) {
        if (!isFilled(choice, pot, previous, day)) continue;
        litresOn[day]! += pots[pot]!.litres[since]![day]!;
        filledOn[day]!++;
      }
    }
    litres.push(litresOn);
    filledPots.push(filledOn);
  }
  return { litres, filledPots };
}

/** What of one pot the planner counts with. A pot of which nothing is known is due soon, half empty: unknown is not fine. */
export function potWater(pot: PlannedPot, nowMs: EpochMs, settings: PlanSettings): PotWater {
  const { status } = pot;
  if (status === null) {
    const { strapping } = pot.container.reservoir;
    const drawable = strapping.at(-1)![1] * pot.targetFraction;
    return unknownPot(drawable, settings);
  }
  const target = status.capacityLitres * pot.targetFraction;
  const drawableLitres = Math.max(0, target - status.deadLitres);
  const { forecast } = status;
  if (forecast.dry === null || forecast.rateLitresPerDay === null) return unknownPot(drawableLitres, settings);
  const litres = status.litres ?? forecast.litres;
  const rate = Math.max(forecast.rateLitresPerDay, drawableLitres / 365);
  const ownSpread = Math.log1p((forecast.rateSdLitresPerDay ?? 0) / rate);
  return {
    dryTime: fitDryTime(forecast.dry, nowMs),
    roomLitres: litres === null ? drawableLitres / 2 : Math.max(0, target - litres),
    drawableLitres,
    litresPerDay: rate,
    rateSpread: Math.hypot(ownSpread, settings.weatherSpread),
  };
}

/** A pot that was filled a short while ago, and whose forecast does not know of it yet. */
function filled(pot: PotWater): PotWater {
  const { drawableLitres, litresPerDay, rateSpread } = pot;
  if (drawableLitres <= 0 || litresPerDay <= 0) return { ...pot, roomLitres: 0 };
  const dryTime = { medianDays: drawableLitres / litresPerDay, spreadBefore: rateSpread, spreadAfter: rateSpread };
  return { ...pot, roomLitres: 0, dryTime };
}

function thirstier(pot: PotWater, factor: number): PotWater {
  if (factor === 1) return pot;
  const { dryTime } = pot;
  return {
    ...pot,
    dryTime: typeof dryTime === 'string' ? dryTime : { ...dryTime, medianDays: dryTime.medianDays / factor },
    litresPerDay: pot.litresPerDay * factor,
  };
}

function unknownPot(drawableLitres: number, settings: PlanSettings): PotWater {
  const days = Math.max(0.1, settings.unknownWithinDays);
  return {
    dryTime: { medianDays: 2 * days, spreadBefore: Math.LN2, spreadAfter: Math.LN2 },
    roomLitres: drawableLitres / 2,
    drawableLitres,
    // Half of it in the median time: as uncertain as the date.
    litresPerDay: drawableLitres / (4 * days),
    rateSpread: Math.LN2 / 2,
  };
}

/** Published visits by site, with a cost of going another way that fades from day to day. */
function publishedBySite(
  { published, settings, dayCount, firstDay }: PlanInput,
  tourOf: ReadonlyMap<string, number>,
): ReadonlyMap<string, PublishedVisits> {
  const weights = Array.from({ length: dayCount }, (_, day) => settings.firmnessPerDay ** day);
  const bySite = new Map<string, number[]>();
  for (const stop of published) {
    const day = daysBetween(firstDay, stop.day);
    if (day < 0 || day >= dayCount) continue;
    const row = bySite.get(stop.siteId) ?? new Array<number>(dayCount).fill(-1);
    // Somebody who is not there that day has no tour: whoever comes instead is another technician, not another day.
    row[day] = tourOf.get(tourKey(stop.personId, stop.day)) ?? tourOf.size;
    bySite.set(stop.siteId, row);
  }
  const otherDayCost = weights.map((weight) => weight * settings.otherDayCost);
  const otherTourCost = weights.map((weight) => weight * settings.otherTechnicianCost);
  return new Map([...bySite].map(([site, tourByDay]) => [site, { tourByDay, otherDayCost, otherTourCost }]));
}

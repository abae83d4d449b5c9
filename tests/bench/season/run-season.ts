import { seededRng } from '../../../src/app/planning/seeded-rng.js';
import { type BuiltProblem, buildProblem, type PlanInput, planPoints } from '../../../src/dispatch/build-problem.js';
import { type CrewDay, type LaidStop, PLAN_SETTINGS, type PlanSettings } from '../../../src/dispatch/crew.js';
import { evaluatePlan, scheduleTour } from '../../../src/dispatch/evaluate.js';
import { withFills } from '../../../src/dispatch/fills.js';
import type { PlannedTour, Problem } from '../../../src/dispatch/problem.js';
import { asPublished, layOut, readRounds } from '../../../src/dispatch/rounds.js';
import { solve } from '../../../src/dispatch/solve.js';
import { estimateTravel, TRAVEL_SETTINGS, type TravelMatrix } from '../../../src/dispatch/travel.js';
import { addDays } from '../../../src/domain/local-day.js';
import type { Container } from '../../../src/domain/registry.js';
import { DECIDED_AT_HOUR, statusOf, useFactors } from './forecast.js';
import { type BenchWorld, rainLitres } from './world.js';

/** One technician's outing: sites in order, and which pots are filled; null: all of the site. */
export interface Outing {
  readonly technician: number;
  readonly sites: readonly number[];
  readonly pots: ReadonlySet<number> | null;
}

/** Decides who goes where on a day. @param litres drawable litres of each pot in the morning */
export type Policy = (day: number, litres: Float64Array) => readonly Outing[];

export interface SeasonResult {
  truckDays: number;
  km: number;
  litres: number;
  stops: number;
  minutes: number;
  overtimeMinutes: number;
  dryPotDays: number;
  /** Pots and days on which one ran dry. */
  dryOuts: number;
  summerTruckDays: number;
  summerDryPotDays: number;
}

const OPEN_MINUTE = 7 * 60;
const CLOSE_MINUTE = 16 * 60;
const OVERTIME_MINUTES = 60;
const PAUSE = { fromMinute: 12 * 60, minutes: 30 };
/** Working minutes of a shift with all of its overtime. */
export const LONGEST_DAY_MINUTES = CLOSE_MINUTE - OPEN_MINUTE - PAUSE.minutes + OVERTIME_MINUTES;
/** Share of the day's use that is drawn before a visit in the late morning. */
export const BEFORE_VISIT = 0.35;
export const SUMMER = { from: '2026-06-01', to: '2026-09-30' };

export function isWorkday(day: number): boolean {
  return day % 7 < 5;
}

/** @param pots number of pots that are filled */
export function minutesAtSite(litres: number, pots: number): number {
  const { minutesPerStop, minutesPerPot, pumpLitresPerMinute } = PLAN_SETTINGS;
  return minutesPerStop + minutesPerPot * pots + litres / pumpLitresPerMinute;
}

/** Legs of a world: its sites in order, then the depot. */
export class Ground {
  readonly world: BenchWorld;
  readonly travel: TravelMatrix;
  readonly depotPlace: number;

  constructor(world: BenchWorld) {
    this.world = world;
    this.depotPlace = world.sites.length;
    this.travel = estimateTravel([...world.sites, world.depot], TRAVEL_SETTINGS);
  }

  minutes(from: number, to: number): number {
    return this.travel.minutes[from * this.travel.size + to]!;
  }

  /** A day's outing as it would run by the clock. @param litresOf litres and pots filled at each site */
  run(outing: Pick<Outing, 'technician' | 'sites'>, litresOf: (site: number) => { litres: number; pots: number }) {
    const { world, travel, depotPlace } = this;
    const tank = world.tanks[outing.technician]!;
    const problem: Problem = {
      dayCount: 1,
      placeCount: travel.size,
      distance: travel.km,
      minutes: travel.minutes,
      tours: [
        {
          id: 'tour',
          day: 0,
          startPlace: depotPlace,
          endPlace: depotPlace,
          openMinute: OPEN_MINUTE,
          closeMinute: CLOSE_MINUTE,
          overtimeMinutes: OVERTIME_MINUTES,
          costPerOvertimeMinute: 0,
          tankUnits: tank,
          tankUnitsAtStart: tank,
          mayRefill: tank > 0,
          fixedCost: 0,
          costPerDistance: 1,
          costPerMinute: 0,
          pause: PAUSE,
          skills: [],
        },
      ],
      customers: outing.sites.map((site) => {
        return {
          id: String(site),
          place: site,
          windows: [[{ fromMinute: 0, toMinute: 1440 }]],
          serviceMinutes: 0,
          serviceMinutesPerUnit: 0,
          usesTank: !world.sites[site]!.tap,
          skills: [],
          forbiddenTours: [],
          locks: [],
          published: null,
          demand: { kind: 'once', units: 0, dayCost: [0], unservedCost: 0 },
        };
      }),
      refillPlaces: [
        { place: depotPlace, minutes: PLAN_SETTINGS.refillMinutes },
        ...world.sites.flatMap((site, place) => (site.tap ? [{ place, minutes: PLAN_SETTINGS.refillMinutes }] : [])),
      ],
      supply: null,
    };
    const tour: PlannedTour = {
      tour: 0,
      refillAtStart: null,
      stops: outing.sites.map((site, customer) => {
        const { litres, pots } = litresOf(site);
        return { customer, units: litres, minutes: minutesAtSite(litres, pots), refillAfter: null };
      }),
    };
    return scheduleTour(problem, withFills(problem, tour));
  }

  mayServe(technician: number, site: number): boolean {
    return this.world.sites[site]!.tap || this.world.tanks[technician]! > 0;
  }
}

/** Lives through the days under a policy. The first `warmUp` days are not counted. */
export function runSeason(ground: Ground, days: number, warmUp: number, policy: Policy): SeasonResult {
  const { world } = ground;
  const litres = Float64Array.from(world.pots, (pot) => pot.drawableLitres);
  const result: SeasonResult = {
    truckDays: 0,
    km: 0,
    litres: 0,
    stops: 0,
    minutes: 0,
    overtimeMinutes: 0,
    dryPotDays: 0,
    dryOuts: 0,
    summerTruckDays: 0,
    summerDryPotDays: 0,
  };
  for (let day = 0; day < days; day++) {
    const counts = day >= warmUp;
    const name = world.calendar.days[day]!;
    const summer = name >= SUMMER.from && name <= SUMMER.to;
    const outings = policy(day, litres).filter((outing) => outing.sites.length > 0);
    const dry = new Float64Array(world.pots.length);
    draw(world, litres, day, BEFORE_VISIT, dry);
    for (const outing of outings) {
      const given = new Map<number, { litres: number; pots: number }>();
      for (const site of outing.sites) {
        let sum = 0;
        let count = 0;
        for (const pot of world.sites[site]!.pots) {
          if (outing.pots !== null && !outing.pots.has(pot)) continue;
          sum += world.pots[pot]!.drawableLitres - litres[pot]!;
          litres[pot] = world.pots[pot]!.drawableLitres;
          count++;
        }
        given.set(site, { litres: sum, pots: count });
      }
      if (!counts) continue;
      const run = ground.run(outing, (site) => given.get(site)!);
      result.truckDays++;
      if (summer) result.summerTruckDays++;
      result.km += run.distance;
      result.stops += outing.sites.length;
      result.minutes += run.finishMinute - OPEN_MINUTE;
      result.overtimeMinutes += run.overtimeMinutes;
      for (const one of given.values()) result.litres += one.litres;
    }
    draw(world, litres, day, 1 - BEFORE_VISIT, dry);
    world.pots.forEach((pot, p) => {
      litres[p] = Math.min(pot.drawableLitres, litres[p]! + rainLitres(pot.surfaceM2, world.rainMm[day]!));
      if (!counts) return;
      result.dryPotDays += dry[p]!;
      if (summer) result.summerDryPotDays += dry[p]!;
      if (dry[p]! > 0) result.dryOuts++;
    });
  }
  return result;
}

/** Draws a share of the day's use; what is not there is counted as that share of the day dry. */
function draw(world: BenchWorld, litres: Float64Array, day: number, share: number, dry: Float64Array): void {
  world.pots.forEach((pot, p) => {
    const use = pot.useLitres[day]! * share;
    const had = Math.min(use, litres[p]!);
    litres[p] = litres[p]! - had;
    if (use > 0) dry[p] = dry[p]! + share * (1 - had / use);
  });
}

/** Nearest next, and then two-way exchanges while they shorten the way. */
export function ordered(ground: Ground, sites: readonly number[]): readonly number[] {
  const left = new Set(sites);
  const order: number[] = [];
  let at = ground.depotPlace;
  while (left.size > 0) {
    let next = -1;
    for (const site of left) if (next < 0 || ground.minutes(at, site) < ground.minutes(at, next)) next = site;
    left.delete(next);
    order.push(next);
    at = next;
  }
  const place = (k: number) => (k < 0 || k >= order.length ? ground.depotPlace : order[k]!);
  for (let better = true; better; ) {
    better = false;
    for (let i = 0; i < order.length - 1; i++) {
      for (let j = i + 1; j < order.length; j++) {
        const before = ground.minutes(place(i - 1), place(i)) + ground.minutes(place(j), place(j + 1));
        const after = ground.minutes(place(i - 1), place(j)) + ground.minutes(place(i), place(j + 1));
        if (after >= before - 1e-9) continue;
        order.splice(i, j - i + 1, ...order.slice(i, j + 1).reverse());
        better = true;
      }
    }
  }
  return order;
}

/** Puts sites on as few technicians as their shifts take; the first ones of the list first. What fits nowhere is left. */
export function packed(
  ground: Ground,
  sites: readonly number[],
  technicians: readonly number[],
  litresOf: (site: number) => { litres: number; pots: number },
): {
  readonly outings: readonly { readonly technician: number; readonly sites: readonly number[] }[];
  readonly left: readonly number[];
} {
  let left = [...sites];
  const outings: { technician: number; sites: readonly number[] }[] = [];
  for (const technician of technicians) {
    let own: readonly number[] = [];
    let full = false;
    while (!full) {
      const last = own.at(-1) ?? ground.depotPlace;
      const may = left.filter((site) => ground.mayServe(technician, site));
      if (may.length === 0) break;
      const next = may.reduce((best, site) => (ground.minutes(last, site) < ground.minutes(last, best) ? site : best));
      const tried = ordered(ground, [...own, next]);
      const run = ground.run({ technician, sites: tried }, litresOf);
      full = run.finishMinute > CLOSE_MINUTE || run.runsDry;
      if (full) break;
      own = tried;
      left = left.filter((site) => site !== next);
    }
    if (own.length > 0) outings.push({ technician, sites: own });
  }
  return { outings, left };
}

/** The planner of the product, as the night runs it: from yesterday's rounds on, for a fixed number of rounds of search. */
export function plannerPolicy(ground: Ground, iterations: number, settings: PlanSettings = PLAN_SETTINGS): Policy {
  const { world } = ground;
  const containers = world.pots.map(
    (pot): Container => containerOf(world, pot.id, pot.drawableLitres, pot.deadLitres, pot.site),
  );
  let published: PlanInput['published'] = [];
  let laid: readonly LaidStop[] = [];
  return (day, litres) => {
    if (!isWorkday(day)) return [];
    const input = { ...inputOf(world, containers, day, litres, published), settings };
    const built = buildProblem(input, travelFor(ground, input));
    const base = layOut(
      built,
      laid.filter((stop) => stop.day >= input.firstDay),
    );
    const before = evaluatePlan(built.problem, base);
    const heat = base.tours.length === 0 ? 1 : 0.15;
    const rounds = base.tours.length === 0 ? 10 * iterations : iterations;
    const { plan } = solve(built.problem, seededRng(day + 1), { iterations: rounds, start: base, heat });
    const kept = before.feasible && plan.cost >= before.cost.total - 1e-6 ? base : plan;
    const read = readRounds(built, kept);
    published = asPublished(read);
    laid = read.visits.map(({ siteId, personId, day: visitDay }) => ({
      siteId,
      personId,
      day: visitDay,
      refillBefore: null,
      refillAfter: null,
    }));
    return outingsOfToday(world, built, read.visits, input.firstDay);
  };
}

function outingsOfToday(
  world: BenchWorld,
  built: BuiltProblem,
  visits: ReturnType<typeof readRounds>['visits'],
  today: string,
): readonly Outing[] {
  const indexOf = new Map(built.input.sites.map((one, s) => [one.site.id, s]));
  const potOf = new Map(world.pots.map((pot, p) => [pot.id, p]));
  return world.tanks.map((_, technician) => {
    const own = visits
      .filter((visit) => visit.day === today && visit.personId === `T${technician}`)
      .sort((a, b) => a.startMinute - b.startMinute);
    return {
      technician,
      pots: new Set(own.flatMap(({ fills }) => fills.map(({ containerId }) => potOf.get(containerId)!))),
      sites: own.map((visit) => indexOf.get(visit.siteId)!),
    };
  });
}

const travelOf = new WeakMap<Ground, TravelMatrix>();

function travelFor(ground: Ground, input: PlanInput): TravelMatrix {
  const known = travelOf.get(ground) ?? estimateTravel(planPoints(input), TRAVEL_SETTINGS);
  travelOf.set(ground, known);
  return known;
}

const PLAN_DAYS = 14;

export function inputOf(
  world: BenchWorld,
  containers: readonly Container[],
  day: number,
  litres: Float64Array,
  published: PlanInput['published'],
): PlanInput {
  const firstDay = world.calendar.days[day]!;
  const factors = useFactors(world, day, PLAN_DAYS);
  const open = [{ fromMinute: 0, toMinute: 1440 }];
  return {
    nowMs: world.calendar.dayStartMs[day]! + DECIDED_AT_HOUR * 3_600_000,
    firstDay,
    dayCount: PLAN_DAYS,
    timeZone: world.calendar.timeZone,
    sites: world.sites.map((site) => ({
      site: { ...site, accountId: 'A1', name: site.id, elevationM: 10, timeZone: world.calendar.timeZone },
      dryRisk: site.dryRisk,
      pots: site.pots.map((pot) => ({
        container: containers[pot]!,
        status: statusOf(world, pot, day, litres[pot]!),
        targetFraction: 1,
      })),
      tasks: [],
      windows: Array.from({ length: PLAN_DAYS }, () => open),
      skills: [],
      forbiddenPeople: [],
      locks: [],
      agreedBy: null,
      useFactors: factors,
    })),
    crew: world.tanks.flatMap((tankLitres, technician) =>
      Array.from({ length: PLAN_DAYS }, (_, d) => d)
        .filter((d) => isWorkday(day + d))
        .map(
          (d): CrewDay => ({
            personId: `T${technician}`,
            day: addDays(firstDay, d),
            start: world.depot,
            end: world.depot,
            openMinute: OPEN_MINUTE,
            closeMinute: CLOSE_MINUTE,
            overtimeMinutes: OVERTIME_MINUTES,
            pause: PAUSE,
            tankLitres,
            tankLitresAtStart: tankLitres,
            skills: [],
          }),
        ),
    ),
    depots: [{ id: 'D1', name: 'Depot', ...world.depot }],
    published,
    settings: PLAN_SETTINGS,
  };
}

export function containerOf(world: BenchWorld, id: string, drawable: number, dead: number, site: number): Container {
  return {
    id,
    siteId: world.sites[site]!.id,
    name: id,
    place: null,
    covered: true,
    installedOn: '2025-01-01',
    removedOn: null,
    reservoir: {
      strapping: [
        [0, 0],
        [100, drawable + dead],
      ],
      overflowMm: 100,
      wickFootMm: 10,
    },
    soil: null,
    potKg: null,
    plants: [],
  };
}

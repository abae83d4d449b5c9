import { PLAN_SETTINGS } from '../../dispatch/crew.js';
import {
  LEAST_SAMPLES,
  type LegSample,
  learnPace,
  learnTravelFactor,
  type ServiceSample,
} from '../../dispatch/learn.js';
import { driveMinutes, greatCircleKm, roadKm, TRAVEL_SETTINGS } from '../../dispatch/travel.js';
import { type Principal, WHOLE_FLEET } from '../../domain/access.js';
import type { ContainerId, LocalDay, PersonId, SiteId } from '../../domain/ids.js';
import { addDays, HOUR_MS } from '../../domain/local-day.js';
import type { LearnedPace, PublishedVisit } from '../../domain/plan.js';
import type { Container, Site } from '../../domain/registry.js';
import type { Visit } from '../../domain/work.js';
import { type App, allowed } from '../context.js';
import { usualZone } from '../fieldwork/round-views.js';
import { type FleetView, fleetView, localDaysOf } from '../fleet-view.js';

/** The pace is learnt from so many days. */
const LEARN_DAYS = 90;
/** A drive longer than this between two visits had something else in it. */
const LONGEST_DRIVE_MINUTES = 120;
/** A pot that is fuller than this before a visit was visited too early. */
const EARLY_FRACTION = 0.6;
/** A refill belongs to a visit that ended at most so long after it began to show, or before. */
const NEAR_VISIT_MS = 2 * HOUR_MS;
const DRY_WITHIN_MM = 1;

/** Planned against actual, summed over the visits for which a plan was published. */
export interface PlanComparison {
  readonly visits: number;
  readonly plannedMinutes: number;
  readonly actualMinutes: number;
  readonly plannedLitres: number;
  readonly actualLitres: number;
  /** Between visits of one day, by the estimate; nobody reads an odometer. */
  readonly plannedKm: number;
  readonly drivenKm: number;
}

export interface VisitTiming {
  readonly visitId: string;
  readonly siteId: SiteId;
  readonly technicianId: PersonId;
  readonly day: LocalDay;
  /** `early`: every pot that was filled was still well filled; `late`: one was dry. */
  readonly verdict: 'early' | 'late' | 'in_time' | 'unknown';
  /** Of the pots whose rise was seen: how full they were before, 0-1. */
  readonly fillFractions: readonly { readonly containerId: ContainerId; readonly fillFraction: number }[];
}

export interface PlanLookback {
  readonly fromDay: LocalDay;
  readonly toDay: LocalDay;
  readonly total: PlanComparison;
  readonly byTechnician: readonly (PlanComparison & { readonly technicianId: PersonId })[];
  readonly timing: readonly VisitTiming[];
  readonly early: number;
  readonly late: number;
  readonly inTime: number;
  readonly unknown: number;
  /** What the planner goes by now; null: nothing was learnt yet, the settings count. */
  readonly pace: LearnedPace | null;
  readonly samplesNeeded: number;
}

/** How the visits of some days went against their plan, and which came too early or too late. */
export async function planLookback(
  app: App,
  who: Principal,
  span: { readonly fromDay: LocalDay; readonly toDay: LocalDay },
): Promise<PlanLookback> {
  allowed(who, 'plan.read');
  const fleet = await fleetView(app.store, WHOLE_FLEET, app.clock.nowMs());
  const done = await doneVisits(app, fleet, span);
  const technicians = [...new Set(done.map((one) => one.visit.technicianId))].sort();
  const timing: VisitTiming[] = [];
  for (const one of done) timing.push(await timingOf(app, fleet, one));
  const count = (verdict: VisitTiming['verdict']) => timing.filter((one) => one.verdict === verdict).length;
  return {
    ...span,
    total: comparison(done, fleet),
    byTechnician: technicians.map((technicianId) => ({
      technicianId,
      ...comparison(
        done.filter((one) => one.visit.technicianId === technicianId),
        fleet,
      ),
    })),
    timing,
    early: count('early'),
    late: count('late'),
    inTime: count('in_time'),
    unknown: count('unknown'),
    pace: await app.store.plans.learnedPace(),
    samplesNeeded: LEAST_SAMPLES,
  };
}

/**
 * Learns the crew's pace from the last months' visits and keeps it for the planner. Nothing is written where too little is
 * on record, or where nothing changed.
 */
export async function learnFromVisits(app: App): Promise<void> {
  const nowMs = app.clock.nowMs();
  const fleet = await fleetView(app.store, WHOLE_FLEET, nowMs);
  const today = localDaysOf(usualZone(fleet)).dayOf(nowMs);
  const done = await doneVisits(app, fleet, { fromDay: addDays(today, -LEARN_DAYS), toDay: today });
  const services = done.flatMap(({ visit }) => serviceOf(visit));
  const legs = legsOf(done, fleet);
  const pace = learnPace(services, PLAN_SETTINGS);
  const travelFactor = learnTravelFactor(legs);
  if (pace === null && travelFactor === null) return;
  const row: LearnedPace = {
    learnedMs: nowMs,
    visits: services.length,
    legs: legs.length,
    minutesPerStop: pace?.minutesPerStop ?? null,
    minutesPerPot: pace?.minutesPerPot ?? null,
    pumpLitresPerMinute: pace?.pumpLitresPerMinute ?? null,
    travelFactor,
  };
  const before = await app.store.plans.learnedPace();
  if (before !== null && JSON.stringify({ ...before, learnedMs: nowMs }) === JSON.stringify(row)) return;
  await app.store.commit({
    atMs: nowMs,
    actor: { kind: 'stage', id: 'planner' },
    writes: [{ kind: 'learned_pace', row }],
    cursor: null,
  });
}

interface DoneVisit {
  readonly visit: Visit;
  readonly day: LocalDay;
  readonly plan: PublishedVisit | null;
}

async function doneVisits(
  app: App,
  fleet: FleetView,
  { fromDay, toDay }: { readonly fromDay: LocalDay; readonly toDay: LocalDay },
): Promise<readonly DoneVisit[]> {
  const days = localDaysOf(usualZone(fleet));
  const [visits, stops, told] = await Promise.all([
    app.store.work.visits(WHOLE_FLEET, {
      containerId: null,
      siteId: null,
      fromMs: days.startMs(fromDay),
      toMs: days.endMs(toDay),
    }),
    app.store.work.roundStops({ fromDay, toDay, technicianId: null }),
    app.store.plans.publishedVisits(fromDay, toDay),
  ]);
  const toldOf = new Map(told.map((one) => [one.stopId, one]));
  const planOf = new Map(
    stops
      .filter((stop) => stop.state === 'done')
      .map((stop) => [`${stop.technicianId} ${stop.day} ${stop.siteId}`, toldOf.get(stop.id) ?? null]),
  );
  return visits
    .filter((visit) => fleet.sites.has(visit.siteId))
    .map((visit) => {
      const day = localDaysOf(fleet.sites.get(visit.siteId)!.timeZone).dayOf(visit.happenedMs);
      return { visit, day, plan: planOf.get(`${visit.technicianId} ${day} ${visit.siteId}`) ?? null };
    })
    .sort((a, b) => a.visit.startedMs - b.visit.startedMs);
}

function poured(visit: Visit) {
  return visit.actions.filter((action) => action.work === 'refill' && action.exception === null);
}

function litresOf(visit: Visit): number {
  return poured(visit).reduce((sum, action) => sum + (action.litres ?? 0), 0);
}

function minutesOf(visit: Visit): number {
  return (visit.happenedMs - visit.startedMs) / 60_000;
}

/** Visits that were nothing but watering tell the pace; other work has its own time. */
function serviceOf(visit: Visit): readonly ServiceSample[] {
  const pots = new Set(poured(visit).map((action) => action.containerId)).size;
  const other = visit.actions.some((action) => action.work !== 'refill');
  const minutes = minutesOf(visit);
  return pots === 0 || other || minutes <= 0 ? [] : [{ minutes, pots, litres: litresOf(visit) }];
}

interface Leg extends LegSample {
  readonly km: number;
}

/** Drives between visits that one technician made on one day, one after the other. */
function legsOf(done: readonly DoneVisit[], fleet: FleetView): readonly Leg[] {
  const last = new Map<string, DoneVisit>();
  const legs: Leg[] = [];
  for (const one of done) {
    const key = `${one.visit.technicianId} ${one.day}`;
    const before = last.get(key);
    last.set(key, one);
    if (before === undefined || before.visit.siteId === one.visit.siteId) continue;
    const km = legKm(fleet.sites.get(before.visit.siteId)!, fleet.sites.get(one.visit.siteId)!);
    const actualMinutes = (one.visit.startedMs - before.visit.happenedMs) / 60_000;
    // A fill of the tank or a pause on the way is no driving.
    const straight = one.plan === null || (before.plan?.refillAfter ?? null) === null;
    if (actualMinutes <= 0 || actualMinutes > LONGEST_DRIVE_MINUTES || !straight) continue;
    legs.push({ km, actualMinutes, estimatedMinutes: driveMinutes(km, TRAVEL_SETTINGS) });
  }
  return legs;
}

function legKm(from: Site, to: Site): number {
  return roadKm(greatCircleKm(from, to), TRAVEL_SETTINGS);
}

function comparison(done: readonly DoneVisit[], fleet: FleetView): PlanComparison {
  const planned = done.filter((one) => one.plan !== null);
  const sum = (value: (one: DoneVisit) => number) => planned.reduce((total, one) => total + value(one), 0);
  return {
    visits: planned.length,
    plannedMinutes: sum(({ plan }) => plan!.endMinute - plan!.startMinute),
    actualMinutes: sum(({ visit }) => minutesOf(visit)),
    plannedLitres: sum(({ plan }) => plan!.litres),
    actualLitres: sum(({ visit }) => litresOf(visit)),
    plannedKm: sum(({ plan }) => plan!.km),
    drivenKm: legsOf(planned, fleet).reduce((total, leg) => total + leg.km, 0),
  };
}

async function timingOf(app: App, fleet: FleetView, { visit, day }: DoneVisit): Promise<VisitTiming> {
  const fillFractions: { containerId: ContainerId; fillFraction: number }[] = [];
  let dry = false;
  for (const { containerId } of poured(visit)) {
    const container = fleet.containers.get(containerId);
    if (container === undefined) continue;
    const events = await app.store.pots.events(
      WHOLE_FLEET,
      containerId,
      visit.startedMs - NEAR_VISIT_MS,
      visit.happenedMs + NEAR_VISIT_MS,
    );
    const rise = events.find((event) => event.kind === 'refill');
    if (rise === undefined) continue;
    fillFractions.push({ containerId, fillFraction: fractionAt(container, rise.startLevelMm) });
    if (rise.startLevelMm <= container.reservoir.wickFootMm + DRY_WITHIN_MM) dry = true;
  }
  const early = fillFractions.length > 0 && fillFractions.every((one) => one.fillFraction > EARLY_FRACTION);
  const verdict = fillFractions.length === 0 ? 'unknown' : dry ? 'late' : early ? 'early' : 'in_time';
  return {
    visitId: visit.id,
    siteId: visit.siteId,
    technicianId: visit.technicianId,
    day,
    verdict,
    fillFractions,
  };
}

/** Share of what the wick can reach that stands at a level, by straight lines between the table's pairs. */
function fractionAt({ reservoir }: Container, levelMm: number): number {
  const { strapping, overflowMm, wickFootMm } = reservoir;
  const litresAt = (mm: number): number => {
    const upper = strapping.findIndex(([level]) => level >= mm);
    if (upper < 0) return strapping.at(-1)![1];
    if (upper === 0) return strapping[0]![1];
    const [fromMm, fromLitres] = strapping[upper - 1]!;
    const [toMm, toLitres] = strapping[upper]!;
    return fromLitres + ((toLitres - fromLitres) * (mm - fromMm)) / (toMm - fromMm);
  };
  const dead = litresAt(wickFootMm);
  const room = litresAt(overflowMm) - dead;
  return room <= 0 ? 0 : Math.min(1, Math.max(0, (litresAt(levelMm) - dead) / room));
}

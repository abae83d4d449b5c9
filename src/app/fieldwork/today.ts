import { stopsOf } from '../../alerts/stops.js';
import { isOpen } from '../../alerts/task-life.js';
import { decisionHorizonMs, lastEndOfWorkMs } from '../../alerts/work-calendar.js';
import type { Principal } from '../../domain/access.js';
import type { ContainerId, EpochMs, LocalDay, SiteId } from '../../domain/ids.js';
import type { Message } from '../../domain/message.js';
import type { PotStatus } from '../../domain/pot.js';
import type { Task } from '../../domain/work.js';
import { type App, allowed } from '../context.js';
import { localDaysOf } from '../fleet-view.js';
import { byPress } from './alarms.js';
import { overnightChanges } from './overnight.js';
import { usualZone } from './round-views.js';
import { ViewBuilder } from './view-builder.js';
import type { AlarmView, PotGlance, StopView } from './work-views.js';

/** Something that happened since the crew went home. */
export interface OvernightChange {
  readonly atMs: EpochMs;
  readonly tone: 'bad' | 'good' | 'plain';
  readonly siteId: SiteId;
  readonly containerId: ContainerId | null;
  readonly message: Message;
}

/** A pot that needs nobody today. */
export interface WaitingPot {
  readonly pot: PotGlance;
  /** Until when it can wait; null where nothing is due within the horizon. */
  readonly untilMs: EpochMs | null;
}

/** A pot of which nobody can say how it stands. */
export interface UnknownPot {
  readonly pot: PotGlance;
  readonly why: Message;
  /** To be looked at by then: the last p10 that was known. */
  readonly visitByMs: EpochMs | null;
}

export interface TodayCounts {
  readonly containers: number;
  readonly needVisit: number;
  readonly canWait: number;
  readonly unknown: number;
  readonly stops: number;
  readonly stopsNotPlanned: number;
  readonly litres: number;
  readonly minutes: number;
  readonly alarms: number;
  readonly alarmsUnacknowledged: number;
}

/** The dispatcher's morning: what changed, what cannot wait, what can, and what nobody knows. */
export interface Today {
  readonly asOfMs: EpochMs;
  readonly day: LocalDay;
  readonly timeZone: string;
  readonly counts: TodayCounts;
  readonly overnightSinceMs: EpochMs;
  readonly overnight: readonly OvernightChange[];
  /** Stops with something that cannot wait, or that are on a round of today; by due time. */
  readonly stops: readonly StopView[];
  /** Soonest first. */
  readonly waiting: readonly WaitingPot[];
  readonly unknown: readonly UnknownPot[];
  readonly alarms: readonly AlarmView[];
}

/** @throws DomainError `not_allowed` for roles that may not read the tasks of the fleet */
export async function today(app: App, who: Principal): Promise<Today> {
  const scope = allowed(who, 'tasks.read');
  const nowMs = app.clock.nowMs();
  const views = await ViewBuilder.load(app.store, scope, nowMs);
  const timeZone = usualZone(views.fleet);
  const days = localDaysOf(timeZone);
  const day = days.dayOf(nowMs);
  const sinceMs = lastEndOfWorkMs(views.calendar, days, day);
  const query = { openOnly: true, settledSinceMs: sinceMs, siteId: null, containerId: null } as const;
  const tasks = (await app.store.work.tasks(scope, query)).filter((task) =>
    views.fleet.containers.has(task.containerId),
  );
  const open = tasks.filter(isOpen);
  const stops = stopsOf(open, views.plans)
    .map((stop) => views.stop(stop))
    .filter((stop) => stop.why.length > 0 || stop.plan?.day === day);
  const pressing = pressingPots(open, views, nowMs);
  const unknown = unknownPots(views);
  const unknownIds = new Set(unknown.map((one) => one.pot.containerId));
  const waiting = waitingPots(open, views, pressing, unknownIds);
  const alarms = [...views.standingAlarms].filter((alarm) => alarm.beneath !== 'normal').sort(byPress);
  return {
    asOfMs: nowMs,
    day,
    timeZone,
    counts: {
      containers: views.fleet.containers.size,
      needVisit: pressing.size,
      canWait: waiting.length,
      unknown: unknown.length,
      stops: stops.length,
      stopsNotPlanned: stops.filter((stop) => stop.plan === null).length,
      litres: Math.round(sum(stops.map((stop) => stop.litres))),
      minutes: sum(stops.map((stop) => stop.minutes)),
      alarms: alarms.length,
      alarmsUnacknowledged: alarms.filter((alarm) => alarm.state.endsWith('unacknowledged')).length,
    },
    overnightSinceMs: sinceMs,
    overnight: await overnightChanges(app.store, scope, views, tasks, sinceMs, nowMs),
    stops,
    waiting,
    unknown,
    alarms: alarms.map((alarm) => views.alarm(alarm)),
  };
}

/** Pots with a task that cannot wait until the next working day is over. */
function pressingPots(open: readonly Task[], views: ViewBuilder, nowMs: EpochMs): ReadonlySet<ContainerId> {
  const pots = new Set<ContainerId>();
  for (const task of open) {
    const horizonMs = decisionHorizonMs(views.calendar, views.fleet.daysOf(views.site(task.siteId)), nowMs);
    if (horizonMs !== null && task.dueByMs < horizonMs) pots.add(task.containerId);
  }
  return pots;
}

function waitingPots(
  open: readonly Task[],
  views: ViewBuilder,
  pressing: ReadonlySet<ContainerId>,
  unknown: ReadonlySet<ContainerId>,
): readonly WaitingPot[] {
  const waiting = [...views.fleet.containers.values()]
    .filter(({ id }) => !pressing.has(id) && !unknown.has(id))
    .map((container): WaitingPot => {
      const pot = views.glance(container);
      const due = open.filter((task) => task.containerId === container.id).map((task) => task.dueByMs);
      if (pot.dry?.p10Ms != null) due.push(pot.dry.p10Ms);
      return { pot, untilMs: due.length === 0 ? null : Math.min(...due) };
    });
  return waiting.sort(bySoonest((one) => one.untilMs));
}

function unknownPots(views: ViewBuilder): readonly UnknownPot[] {
  const unknown: UnknownPot[] = [];
  for (const container of views.fleet.containers.values()) {
    const status = views.statuses.get(container.id) ?? null;
    const why = whyUnknown(status);
    if (why === null) continue;
    unknown.push({ pot: views.glance(container), why, visitByMs: status?.forecast.dry?.p10Ms ?? null });
  }
  return unknown.sort(bySoonest((one) => one.visitByMs));
}

function whyUnknown(status: PotStatus | null): Message | null {
  if (status === null) return { code: 'unknown.no_node', params: {} };
  const { forecast } = status;
  switch (forecast.knowledge) {
    case 'known':
      return null;
    case 'learning':
      // A young pot with a forecast, however wide, is known well enough to be planned.
      if (forecast.dry !== null) return null;
      return { code: 'unknown.learning', params: { dataDays: forecast.dataDays } };
    case 'silent':
      return { code: 'unknown.silent', params: { lastReadingMs: status.lastReadingMs } };
    case 'no_node':
      return { code: 'unknown.no_node', params: {} };
    case 'sensor_fault':
      return { code: 'unknown.sensor_fault', params: {} };
  }
}

function bySoonest<Row extends { readonly pot: PotGlance }>(dueOf: (row: Row) => EpochMs | null) {
  return (a: Row, b: Row): number => {
    const left = dueOf(a) ?? Number.MAX_SAFE_INTEGER;
    const right = dueOf(b) ?? Number.MAX_SAFE_INTEGER;
    return left - right || (a.pot.containerId < b.pot.containerId ? -1 : 1);
  };
}

function sum(values: readonly number[]): number {
  return values.reduce((total, value) => total + value, 0);
}

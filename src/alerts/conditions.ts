import type { AlarmKind, AlarmPriority } from '../domain/alarm.js';
import type { ContainerId, EpochMs, GatewayId, NodeId } from '../domain/ids.js';
import type { Message } from '../domain/message.js';
import type { Finding } from '../domain/pot.js';
import { ALARM_OF_FINDING, CATALOGUE } from './catalogue.js';
import { answerTo } from './finding-tasks.js';
import { isPartOfOutage, type Outage, outageAlarmId, outagesOf } from './outages.js';
import { isNewlyPlanted } from './planting-age.js';
import { pointSettings } from './point-settings.js';
import { drySoonestMs, hasBeenDry, isDryNow, isWorthGoing } from './refill-rules.js';
import { type PotSituation, plannedStop, type SiteSituation, stopIsInTime } from './situation.js';
import { SUPPRESSED_BY } from './suppression.js';
import { isOpen, REFILL_SHOWS_WITHIN_MS, SHOWS_WITHIN_MS } from './task-life.js';
import { decidedHorizonMs } from './work-calendar.js';

const HOUR_MS = 3_600_000;

/** How one alarm's condition stands now. */
export interface AlarmCondition {
  readonly alarmId: string;
  readonly kind: AlarmKind;
  readonly containerId: ContainerId | null;
  readonly nodeId: NodeId | null;
  readonly gatewayId: GatewayId | null;
  readonly active: boolean;
  readonly sinceMs: EpochMs;
  /** How far the readings reach; delays are over by it. */
  readonly readingMs: EpochMs;
  readonly endedByDecision: boolean;
  readonly priority: AlarmPriority;
  readonly message: Message;
  /** The rule that keeps it from people now; null where none does. */
  readonly suppressedBy: string | null;
}

export function alarmIdOf(kind: AlarmKind, subjectId: string): string {
  return `${kind}:${subjectId}`;
}

/**
 * How every alarm of the site stands. Those whose condition does not hold are listed only where the alarm exists.
 * A pure function of the situation: a forecast becomes a condition when a decision is due and none was made.
 */
export function conditionsOf(situation: SiteSituation): readonly AlarmCondition[] {
  const outages = outagesOf(situation);
  const active = [
    ...outages.map((outage) => outageCondition(situation, outage)),
    ...situation.pots.flatMap((pot) => [
      ...dryCondition(situation, pot),
      ...findingConditions(situation, pot, isPartOfOutage(situation, outages, pot)),
    ]),
  ];
  const activeIds = new Set(active.map((condition) => condition.alarmId));
  const ended = situation.alarms
    .filter((alarm) => !activeIds.has(alarm.id))
    .map((alarm): AlarmCondition => {
      const pot = situation.pots.find(({ container }) => container.id === alarm.containerId) ?? null;
      const readingMs = pot === null ? situation.nowMs : readingTimeMs(situation, pot, alarm.kind);
      return {
        alarmId: alarm.id,
        kind: alarm.kind,
        containerId: alarm.containerId,
        nodeId: alarm.nodeId,
        gatewayId: alarm.gatewayId,
        active: false,
        sinceMs: readingMs,
        readingMs,
        endedByDecision: alarm.kind === 'dry' && pot !== null && isAnswered(situation, pot),
        priority: alarm.priority,
        message: alarm.message,
        suppressedBy:
          pot === null ? null : suppression(situation, pot, alarm.kind, isPartOfOutage(situation, outages, pot)),
      };
    });
  return [...active, ...ended];
}

/**
 * The decision about a pot that is due and was not made: it may be dry before the crew's next chance, water enough to
 * matter would go in, and nobody is sent in time or was there a short while ago.
 * @returns from when on it may be dry; null: nothing is to be decided
 */
export function dryDecision(situation: SiteSituation, pot: PotSituation): EpochMs | null {
  const { status } = pot;
  if (status === null) return null;
  const soonestMs = drySoonestMs(status);
  const horizonMs = decidedHorizonMs(situation.calendar, situation.days, situation.nowMs);
  const alarmId = alarmIdOf('dry', pot.container.id);
  const standing = situation.alarms.find((alarm) => alarm.id === alarmId)?.conditionActive ?? false;
  const { deadbandHours } = pointSettings(situation.overrides, 'dry', pot.container.id);
  const byMs = horizonMs === null ? null : horizonMs + (standing ? deadbandHours * HOUR_MS : 0);
  const isDue = soonestMs !== null && byMs !== null && soonestMs < byMs && isWorthGoing(status);
  return isDue && !isAnswered(situation, pot) ? soonestMs : null;
}

function dryCondition(situation: SiteSituation, pot: PotSituation): readonly AlarmCondition[] {
  const { status } = pot;
  if (status === null) return [];
  const dryNow = isDryNow(pot, situation.nowMs, hasBeenDry(situation, pot));
  if (!dryNow && dryDecision(situation, pot) === null) return [];
  const priority = dryPriority(situation, pot, dryNow);
  const params = {
    pot: pot.container.name,
    levelMm: status.levelMm,
    dryP10Ms: drySoonestMs(status),
    dryP50Ms: status.forecast.dry?.p50Ms ?? null,
  };
  const seen = status.forecast.knowledge === 'known' || status.forecast.knowledge === 'learning';
  const message: Message = {
    code: dryNow ? (seen ? 'alarm.dry.now' : 'alarm.dry.now_unheard') : 'alarm.dry.decide',
    params,
  };
  return [
    {
      ...pointOf(pot, 'dry'),
      active: true,
      endedByDecision: false,
      sinceMs: status.atMs,
      readingMs: Math.max(status.atMs, readingTimeMs(situation, pot, 'dry')),
      priority,
      message,
      suppressedBy:
        suppression(situation, pot, 'dry', false) ??
        (situation.crewIsFull && priority === 'low' ? SUPPRESSED_BY.crewFull : null),
    },
  ];
}

/**
 * What a dry alarm is worth goes by the time that is left for the answer, as the standard has it: a pot that may be dry,
 * and one that is dry over soil which lasts beyond the crew's next chance, what the catalogue says; one whose soil may
 * not last, or of whose soil nothing is known, more; most where the soil has nothing left either.
 */
function dryPriority(situation: SiteSituation, pot: PotSituation, dryNow: boolean): AlarmPriority {
  const point = pointSettings(situation.overrides, 'dry', pot.container.id);
  if (!dryNow || point.priorityIsOverridden) return point.priority;
  const stress = pot.status?.forecast.stress ?? null;
  if (stress?.p50Ms != null && stress.p50Ms <= situation.nowMs) return 'high';
  const horizonMs = decidedHorizonMs(situation.calendar, situation.days, situation.nowMs);
  const soilLasts = stress?.p10Ms != null && horizonMs !== null && stress.p10Ms > horizonMs;
  return soilLasts ? point.priority : MORE_URGENT[point.priority];
}

/** Somebody goes there before the pot may be dry, or has been there and the readings have yet to tell. */
function isAnswered(situation: SiteSituation, pot: PotSituation): boolean {
  return isPlannedInTime(situation, pot) || isRefillToBeProved(situation, pot);
}

function isRefillToBeProved({ tasks, nowMs }: SiteSituation, pot: PotSituation): boolean {
  return tasks.some(
    (task) =>
      task.containerId === pot.container.id &&
      task.kind === 'refill' &&
      task.state === 'done' &&
      nowMs - task.changedMs <= REFILL_SHOWS_WITHIN_MS,
  );
}

/** Somebody goes there before the pot may be dry. */
function isPlannedInTime(situation: SiteSituation, pot: PotSituation): boolean {
  const soonestMs = drySoonestMs(pot.status);
  const stop = plannedStop(situation.stops, situation.days.dayOf(situation.nowMs));
  return soonestMs !== null && stopIsInTime(situation, stop, soonestMs);
}

function findingConditions(
  situation: SiteSituation,
  pot: PotSituation,
  partOfOutage: boolean,
): readonly AlarmCondition[] {
  const conditions = new Map<AlarmKind, AlarmCondition>();
  for (const finding of pot.findings) {
    const kind = ALARM_OF_FINDING.get(finding.kind);
    if (kind === undefined || answerTo(finding) === null || conditions.has(kind)) continue;
    conditions.set(kind, {
      ...pointOf(pot, kind),
      nodeId: finding.nodeId ?? pot.nodeId,
      active: true,
      endedByDecision: false,
      sinceMs: finding.openedMs,
      readingMs: Math.max(finding.openedMs, readingTimeMs(situation, pot, kind)),
      priority: priorityOf(situation, finding, kind),
      message: {
        code: FINDING_MESSAGES[kind],
        params: {
          pot: pot.container.name,
          sizeLitresPerDay: finding.unit === 'L/d' ? finding.size : null,
          sizeMm: finding.unit === 'mm' ? finding.size : null,
          heightMm: finding.heightMm,
          sinceMs: kind === 'node_silent' ? (pot.status?.lastReadingMs ?? finding.openedMs) : finding.openedMs,
        },
      },
      suppressedBy: suppression(situation, pot, kind, partOfOutage),
    });
  }
  return [...conditions.values()];
}

const MORE_URGENT: Readonly<Record<AlarmPriority, AlarmPriority>> = { low: 'medium', medium: 'high', high: 'high' };

/** What a grave finding is worth is raised a step, unless somebody said what this alarm is worth here. */
function priorityOf(situation: SiteSituation, finding: Finding, kind: AlarmKind): AlarmPriority {
  const point = pointSettings(situation.overrides, kind, finding.containerId);
  return finding.severity === 'high' && !point.priorityIsOverridden ? MORE_URGENT[point.priority] : point.priority;
}

const FINDING_MESSAGES = {
  dry: 'alarm.dry.now',
  leak: 'alarm.leak.found',
  overflow_blocked: 'alarm.overflow_blocked.found',
  wick_failed: 'alarm.wick_failed.found',
  waterlogged: 'alarm.waterlogged.found',
  node_silent: 'alarm.node_silent.found',
  outage: 'alarm.outage.found',
  crew_full: 'alarm.crew_full.found',
} as const satisfies Record<AlarmKind, Message['code']>;

function outageCondition(situation: SiteSituation, outage: Outage): AlarmCondition {
  return {
    alarmId: outageAlarmId(outage.gatewayId, situation.site.id),
    kind: 'outage',
    containerId: null,
    nodeId: null,
    gatewayId: outage.gatewayId,
    active: true,
    endedByDecision: false,
    sinceMs: outage.sinceMs,
    readingMs: situation.nowMs,
    priority: pointSettings(situation.overrides, 'outage', null).priority,
    message: {
      code: 'alarm.outage.found',
      params: { site: situation.site.name, pots: outage.pots.length, sinceMs: outage.sinceMs },
    },
    suppressedBy: outage.pots[0] === undefined ? null : answeredBy(situation, outage.pots[0], 'outage'),
  };
}

function pointOf(pot: PotSituation, kind: AlarmKind) {
  return {
    alarmId: alarmIdOf(kind, pot.container.id),
    kind,
    containerId: pot.container.id,
    nodeId: pot.nodeId,
    gatewayId: null,
  };
}

/** Silence has no readings to count by: there the business clock stands in. */
function readingTimeMs(situation: SiteSituation, pot: PotSituation, kind: AlarmKind): EpochMs {
  if (kind === 'node_silent' || kind === 'outage') return situation.nowMs;
  const { status } = pot;
  if (status === null || status.forecast.knowledge === 'silent') return situation.nowMs;
  return status.lastReadingMs ?? status.atMs;
}

/** Nobody works at one pot for longer; whoever forgot to report is not believed for the rest of the day. */
const LONGEST_VISIT_MS = 3 * HOUR_MS;

function suppression(
  situation: SiteSituation,
  pot: PotSituation,
  kind: AlarmKind,
  partOfOutage: boolean,
): string | null {
  const handled = situation.tasks.some(
    (task) =>
      task.containerId === pot.container.id &&
      task.state === 'on_the_way' &&
      situation.nowMs - task.changedMs < LONGEST_VISIT_MS,
  );
  if (handled) return SUPPRESSED_BY.visit;
  if (kind === 'node_silent' && partOfOutage) return SUPPRESSED_BY.outage;
  if (kind === 'wick_failed' && isNewlyPlanted(situation, pot)) return SUPPRESSED_BY.newPlanting;
  // A planned stop ends the dry alarm itself; its condition is that none is planned.
  return kind === 'dry' ? null : answeredBy(situation, pot, kind);
}

/**
 * The task that answers the alarm is on a round in time, or was done and has yet to show. An alarm calls for a response;
 * where it has been given, the alarm waits, and calls again if the visit falls out or the finding outlasts it.
 */
function answeredBy(situation: SiteSituation, pot: PotSituation, kind: AlarmKind): string | null {
  const answer = CATALOGUE[kind].task;
  const tasks = situation.tasks.filter((task) => task.containerId === pot.container.id && task.kind === answer);
  const stop = plannedStop(situation.stops, situation.days.dayOf(situation.nowMs));
  const planned = tasks.some((task) => isOpen(task) && stopIsInTime(situation, stop, task.dueByMs));
  if (planned) return SUPPRESSED_BY.planned;
  const done = tasks.some((task) => task.state === 'done' && situation.nowMs - task.changedMs <= SHOWS_WITHIN_MS);
  return done ? SUPPRESSED_BY.awaitingProof : null;
}

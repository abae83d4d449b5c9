import type { AlarmKind, AlarmPriority } from '../domain/alarm.js';
import type { FindingKind } from '../domain/pot.js';
import type { Role } from '../domain/registry.js';
import type { TextCode } from '../domain/texts/en/index.js';
import type { TaskKind } from '../domain/work.js';
import type { AlarmSettings } from './alarm-life.js';

const MINUTE_MS = 60_000;
const HOUR_MS = 3_600_000;
const DAY_MS = 86_400_000;

/**
 * One rationalised entry a kind: why the alarm exists at all, what happens if nobody answers it, what to do, by when.
 * An alarm without something to do about it has no entry, and so is none.
 */
export interface CatalogueEntry {
  readonly kind: AlarmKind;
  readonly cause: TextCode;
  readonly consequence: TextCode;
  readonly action: TextCode;
  /** How long there is from the raising to the answer. */
  readonly respondWithinMs: number;
  readonly priority: AlarmPriority;
  readonly settings: AlarmSettings;
  /** The condition ends only this far on the safe side of where it began, in the unit named. */
  readonly deadband: { readonly value: number; readonly unit: 'h' } | null;
  /** Whom it concerns while it is on nobody's round; once it is, the technician. */
  readonly told: readonly Role[];
  /** Codes of the cautions to show beside it. */
  readonly cautions: readonly TextCode[];
  /** The finding whose opening is the condition; null where the condition is worked out otherwise. */
  readonly finding: FindingKind | null;
  /** The task that answers it. */
  readonly task: TaskKind;
}

/** Long enough for a weekend off; the standard wants a limit. */
const MAX_SHELVING_MS = 7 * DAY_MS;

/** Delays, times to respond and priorities are our judgement for plants in pots, no source; sites may set their own. */
export const CATALOGUE: Readonly<Record<AlarmKind, CatalogueEntry>> = {
  dry: {
    kind: 'dry',
    cause: 'alarm.dry.cause',
    consequence: 'alarm.dry.consequence',
    action: 'alarm.dry.action',
    respondWithinMs: 8 * HOUR_MS,
    priority: 'low',
    settings: {
      onDelayMs: 0,
      offDelayMs: 30 * MINUTE_MS,
      latching: false,
      // The morning's list names it each day, and a pot that gets worse (dry, then its soil spent) calls by that.
      reAlarmAfterMs: 3 * DAY_MS,
      maxShelvingMs: MAX_SHELVING_MS,
    },
    deadband: { value: 6, unit: 'h' },
    told: ['dispatcher'],
    cautions: ['caution.backflow', 'caution.non_potable'],
    finding: null,
    task: 'refill',
  },
  leak: {
    kind: 'leak',
    cause: 'alarm.leak.cause',
    consequence: 'alarm.leak.consequence',
    action: 'alarm.leak.action',
    respondWithinMs: 2 * DAY_MS,
    priority: 'low',
    settings: {
      onDelayMs: 0,
      offDelayMs: DAY_MS,
      latching: true,
      reAlarmAfterMs: 7 * DAY_MS,
      maxShelvingMs: MAX_SHELVING_MS,
    },
    deadband: null,
    told: ['dispatcher'],
    cautions: ['caution.lifting', 'caution.roof_load'],
    finding: 'leak',
    task: 'find_leak',
  },
  overflow_blocked: {
    kind: 'overflow_blocked',
    cause: 'alarm.overflow_blocked.cause',
    consequence: 'alarm.overflow_blocked.consequence',
    action: 'alarm.overflow_blocked.action',
    respondWithinMs: DAY_MS,
    priority: 'medium',
    settings: {
      onDelayMs: 0,
      offDelayMs: 6 * HOUR_MS,
      latching: true,
      reAlarmAfterMs: 3 * DAY_MS,
      maxShelvingMs: MAX_SHELVING_MS,
    },
    deadband: null,
    told: ['dispatcher'],
    cautions: ['caution.non_potable', 'caution.mosquito'],
    finding: 'overflow_blocked',
    task: 'clear_overflow',
  },
  wick_failed: {
    kind: 'wick_failed',
    cause: 'alarm.wick_failed.cause',
    consequence: 'alarm.wick_failed.consequence',
    action: 'alarm.wick_failed.action',
    respondWithinMs: DAY_MS,
    priority: 'medium',
    settings: {
      onDelayMs: 0,
      offDelayMs: DAY_MS,
      latching: true,
      reAlarmAfterMs: 3 * DAY_MS,
      maxShelvingMs: MAX_SHELVING_MS,
    },
    deadband: null,
    told: ['dispatcher'],
    cautions: ['caution.lifting'],
    finding: 'wick_failed',
    task: 'retest_wick',
  },
  waterlogged: {
    kind: 'waterlogged',
    cause: 'alarm.waterlogged.cause',
    consequence: 'alarm.waterlogged.consequence',
    action: 'alarm.waterlogged.action',
    respondWithinMs: 2 * DAY_MS,
    priority: 'low',
    settings: {
      onDelayMs: 2 * HOUR_MS,
      offDelayMs: 12 * HOUR_MS,
      latching: false,
      reAlarmAfterMs: 7 * DAY_MS,
      maxShelvingMs: MAX_SHELVING_MS,
    },
    deadband: null,
    told: ['dispatcher'],
    cautions: ['caution.non_potable', 'caution.mosquito'],
    finding: 'waterlogged',
    task: 'drain',
  },
  node_silent: {
    kind: 'node_silent',
    cause: 'alarm.node_silent.cause',
    consequence: 'alarm.node_silent.consequence',
    action: 'alarm.node_silent.action',
    respondWithinMs: 3 * DAY_MS,
    priority: 'low',
    settings: {
      // Analytics waits for several missed messages; a gateway that restarts needs some more.
      onDelayMs: HOUR_MS,
      offDelayMs: 0,
      latching: false,
      reAlarmAfterMs: null,
      maxShelvingMs: MAX_SHELVING_MS,
    },
    deadband: null,
    told: ['dispatcher'],
    cautions: ['caution.lithium'],
    finding: 'node_silent',
    task: 'recover_node',
  },
  outage: {
    kind: 'outage',
    cause: 'alarm.outage.cause',
    consequence: 'alarm.outage.consequence',
    action: 'alarm.outage.action',
    respondWithinMs: DAY_MS,
    priority: 'low',
    settings: {
      // Most come back by themselves; nobody drives there for an hour without a signal.
      onDelayMs: 3 * HOUR_MS,
      offDelayMs: 30 * MINUTE_MS,
      latching: false,
      reAlarmAfterMs: 3 * DAY_MS,
      maxShelvingMs: MAX_SHELVING_MS,
    },
    deadband: null,
    told: ['dispatcher'],
    cautions: ['caution.licence'],
    finding: null,
    task: 'recover_node',
  },
  crew_full: {
    kind: 'crew_full',
    cause: 'alarm.crew_full.cause',
    consequence: 'alarm.crew_full.consequence',
    action: 'alarm.crew_full.action',
    respondWithinMs: 8 * HOUR_MS,
    // Many pots hang on one answer, and the answer gets dearer by the hour.
    priority: 'medium',
    settings: {
      onDelayMs: 0,
      offDelayMs: 0,
      latching: false,
      // Over a weekend nobody could answer again.
      reAlarmAfterMs: 3 * DAY_MS,
      maxShelvingMs: MAX_SHELVING_MS,
    },
    deadband: null,
    told: ['dispatcher'],
    cautions: ['caution.backflow', 'caution.non_potable'],
    finding: null,
    task: 'refill',
  },
};

export const ALARM_KINDS = Object.keys(CATALOGUE) as readonly AlarmKind[];

/** Findings that are alarms by themselves. */
export const ALARM_OF_FINDING: ReadonlyMap<FindingKind, AlarmKind> = new Map(
  Object.values(CATALOGUE).flatMap((entry) => (entry.finding === null ? [] : [[entry.finding, entry.kind] as const])),
);

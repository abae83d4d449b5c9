import { type Calendar, DAY_MS, STEP_MS } from '../calendar.js';
import type { Draw } from '../rng.js';
import type { SensorFault } from '../sensor/node.js';
import { NO_POT_FAULTS, type PotFaults } from './pot-spec.js';
import type { TrueFault } from './world.js';

export interface DrawnFaults {
  readonly pot: PotFaults;
  readonly sensor: readonly SensorFault[];
  readonly truth: readonly TrueFault[];
  /** The cell is this old at the start, so that it dies within the span; null where it is not the fault. */
  readonly cellAgeShare: number | null;
}

export const NO_FAULTS: DrawnFaults = { pot: NO_POT_FAULTS, sensor: [], truth: [], cellAgeShare: null };

interface Span {
  readonly containerId: string;
  readonly nodeId: string;
  readonly calendar: Calendar;
  readonly historyDays: number;
  readonly draw: Draw;
}

/** Leak sizes in L/day at the overflow invert, from classes that the score reports apart. */
const SIZE_CLASSES: readonly (readonly [number, number])[] = [
  [0.15, 0.3],
  [0.3, 0.6],
  [0.6, 1.2],
  [1.2, 2.5],
  [2.5, 8],
];

function dayMs(span: Span, day: number): number {
  return span.calendar.startMs + day * DAY_MS;
}

/** A leak that begins somewhere in the span; two in five are mended after one to three months. */
export function drawLeak(span: Span): DrawnFaults {
  const { draw } = span;
  const [low, high] = SIZE_CLASSES[draw.weighted([0.12, 0.16, 0.24, 0.24, 0.24])]!;
  const size = Math.exp(draw.uniform(Math.log(low), Math.log(high)));
  const crackShare = draw.chance(0.4) ? draw.uniform(0, 0.12) : draw.uniform(0.1, 0.8);
  const fromDay = draw.uniform(30, Math.max(31, span.historyDays - 60));
  const mended = draw.chance(0.4) ? fromDay + draw.uniform(30, 90) : null;
  const seep = draw.chance(0.35);
  return leakOf(span, { size, crackShare, fromDay, toDay: mended, exponent: seep ? draw.uniform(0.85, 1) : 0.5 });
}

export function leakOf(
  span: Pick<Span, 'calendar' | 'containerId'>,
  leak: { size: number; crackShare: number; fromDay: number; toDay: number | null; exponent: number },
): DrawnFaults {
  const fromStep = Math.round((leak.fromDay * DAY_MS) / STEP_MS);
  const toStep = leak.toDay === null ? Number.MAX_SAFE_INTEGER : Math.round((leak.toDay * DAY_MS) / STEP_MS);
  return {
    ...NO_FAULTS,
    pot: {
      ...NO_POT_FAULTS,
      leaks: [
        { fromStep, toStep, litresPerDayAtInvert: leak.size, exponent: leak.exponent, crackShare: leak.crackShare },
      ],
    },
    truth: [
      {
        containerId: span.containerId,
        nodeId: null,
        kind: 'leak',
        fromMs: span.calendar.startMs + fromStep * STEP_MS,
        toMs: leak.toDay === null ? null : span.calendar.startMs + toStep * STEP_MS,
        size: leak.size,
        unit: 'L/d',
        // Filled in once the pot's overflow height is drawn.
        heightMm: leak.crackShare,
      },
    ],
  };
}

export type FaultKind =
  | 'overflow_blocked'
  | 'overflow_partly_blocked'
  | 'wick_failed'
  | 'demand_collapsed'
  | 'sensor_stuck'
  | 'sensor_drift'
  | 'sensor_unplugged'
  | 'sensor_fouled'
  | 'node_silent'
  | 'clock_wrong'
  | 'battery_low';

export const FAULT_KINDS: readonly FaultKind[] = [
  'overflow_blocked',
  'overflow_blocked',
  'overflow_partly_blocked',
  'wick_failed',
  'wick_failed',
  'demand_collapsed',
  'sensor_stuck',
  'sensor_drift',
  'sensor_unplugged',
  'sensor_fouled',
  'node_silent',
  'clock_wrong',
  'battery_low',
];

/** One fault of a kind, from `fromDay` until it is mended. */
export function faultOf(span: Span, kind: FaultKind, fromDay: number, toDay: number): DrawnFaults {
  const { draw } = span;
  const fromMs = dayMs(span, fromDay);
  const toMs = dayMs(span, toDay);
  const fromStep = Math.round((fromDay * DAY_MS) / STEP_MS);
  const toStep = Math.round((toDay * DAY_MS) / STEP_MS);
  const told = (size: number | null, unit: string, ofNode: boolean): TrueFault => ({
    containerId: span.containerId,
    nodeId: ofNode ? span.nodeId : null,
    kind,
    fromMs,
    toMs,
    size,
    unit,
    heightMm: null,
  });
  const sensor = (fault: SensorFault['kind'], size: number, unit: string): DrawnFaults => ({
    ...NO_FAULTS,
    sensor: [{ kind: fault, fromMs, toMs, size }],
    truth: [told(Number.isNaN(size) ? null : size, unit, true)],
  });
  switch (kind) {
    case 'overflow_blocked':
    case 'overflow_partly_blocked': {
      const factor = kind === 'overflow_blocked' ? 0 : Math.exp(draw.uniform(Math.log(0.0004), Math.log(0.004)));
      return {
        ...NO_FAULTS,
        pot: { ...NO_POT_FAULTS, portFactors: [{ fromStep, toStep, factor }] },
        truth: [told(factor, '1', false)],
      };
    }
    case 'wick_failed': {
      const factor = draw.chance(0.6) ? 0 : draw.uniform(0.005, 0.03);
      return {
        ...NO_FAULTS,
        pot: { ...NO_POT_FAULTS, wickFactors: [{ fromStep, toStep, factor }] },
        truth: [told(factor, '1', false)],
      };
    }
    case 'demand_collapsed': {
      const factor = draw.uniform(0.05, 0.2);
      const rampDays = draw.uniform(3, 8);
      return {
        ...NO_FAULTS,
        pot: {
          ...NO_POT_FAULTS,
          demandSpans: [{ fromDay: Math.floor(fromDay), toDay: Math.floor(toDay), factor, rampDays }],
        },
        truth: [told(factor, '1', false)],
      };
    }
    case 'sensor_stuck':
      return sensor('stuck', Number.NaN, '');
    case 'sensor_drift':
      return sensor('drift', draw.uniform(0.3, 1.5) * (draw.chance(0.5) ? 1 : -1), 'mm/d');
    case 'sensor_unplugged':
      return sensor('unplugged', draw.pick([0, 500, Number.NaN]), 'mm');
    case 'sensor_fouled':
      return sensor('fouled', Number.NaN, '');
    case 'node_silent':
      return sensor('silent', Number.NaN, '');
    case 'clock_wrong':
      return sensor('clock', draw.pick([-7200, -3600, -5400, -86_400]), 's');
    case 'battery_low':
      return {
        ...NO_FAULTS,
        cellAgeShare: fromDay / Math.max(1, span.historyDays),
        truth: [{ ...told(null, '', true), toMs: null }],
      };
  }
}

/** One fault of a drawn kind, lasting two to six weeks. */
export function drawFault(span: Span): DrawnFaults {
  const kind = span.draw.pick(FAULT_KINDS);
  const fromDay = span.draw.uniform(40, Math.max(41, span.historyDays - 50));
  const lasts = kind.startsWith('overflow') ? span.draw.uniform(60, 160) : span.draw.uniform(15, 42);
  return faultOf(span, kind, fromDay, Math.min(span.historyDays, fromDay + lasts));
}

import type { EpochMs } from '../domain/ids.js';
import type { Message } from '../domain/message.js';
import type { PotReading } from '../domain/pot.js';
import type { TaskKind } from '../domain/work.js';
import { isSoilDry } from './refill-proof.js';

const HOUR_MS = 3_600_000;

/** Kinds of work, besides refills, that readings bear out by themselves; the others wait for their finding to close. */
export const PROVED_BY_READINGS = [
  'clear_overflow',
  'drain',
  'rewet_from_above',
  'retest_wick',
  'replace_battery',
  'recover_node',
] as const satisfies readonly TaskKind[];

export type ProvedKind = (typeof PROVED_BY_READINGS)[number];

/** What the readings around some work have to say. */
export interface WorkEvidence {
  readonly kind: ProvedKind;
  readonly doneMs: EpochMs;
  /** Of the pot, from a day before the work to two days after it, by time. */
  readonly readings: readonly PotReading[];
  readonly overflowMm: number;
  /** The highest daily mean of the soil's moisture in the weeks before; null where it is not measured. */
  readonly usualMoisture: number | null;
}

export interface WorkVerdict {
  readonly outcome: 'confirmed' | 'contradicted' | 'no_data';
  readonly message: Message;
}

/** A visit is recorded at its end, and readings within it are of no use. */
const SETTLES_MS = 2 * HOUR_MS;
/** What does not show by then has not happened. */
const SHOWS_MS = 24 * HOUR_MS;
const GIVE_UP_MS = 48 * HOUR_MS;
/** Levels scatter by a few millimetres. Tolerances here are our judgement, no source. */
const AT_INVERT_MM = 5;
const LEAST_FALL_MM = 5;
const LEAST_FALL_SHARE = 0.1;
const SOIL_RISE = 0.02;
/** A fresh cell reads clearly higher than a spent one; cold alone moves the voltage by less. */
const FRESH_CELL_RISE_V = 0.15;
const FRESH_CELL_RISE_FRACTION = 0.3;

/**
 * Judges work by the readings that followed it.
 * @returns null while it is too early to say, or where these readings say nothing either way
 */
export function judgeWork(evidence: WorkEvidence, nowMs: EpochMs): WorkVerdict | null {
  const { kind, doneMs, readings } = evidence;
  const before = readings.filter(({ timeMs }) => timeMs < doneMs);
  const after = readings.filter(({ timeMs }) => timeMs > doneMs);
  if (kind === 'recover_node') return judgeNode(after, doneMs, nowMs);
  const isOver = (after.at(-1)?.timeMs ?? 0) >= doneMs + SHOWS_MS;
  const verdict = VERDICTS[kind](before, after, evidence);
  if (verdict === null) {
    return nowMs >= doneMs + GIVE_UP_MS && after.length === 0
      ? { outcome: 'no_data', message: { code: 'verify.no_data', params: {} } }
      : null;
  }
  // What is seen early may not be the end of it, but good news is taken at once.
  return verdict.outcome === 'confirmed' || isOver ? verdict : null;
}

type Judge = (
  before: readonly PotReading[],
  after: readonly PotReading[],
  evidence: WorkEvidence,
) => WorkVerdict | null;

const VERDICTS: Readonly<Record<Exclude<ProvedKind, 'recover_node'>, Judge>> = {
  clear_overflow: (before, after, { overflowMm, doneMs }) => {
    const fromMm = levelOf(before.at(-1));
    const toMm = levelOf(settled(after, doneMs).at(-1));
    // Below the invert a port proves nothing, open or shut; then the finding decides.
    if (fromMm === null || toMm === null || fromMm <= overflowMm + AT_INVERT_MM) return null;
    const params = { levelMm: toMm, overflowMm };
    return toMm <= overflowMm + AT_INVERT_MM
      ? { outcome: 'confirmed', message: { code: 'verify.overflow_runs', params } }
      : { outcome: 'contradicted', message: { code: 'verify.overflow_stands', params } };
  },
  drain: (before, after, { doneMs }) => {
    const fromMm = levelOf(before.at(-1));
    const toMm = levelOf(settled(after, doneMs).at(0));
    if (fromMm === null || toMm === null) return null;
    const params = { fromMm, toMm };
    return fromMm - toMm >= Math.max(LEAST_FALL_MM, LEAST_FALL_SHARE * fromMm)
      ? { outcome: 'confirmed', message: { code: 'verify.level_fell', params } }
      : { outcome: 'contradicted', message: { code: 'verify.level_stayed', params } };
  },
  rewet_from_above: judgeSoil,
  retest_wick: judgeSoil,
  replace_battery: (before, after) => {
    const known = before.findLast((one) => one.batteryV !== null || one.batteryFraction !== null);
    const now = after.findLast((one) => one.batteryV !== null || one.batteryFraction !== null);
    if (known === undefined || now === undefined) return null;
    const riseV = now.batteryV === null || known.batteryV === null ? null : now.batteryV - known.batteryV;
    const rise =
      now.batteryFraction === null || known.batteryFraction === null
        ? null
        : now.batteryFraction - known.batteryFraction;
    if (riseV === null && rise === null) return null;
    const isFresh = (riseV ?? 0) >= FRESH_CELL_RISE_V || (rise ?? 0) >= FRESH_CELL_RISE_FRACTION;
    const params = { beforeV: known.batteryV, afterV: now.batteryV };
    return isFresh
      ? { outcome: 'confirmed', message: { code: 'verify.cell_fresh', params } }
      : { outcome: 'contradicted', message: { code: 'verify.cell_as_before', params } };
  },
};

function judgeNode(after: readonly PotReading[], doneMs: EpochMs, nowMs: EpochMs): WorkVerdict | null {
  const heard = after[0];
  if (heard !== undefined) {
    return { outcome: 'confirmed', message: { code: 'verify.heard_again', params: { atMs: heard.timeMs } } };
  }
  return nowMs >= doneMs + SHOWS_MS
    ? { outcome: 'contradicted', message: { code: 'verify.still_silent', params: { sinceMs: doneMs } } }
    : null;
}

/** Soil that was dry and takes water up again shows it within a day; whether the wick goes on lifting, its finding says. */
function judgeSoil(
  before: readonly PotReading[],
  after: readonly PotReading[],
  { usualMoisture }: WorkEvidence,
): WorkVerdict | null {
  const was = before.findLast(({ moistureFraction }) => moistureFraction !== null)?.moistureFraction ?? null;
  const moist = after.flatMap(({ moistureFraction }) => (moistureFraction === null ? [] : [moistureFraction]));
  if (was === null || moist.length === 0 || usualMoisture === null || !isSoilDry(was, usualMoisture)) return null;
  const beforeFraction = was;
  const afterFraction = Math.max(...moist);
  const params = { beforeFraction, afterFraction };
  return afterFraction - beforeFraction >= SOIL_RISE
    ? { outcome: 'confirmed', message: { code: 'verify.soil_wetter', params } }
    : { outcome: 'contradicted', message: { code: 'verify.soil_as_before', params } };
}

function settled(after: readonly PotReading[], doneMs: EpochMs): readonly PotReading[] {
  return after.filter(({ timeMs, levelMm }) => levelMm !== null && timeMs >= doneMs + SETTLES_MS);
}

function levelOf(reading: PotReading | undefined): number | null {
  return reading?.levelMm ?? null;
}

import type { EpochMs } from '../domain/ids.js';
import type { Message } from '../domain/message.js';
import type { PotEvent, PotReading } from '../domain/pot.js';
import type { VisitVerification } from '../domain/work.js';

const HOUR_MS = 3_600_000;

/** What the readings around a reported refill have to say. */
export interface RefillEvidence {
  readonly happenedMs: EpochMs;
  /** Null where the crew gave no figure. */
  readonly reportedLitres: number | null;
  /** Gains of water that began in the window of the visit. */
  readonly gains: readonly PotEvent[];
  /** From some hours before the visit to a day after it. */
  readonly readings: readonly PotReading[];
  readonly lastReadingMs: EpochMs | null;
  readonly overflowMm: number;
  readonly wickFootMm: number;
  /** The highest daily mean of the soil's moisture in the weeks before; null where it is not measured. */
  readonly usualMoisture: number | null;
  /** Analytics does not trust the sensor, so that what it says proves nothing. */
  readonly sensorInDoubt: boolean;
}

export interface RefillVerdict {
  readonly outcome: VisitVerification['outcome'];
  readonly measuredLitres: number | null;
  readonly message: Message;
  /** The reservoir was dry before, was filled, and the soil did not take the water up again. */
  readonly stillDrySoil: boolean;
}

/** The level has settled by then, and the event is on record. */
const SETTLES_MS = 2 * HOUR_MS;
/** Without readings for so long after the visit nobody will know. */
const GIVE_UP_MS = 24 * HOUR_MS;
/** Soil that takes water up again shows it within a day. */
const SOIL_SHOWS_MS = 24 * HOUR_MS;
const SOIL_LOOKED_AT_MS = 30 * HOUR_MS;
/** Soil that is this much below what it usually holds is dry; at the wick foot for an hour it is not yet. */
const SOIL_DRY = 0.05;
/** A rise of less than this is within the scatter of moisture sensors; guess of ours, no source. */
const SOIL_RISE = 0.02;
/** Meters, cans and levels differ; below this share of what was reported something is wrong. Our judgement, no source. */
const LEAST_SHARE = 0.6;
/** Soil that was dry drinks much of a refill within the hour. */
const LEAST_SHARE_FROM_DRY = 0.3;
/** Standing this close to the invert a reservoir is full, whatever went in. */
const FULL_MARGIN_MM = 6;
const DRY_MARGIN_MM = 4;

/**
 * Judges a reported refill by the level that followed.
 * @returns null while it is too early to say
 */
export function judgeRefill(evidence: RefillEvidence, nowMs: EpochMs): RefillVerdict | null {
  const { happenedMs, lastReadingMs, reportedLitres } = evidence;
  const spoken = lastReadingMs !== null && lastReadingMs >= happenedMs + SETTLES_MS;
  if (!spoken) {
    if (nowMs < happenedMs + GIVE_UP_MS) return null;
    return verdict('no_data', null, { code: 'verify.no_data', params: {} });
  }
  if (evidence.sensorInDoubt) return verdict('no_data', null, { code: 'verify.sensor_in_doubt', params: {} });
  const measuredLitres = evidence.gains.reduce((sum, event) => sum + event.litres, 0);
  const fromDry = startLevelMm(evidence) <= evidence.wickFootMm + DRY_MARGIN_MM;
  const params = { reportedLitres, measuredLitres };
  const full = isFull(evidence);
  const least = (fromDry ? LEAST_SHARE_FROM_DRY : LEAST_SHARE) * (reportedLitres ?? 0);
  const borneOut = full || (measuredLitres > 0 && measuredLitres >= least);
  if (!borneOut) {
    const code = measuredLitres > 0 ? 'verify.contradicted' : 'verify.no_rise';
    return verdict('contradicted', measuredLitres, { code, params });
  }
  const soil = fromDry ? soilRecovered(evidence) : 'not_asked';
  if (soil === 'too_early' && nowMs < happenedMs + SOIL_LOOKED_AT_MS) return null;
  const code =
    reportedLitres === null ? 'verify.confirmed_unreported' : full ? 'verify.confirmed_full' : 'verify.confirmed';
  const confirmed = verdict('confirmed', measuredLitres, { code, params });
  return { ...confirmed, stillDrySoil: soil === 'no' };
}

function verdict(outcome: RefillVerdict['outcome'], measuredLitres: number | null, message: Message): RefillVerdict {
  return { outcome, measuredLitres, message, stillDrySoil: false };
}

function startLevelMm(evidence: RefillEvidence): number {
  const first = evidence.gains[0];
  if (first !== undefined) return first.startLevelMm;
  const before = evidence.readings.filter((one) => one.timeMs < evidence.happenedMs && one.levelMm !== null).at(-1);
  return before?.levelMm ?? Number.POSITIVE_INFINITY;
}

function isFull(evidence: RefillEvidence): boolean {
  if (evidence.gains.some((event) => event.atLeast)) return true;
  const after = evidence.readings.filter(
    (one) =>
      one.levelMm !== null && one.timeMs >= evidence.happenedMs && one.timeMs <= evidence.happenedMs + SETTLES_MS,
  );
  return after.some((one) => one.levelMm !== null && one.levelMm >= evidence.overflowMm - FULL_MARGIN_MM);
}

/** Whether soil that usually holds `usual` is dry at `moisture`, fractions. */
export function isSoilDry(moisture: number | null, usual: number): boolean {
  return moisture !== null && moisture < usual - SOIL_DRY;
}

function soilRecovered(evidence: RefillEvidence): 'yes' | 'no' | 'too_early' | 'not_asked' {
  const withMoisture = evidence.readings.filter((one) => one.moistureFraction !== null);
  const before = withMoisture.filter((one) => one.timeMs < evidence.happenedMs).at(-1);
  if (before === undefined || evidence.usualMoisture === null) return 'not_asked';
  if (!isSoilDry(before.moistureFraction, evidence.usualMoisture)) return 'not_asked';
  const later = withMoisture.filter((one) => one.timeMs > evidence.happenedMs);
  const highest = Math.max(...later.map((one) => one.moistureFraction ?? 0), 0);
  if (highest - (before.moistureFraction ?? 0) >= SOIL_RISE) return 'yes';
  return later.some((one) => one.timeMs >= evidence.happenedMs + SOIL_SHOWS_MS) ? 'no' : 'too_early';
}

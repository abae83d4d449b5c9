import type { EpochMs } from '../domain/ids.js';
import { cumulate, dayEquivalents, PROFILE_BINS, type UseProfile } from './use-profile.js';

/**
 * Learns when in the day a pot draws, by weighing a fixed set of shapes: day users with little, some or much use at
 * night and a wick that lags by 0-9 h, and night users (agaves and many succulents). Each clean day adds to each shape's
 * log-likelihood; the profile is the mean of the shapes by their weights. Old days fade with a memory of three weeks.
 */
export interface ProfileLearning {
  /** Log weight of each shape, the largest 0. */
  readonly logWeights: readonly number[];
  readonly days: number;
}

const NIGHT_SHARES = [0.04, 0.12, 0.25, 0.45] as const;
const LAGS_HOURS = [0, 1.5, 3, 5, 9] as const;
const FADING = 1 - 1 / 21;
/** Readings of one day share the day's clouds: they count as so many independent ones. */
const INDEPENDENT_READINGS = 5;
/** A shape may be off by this share of the day's use at any hour, whatever the noise. */
const SHAPE_ERROR = 0.05;

const SHAPES: readonly UseProfile[] = makeShapes();
const CUMULATED = SHAPES.map(cumulate);

/** Night-time use of 5-15 % of the day's is usual (Caird et al. 2007); night users are few. */
function priorLogWeights(): readonly number[] {
  const weights: number[] = [];
  for (const night of NIGHT_SHARES) {
    for (const lag of LAGS_HOURS) {
      weights.push((night === 0.12 ? 0 : night === 0.45 ? -2 : -0.7) + (lag === 3 ? 0 : lag === 9 ? -1.2 : -0.4));
    }
  }
  for (let i = 0; i < NIGHT_USERS; i++) weights.push(-3);
  return weights;
}

const NIGHT_USERS = 3;
const PRIOR = priorLogWeights();

export const NO_PROFILE: ProfileLearning = { logWeights: PRIOR.map((weight) => weight - Math.max(...PRIOR)), days: 0 };

function makeShapes(): readonly UseProfile[] {
  const shapes: UseProfile[] = [];
  for (const night of NIGHT_SHARES) {
    for (const lag of LAGS_HOURS) shapes.push(mix(night, lagged(dayShape(0), lag)));
  }
  for (const lag of [0, 3, 6]) shapes.push(mix(0.3, lagged(dayShape(12), lag)));
  return shapes;
}

/** The sun's height over a day of about 13 hours, to the power 1.2, shifted by some hours. */
function dayShape(shiftHours: number): UseProfile {
  const shape: number[] = [];
  for (let bin = 0; bin < PROFILE_BINS; bin++) {
    const hour = (bin + 0.5 - shiftHours + 24) % 24;
    const height = Math.cos(((hour - 12) / 13) * Math.PI);
    shape.push(hour > 5.5 && hour < 18.5 ? Math.max(0, height) ** 1.2 : 0);
  }
  return normalise(shape);
}

/** First-order lag, wrapped around the day. */
function lagged(shape: UseProfile, lagHours: number): UseProfile {
  if (lagHours === 0) return shape;
  const keep = Math.exp(-1 / lagHours);
  const out = new Array<number>(PROFILE_BINS).fill(0);
  let carried = 0;
  for (let round = 0; round < 4; round++) {
    for (let bin = 0; bin < PROFILE_BINS; bin++) {
      carried = keep * carried + (1 - keep) * shape[bin]!;
      out[bin] = carried;
    }
  }
  return normalise(out);
}

/** Part of the use spread evenly over the clock, the rest by the shape. */
function mix(evenShare: number, shape: UseProfile): UseProfile {
  return shape.map((share) => evenShare / PROFILE_BINS + (1 - evenShare) * share);
}

function normalise(shape: readonly number[]): UseProfile {
  let sum = 0;
  for (const share of shape) sum += share;
  return shape.map((share) => share / sum);
}

/**
 * Takes the levels of one undisturbed day.
 * @param litres in the reservoir at each time, oldest first
 * @param noiseLitres sd of one value
 */
export function learnProfile(
  learning: ProfileLearning,
  longitudeDeg: number,
  timesMs: readonly EpochMs[],
  litres: readonly number[],
  noiseLitres: number,
): ProfileLearning {
  const count = timesMs.length;
  if (count < 8) return learning;
  const startMs = timesMs[0]!;
  const logWeights: number[] = [];
  let largest = Number.NEGATIVE_INFINITY;
  for (let shape = 0; shape < SHAPES.length; shape++) {
    // Straight-line fit of the litres on the shape's cumulated share: level at the start and the day's use are free.
    let sx = 0;
    let sy = 0;
    let sxx = 0;
    let sxy = 0;
    let syy = 0;
    for (let i = 0; i < count; i++) {
      const x = dayEquivalents(CUMULATED[shape]!, longitudeDeg, startMs, timesMs[i]!);
      const y = litres[i]! - litres[0]!;
      sx += x;
      sy += y;
      sxx += x * x;
      sxy += x * y;
      syy += y * y;
    }
    const cxx = sxx - (sx * sx) / count;
    const cxy = sxy - (sx * sy) / count;
    const cyy = syy - (sy * sy) / count;
    const slope = cxx > 0 ? Math.min(0, cxy / cxx) : 0;
    const residual = Math.max(0, cyy - 2 * slope * cxy + slope * slope * cxx);
    const variance = noiseLitres ** 2 + (SHAPE_ERROR * slope) ** 2;
    const gain = variance > 0 ? (-0.5 * (residual / variance) * INDEPENDENT_READINGS) / count : 0;
    const value = FADING * (learning.logWeights[shape]! - PRIOR[shape]!) + PRIOR[shape]! + gain;
    logWeights.push(value);
    largest = Math.max(largest, value);
  }
  return {
    logWeights: logWeights.map((value) => Math.round(Math.max(-60, value - largest) * 1e4) / 1e4),
    days: learning.days + 1,
  };
}

/** The profile that the weights stand for. */
export function profileOf(learning: ProfileLearning): UseProfile {
  const profile = new Array<number>(PROFILE_BINS).fill(0);
  let sum = 0;
  for (let shape = 0; shape < SHAPES.length; shape++) {
    const weight = Math.exp(learning.logWeights[shape]!);
    sum += weight;
    for (let bin = 0; bin < PROFILE_BINS; bin++) profile[bin] = profile[bin]! + weight * SHAPES[shape]![bin]!;
  }
  return profile.map((share) => Math.round((share / sum) * 1e6) / 1e6);
}

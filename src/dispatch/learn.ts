/** One visit: minutes on site, and what was done there. */
export interface ServiceSample {
  readonly minutes: number;
  readonly pots: number;
  readonly litres: number;
}

/** One drive between two visits, and what the uncalibrated estimate says of it. */
export interface LegSample {
  readonly actualMinutes: number;
  readonly estimatedMinutes: number;
}

export interface Pace {
  readonly minutesPerStop: number;
  readonly minutesPerPot: number;
  readonly pumpLitresPerMinute: number;
}

/** Fewer visits or drives than this say too little. */
export const LEAST_SAMPLES = 30;
/** The pace assumed before counts as much as so many visits: pots and litres hang together too closely to be told apart by few. */
const PRIOR_VISITS = 10;
const ROUNDS = 20;
/** Huber's tuning constant: 95 % efficiency under normal errors (Huber 1981). */
const HUBER = 1.345;
/** Median absolute deviation of a normal distribution. */
const MAD_OF_NORMAL = 0.6745;
const LEAST_SCALE_MINUTES = 0.5;
/** What is outside these bounds is a fault of the records, not of the crew; ours, no source. */
const BOUNDS = {
  minutesPerStop: [1, 45],
  minutesPerPot: [0.5, 25],
  pumpLitresPerMinute: [2, 80],
  travelFactor: [0.5, 2.5],
} as const;

/**
 * Learns the pace of service from visits: minutes = stop + pots * each + litres / pump, by Huber's M-estimate with
 * iterated weights (Huber 1964), drawn towards the pace assumed so far. Single visits that were interrupted or recorded
 * late do not move it.
 * @returns null with fewer than `LEAST_SAMPLES` visits
 */
export function learnPace(samples: readonly ServiceSample[], assumed: Pace): Pace | null {
  const usable = samples.filter((one) => one.minutes > 0 && one.pots > 0 && one.litres >= 0);
  if (usable.length < LEAST_SAMPLES) return null;
  const prior = [assumed.minutesPerStop, assumed.minutesPerPot, 1 / assumed.pumpLitresPerMinute] as const;
  const mean = (value: (one: ServiceSample) => number) =>
    usable.reduce((sum, one) => sum + value(one), 0) / usable.length;
  // The prior weighs each term as visits of the usual size would.
  const strength = [
    1,
    mean((one) => one.pots ** 2),
    Math.max(
      1,
      mean((one) => one.litres ** 2),
    ),
  ] as const;
  let found: readonly number[] = prior;
  for (let round = 0; round < ROUNDS; round++) {
    const residuals = usable.map((one) => one.minutes - minutesOf(found, one));
    const scale = Math.max(LEAST_SCALE_MINUTES, median(residuals.map(Math.abs)) / MAD_OF_NORMAL);
    const weights = residuals.map((one) => Math.min(1, (HUBER * scale) / Math.max(1e-9, Math.abs(one))));
    found = weighted(usable, weights, prior, strength);
  }
  return {
    minutesPerStop: within(BOUNDS.minutesPerStop, found[0]!),
    minutesPerPot: within(BOUNDS.minutesPerPot, found[1]!),
    pumpLitresPerMinute: within(BOUNDS.pumpLitresPerMinute, found[2]! > 0 ? 1 / found[2]! : Number.POSITIVE_INFINITY),
  };
}

/**
 * Actual over estimated driving minutes: the median, which half of the drives may spoil. Very short drives are left out,
 * since parking makes most of them.
 * @returns null with fewer than `LEAST_SAMPLES` drives
 */
export function learnTravelFactor(legs: readonly LegSample[]): number | null {
  const ratios = legs
    .filter((one) => one.estimatedMinutes >= 2 && one.actualMinutes > 0)
    .map((one) => one.actualMinutes / one.estimatedMinutes);
  return ratios.length < LEAST_SAMPLES ? null : within(BOUNDS.travelFactor, median(ratios));
}

function minutesOf(pace: readonly number[], { pots, litres }: ServiceSample): number {
  return pace[0]! + pace[1]! * pots + pace[2]! * litres;
}

/** Weighted least squares with a prior on each term, by the normal equations of three unknowns. */
function weighted(
  samples: readonly ServiceSample[],
  weights: readonly number[],
  prior: readonly number[],
  strength: readonly number[],
): readonly number[] {
  const left = [0, 1, 2].map((i) => [0, 1, 2].map((j) => (i === j ? PRIOR_VISITS * strength[i]! : 0)));
  const right = [0, 1, 2].map((i) => PRIOR_VISITS * strength[i]! * prior[i]!);
  samples.forEach(({ minutes, pots, litres }, k) => {
    const row = [1, pots, litres];
    for (let i = 0; i < 3; i++) {
      right[i] = right[i]! + weights[k]! * row[i]! * minutes;
      for (let j = 0; j < 3; j++) left[i]![j] = left[i]![j]! + weights[k]! * row[i]! * row[j]!;
    }
  });
  // Positive definite through the prior: no pivoting is needed.
  for (let i = 0; i < 3; i++) {
    for (let k = i + 1; k < 3; k++) {
      const share = left[k]![i]! / left[i]![i]!;
      for (let j = i; j < 3; j++) left[k]![j] = left[k]![j]! - share * left[i]![j]!;
      right[k] = right[k]! - share * right[i]!;
    }
  }
  const out = [0, 0, 0];
  for (let i = 2; i >= 0; i--) {
    let value = right[i]!;
    for (let j = i + 1; j < 3; j++) value -= left[i]![j]! * out[j]!;
    out[i] = value / left[i]![i]!;
  }
  return out;
}

export function median(values: readonly number[]): number {
  if (values.length === 0) return 0;
  const sorted = [...values].sort((a, b) => a - b);
  const half = sorted.length >> 1;
  return sorted.length % 2 === 1 ? sorted[half]! : (sorted[half - 1]! + sorted[half]!) / 2;
}

function within([least, most]: readonly [number, number], value: number): number {
  return Math.min(most, Math.max(least, value));
}

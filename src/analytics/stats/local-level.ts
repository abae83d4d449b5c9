/**
 * The local level model: y = level + noise, level a random walk (J. Durbin, S. J. Koopman, Time Series Analysis by State
 * Space Methods, 2nd ed. 2012, chapter 2). Filter, fixed-interval smoother and log-likelihood with a diffuse start: the
 * first value fixes the level and its own likelihood does not count.
 */
export interface LocalLevelParameters {
  /** Variance of the observation noise. */
  readonly noiseVariance: number;
  /** Variance of the level's step. */
  readonly levelVariance: number;
}

export interface FilteredPoint {
  /** Level expected before the observation, and its variance. */
  readonly predicted: number;
  readonly predictedVariance: number;
  /** Observation less expectation, and its variance; null for the diffuse first point. */
  readonly innovation: number | null;
  readonly innovationVariance: number | null;
  readonly filtered: number;
  readonly filteredVariance: number;
}

export interface SmoothedPoint {
  readonly level: number;
  readonly variance: number;
}

export function filterLocalLevel(
  y: readonly number[],
  { noiseVariance, levelVariance }: LocalLevelParameters,
): readonly FilteredPoint[] {
  const points: FilteredPoint[] = [];
  let level = 0;
  let variance = 0;
  for (const [i, value] of y.entries()) {
    if (i === 0) {
      level = value;
      variance = noiseVariance;
      points.push({
        predicted: value,
        predictedVariance: Number.POSITIVE_INFINITY,
        innovation: null,
        innovationVariance: null,
        filtered: level,
        filteredVariance: variance,
      });
      continue;
    }
    const predictedVariance = variance + levelVariance;
    const innovation = value - level;
    const innovationVariance = predictedVariance + noiseVariance;
    const gain = predictedVariance / innovationVariance;
    const predicted = level;
    level += gain * innovation;
    variance = predictedVariance * (1 - gain);
    points.push({
      predicted,
      predictedVariance,
      innovation,
      innovationVariance,
      filtered: level,
      filteredVariance: variance,
    });
  }
  return points;
}

/** Rauch, Tung and Striebel's backward pass. */
export function smoothLocalLevel(
  points: readonly FilteredPoint[],
  { levelVariance }: LocalLevelParameters,
): readonly SmoothedPoint[] {
  const smoothed: SmoothedPoint[] = [];
  let next: SmoothedPoint | null = null;
  for (let i = points.length - 1; i >= 0; i--) {
    const point = points[i]!;
    if (next === null) next = { level: point.filtered, variance: point.filteredVariance };
    else {
      const ahead: number = point.filteredVariance + levelVariance;
      const gain: number = point.filteredVariance / ahead;
      next = {
        level: point.filtered + gain * (next.level - point.filtered),
        variance: point.filteredVariance + gain ** 2 * (next.variance - ahead),
      };
    }
    smoothed.push(next);
  }
  return smoothed.reverse();
}

/**
 * Log-likelihood of all values but the diffuse first.
 * @param countFirstConstant some programs add -1/2 log 2 pi for the first value all the same; compare like with like
 */
export function logLikelihood(points: readonly FilteredPoint[], countFirstConstant = false): number {
  const constant = -0.5 * Math.log(2 * Math.PI);
  let sum = countFirstConstant ? constant : 0;
  for (const { innovation, innovationVariance } of points) {
    if (innovation === null || innovationVariance === null) continue;
    sum += constant - 0.5 * (Math.log(innovationVariance) + innovation ** 2 / innovationVariance);
  }
  return sum;
}

/** Variance of the one-step prediction that the filter settles at. */
export function steadyPredictionVariance({ noiseVariance, levelVariance }: LocalLevelParameters): number {
  return (levelVariance + Math.sqrt(levelVariance ** 2 + 4 * levelVariance * noiseVariance)) / 2;
}

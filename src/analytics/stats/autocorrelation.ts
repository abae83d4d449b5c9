/**
 * Autocorrelation at a lag: sums about the common mean over the whole sum of squares (Box and Jenkins' estimate), so it
 * lies within -1 and 1. Null for too few values or for values that do not vary.
 */
export function autocorrelation(values: readonly number[], lag: number): number | null {
  const n = values.length;
  if (lag < 0 || n <= lag + 1) return null;
  const mean = values.reduce((sum, value) => sum + value, 0) / n;
  let whole = 0;
  let lagged = 0;
  for (let i = 0; i < n; i++) {
    const deviation = values[i]! - mean;
    whole += deviation ** 2;
    if (i >= lag) lagged += deviation * (values[i - lag]! - mean);
  }
  return whole === 0 ? null : lagged / whole;
}

/** Factor on the standard error of a mean of values that follow an AR(1): sqrt((1 + phi)/(1 - phi)). */
export function errorInflation(phi: number): number {
  return Math.sqrt((1 + phi) / (1 - phi));
}

/** Ljung and Box's Q over lags 1..m (G. M. Ljung, G. E. P. Box 1978, Biometrika 65:297-303). */
export function ljungBox(values: readonly number[], lags: number): number | null {
  const n = values.length;
  let sum = 0;
  for (let lag = 1; lag <= lags; lag++) {
    const r = autocorrelation(values, lag);
    if (r === null) return null;
    sum += r ** 2 / (n - lag);
  }
  return n * (n + 2) * sum;
}

/**
 * Changes of the mean: the segmentation with the least sum of squared deviations within segments plus a penalty for
 * each change, exactly. Optimal partitioning (Jackson et al. 2005) with the pruning of PELT (R. Killick, P. Fearnhead,
 * I. A. Eckley 2012, JASA 107:1590-1598), which drops starts that can never win again and changes no result. O(n²) at
 * worst, near O(n) where changes are many.
 * @param penalty in the square of the values' unit; for sd s and n values 2 s² ln n finds changes of more than noise
 * @param leastLength values in a segment, at least 1
 * @returns for each change the number of values before it, rising
 */
export function changePoints(values: readonly number[], penalty: number, leastLength = 1): readonly number[] {
  const n = values.length;
  const sum = new Float64Array(n + 1);
  const square = new Float64Array(n + 1);
  const centre = n === 0 ? 0 : values.reduce((a, b) => a + b, 0) / n;
  for (let i = 0; i < n; i++) {
    const value = values[i]! - centre;
    sum[i + 1] = sum[i]! + value;
    square[i + 1] = square[i]! + value * value;
  }
  const cost = (from: number, to: number): number => {
    const total = sum[to]! - sum[from]!;
    return square[to]! - square[from]! - (total * total) / (to - from);
  };
  const best = new Float64Array(n + 1).fill(Number.POSITIVE_INFINITY);
  const last = new Int32Array(n + 1);
  best[0] = -penalty;
  let starts: number[] = [];
  for (let to = leastLength; to <= n; to++) {
    const newStart = to - leastLength;
    if (newStart === 0 || newStart >= leastLength) starts.push(newStart);
    for (const from of starts) {
      const total = best[from]! + cost(from, to) + penalty;
      if (total < best[to]!) {
        best[to] = total;
        last[to] = from;
      }
    }
    // With a least length the start itself may still be too short now, so a start is dropped one length late.
    if (leastLength === 1) starts = starts.filter((from) => best[from]! + cost(from, to) <= best[to]!);
  }
  const changes: number[] = [];
  for (let to = n; to > 0 && last[to]! > 0; to = last[to]!) changes.push(last[to]!);
  return changes.reverse();
}

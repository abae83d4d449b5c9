import type { Problem } from './problem.js';

/**
 * For each customer the `count` customers with the cheapest leg from or to it, nearest first (granular search, Toth and
 * Vigo 2003). Windows play no part: customers that are close in place and far in time are those that swap tours.
 * @param costsInto the same with row = destination; the same array where it is symmetric
 * @returns customer c's list at [c * count, (c + 1) * count)
 */
export function nearestCustomers(
  problem: Problem,
  costs: Float64Array,
  costsInto: Float64Array,
  count: number,
): Int32Array {
  const { customers, placeCount } = problem;
  const n = customers.length;
  const out = new Int32Array(n * Math.max(0, count));
  if (count <= 0) return out;
  const row = new Float64Array(n);
  const selected = new Float64Array(n);
  const placeOf = Int32Array.from(customers, (one) => one.place);
  for (let c = 0; c < n; c++) {
    const from = placeOf[c]! * placeCount;
    for (let m = 0; m < n; m++) row[m] = Math.min(costs[from + placeOf[m]!]!, costsInto[from + placeOf[m]!]!);
    row[c] = Number.POSITIVE_INFINITY;
    selected.set(row);
    const limit = kthSmallest(selected, count - 1);
    const picked: number[] = [];
    for (let m = 0; m < n && picked.length < count; m++) if (row[m]! < limit) picked.push(m);
    for (let m = 0; m < n && picked.length < count; m++) if (row[m] === limit) picked.push(m);
    picked.sort((a, b) => row[a]! - row[b]! || a - b);
    out.set(picked, c * count);
  }
  return out;
}

/** Quickselect (Hoare 1961); reorders `values`. */
function kthSmallest(values: Float64Array, k: number): number {
  let low = 0;
  let high = values.length - 1;
  while (low < high) {
    const pivot = values[(low + high) >> 1]!;
    let i = low;
    let j = high;
    while (i <= j) {
      while (values[i]! < pivot) i++;
      while (values[j]! > pivot) j--;
      if (i <= j) {
        const swap = values[i]!;
        values[i] = values[j]!;
        values[j] = swap;
        i++;
        j--;
      }
    }
    if (k <= j) high = j;
    else if (k >= i) low = i;
    else break;
  }
  return values[k]!;
}

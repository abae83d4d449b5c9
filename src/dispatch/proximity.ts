import type { Problem, TimeWindow } from './problem.js';

/** Weight of a minute of waiting and of a minute of lateness beside distance (Vidal et al. 2013, section 4.5.1: 0.2 and 1). */
const WAITING_WEIGHT = 0.2;
const LATENESS_WEIGHT = 1;

/**
 * For each customer the `count` customers that most likely stand beside it on a good tour, nearest first: cost of the leg,
 * plus unavoidable waiting and lateness on a day on which both are open (granular search, Toth and Vigo 2003).
 * @returns customer c's list at [c * count, (c + 1) * count)
 */
export function nearestCustomers(problem: Problem, costs: Float64Array, count: number): Int32Array {
  const { customers, placeCount, minutes } = problem;
  const n = customers.length;
  const out = new Int32Array(n * Math.max(0, count));
  if (count <= 0) return out;
  const wide = customers.map((customer) => widest(customer.windows));
  const row = new Float64Array(n);
  for (let c = 0; c < n; c++) {
    const one = customers[c]!;
    for (let m = 0; m < n; m++) {
      const other = customers[m]!;
      const there = one.place * placeCount + other.place;
      const back = other.place * placeCount + one.place;
      let near = Math.min(costs[there]!, costs[back]!);
      if (minutes !== null) {
        near += Math.min(
          timeApart(wide[c]!, wide[m]!, one.serviceMinutes + minutes[there]!),
          timeApart(wide[m]!, wide[c]!, other.serviceMinutes + minutes[back]!),
        );
      }
      row[m] = m === c ? Number.POSITIVE_INFINITY : near;
    }
    const limit = kthSmallest(Float64Array.from(row), count - 1);
    const picked: number[] = [];
    for (let m = 0; m < n && picked.length < count; m++) if (row[m]! < limit) picked.push(m);
    for (let m = 0; m < n && picked.length < count; m++) if (row[m] === limit) picked.push(m);
    picked.sort((a, b) => row[a]! - row[b]! || a - b);
    out.set(picked, c * count);
  }
  return out;
}

/** The span from first opening to last closing on the customer's first open day. */
function widest(windows: readonly (readonly TimeWindow[])[]): TimeWindow {
  const open = windows.find((day) => day.length > 0);
  if (open === undefined) return { fromMinute: 0, toMinute: Number.POSITIVE_INFINITY };
  return { fromMinute: open[0]!.fromMinute, toMinute: open.at(-1)!.toMinute };
}

function timeApart(first: TimeWindow, second: TimeWindow, lagMinutes: number): number {
  const waiting = Math.max(0, second.fromMinute - lagMinutes - first.toMinute);
  const lateness = Math.max(0, first.fromMinute + lagMinutes - second.toMinute);
  return waiting * WAITING_WEIGHT + lateness * LATENESS_WEIGHT;
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

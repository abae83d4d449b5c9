import type { RawInstance, RawInventory, RawRouting } from './raw-instance.js';

/** A plan in the file's own terms: days, vehicles, stops [node, amount]. */
export type FilePlan = readonly (readonly (readonly (readonly [node: number, amount: number])[])[])[];

export interface Checked {
  /** Recomputed from the file; excludes the holding cost of the initial stock. */
  readonly cost: number;
  /** What the plan breaks; empty where it is feasible. */
  readonly faults: readonly string[];
}

/**
 * Recomputes a plan's cost and looks for anything it breaks, from the file alone. Shares no code with the planner nor with
 * the adapter that poses the file to it, so that a mistake there cannot hide here.
 */
export function checkPlan(raw: RawInstance, plan: FilePlan): Checked {
  return raw.form === 'routing' ? checkRouting(raw, plan[0] ?? []) : checkInventory(raw, plan);
}

function between(raw: RawRouting, a: number, b: number): number {
  if (raw.matrix !== null) return raw.matrix[a * raw.demands.length + b]!;
  const dx = raw.points[a]![0] - raw.points[b]![0];
  const dy = raw.points[a]![1] - raw.points[b]![1];
  if (raw.rule === 'truncate-1') return Math.trunc(Math.sqrt(dx * dx + dy * dy) * 10) / 10;
  if (raw.rule === 'nearest') return Math.round(Math.sqrt(dx * dx + dy * dy));
  if (raw.rule === 'att') {
    const exact = Math.sqrt((dx * dx + dy * dy) / 10);
    const near = Math.round(exact);
    return near < exact ? near + 1 : near;
  }
  if (a === b) return 0;
  const angle = (value: number) => {
    const whole = Math.trunc(value);
    return ((whole + ((value - whole) * 5) / 3) * (3_141_592 / 1e6)) / 180;
  };
  const [latA, lonA, latB, lonB] = [...raw.points[a]!, ...raw.points[b]!].map(angle) as [
    number,
    number,
    number,
    number,
  ];
  const c = Math.cos(lonA - lonB);
  return Math.trunc(6378.388 * Math.acos(((1 + c) * Math.cos(latA - latB) - (1 - c) * Math.cos(latA + latB)) / 2) + 1);
}

type Stops = readonly (readonly [node: number, amount: number])[];

function checkRouting(raw: RawRouting, tours: readonly Stops[]): Checked {
  const faults: string[] = [];
  const seen = new Map<number, number>();
  let cost = 0;
  if (tours.length > raw.vehicles) faults.push(`${tours.length} vehicles, ${raw.vehicles} there are`);
  for (const [number, stops] of tours.entries()) {
    let load = 0;
    let at = 0;
    let time = 0;
    for (const [node] of [...stops, [0, 0] as const]) {
      const leg = between(raw, at, node);
      cost += leg;
      time += (raw.serviceTimes?.[at] ?? 0) + leg;
      const window = raw.windows?.[node];
      if (window !== undefined) {
        if (time > window[1] + 1e-6)
          faults.push(`tour ${number} reaches ${node} at ${time.toFixed(1)}, closed from ${window[1]}`);
        time = Math.max(time, window[0]);
      }
      if (node !== 0) {
        load += raw.demands[node]!;
        seen.set(node, (seen.get(node) ?? 0) + 1);
      }
      at = node;
    }
    if (load > raw.capacity) faults.push(`tour ${number} carries ${load}, holds ${raw.capacity}`);
  }
  for (let node = 1; node < raw.demands.length; node++) {
    if (seen.get(node) !== 1) faults.push(`customer ${node} is visited ${seen.get(node) ?? 0} times`);
  }
  return { cost: Math.round(cost * 1e4) / 1e4, faults };
}

function checkInventory(raw: RawInventory, plan: FilePlan): Checked {
  const faults: string[] = [];
  const places = [raw.supplier, ...raw.customers];
  const level = raw.customers.map((one) => one.initial);
  let supplier = raw.supplier.initial;
  let cost = 0;
  if (plan.length > raw.days) faults.push(`${plan.length} days, the horizon has ${raw.days}`);
  for (let day = 0; day < raw.days; day++) {
    supplier += raw.supplier.produced;
    const tours = plan[day] ?? [];
    if (tours.length > raw.vehicles) faults.push(`day ${day}: ${tours.length} vehicles, ${raw.vehicles} there are`);
    const visited = new Set<number>();
    for (const stops of tours) {
      let load = 0;
      let at = 0;
      for (const [node, amount] of [...stops, [0, 0] as const]) {
        const dx = places[at]!.x - places[node]!.x;
        const dy = places[at]!.y - places[node]!.y;
        cost += Math.round(Math.sqrt(dx * dx + dy * dy));
        at = node;
        if (node === 0) continue;
        if (visited.has(node)) faults.push(`day ${day}: customer ${node} is visited twice`);
        visited.add(node);
        const customer = raw.customers[node - 1]!;
        level[node - 1] = level[node - 1]! + amount;
        load += amount;
        supplier -= amount;
        if (amount < 0) faults.push(`day ${day}: ${amount} to customer ${node}`);
        if (level[node - 1]! > customer.capacity + 1e-9) faults.push(`day ${day}: customer ${node} overfilled`);
        if (raw.policy === 'OU' && level[node - 1]! < customer.capacity)
          faults.push(`day ${day}: customer ${node} not filled`);
      }
      if (load > raw.capacity + 1e-9) faults.push(`day ${day}: a vehicle carries ${load}, holds ${raw.capacity}`);
    }
    if (supplier < -1e-9) faults.push(`day ${day}: the supplier is short by ${-supplier}`);
    cost += supplier * raw.supplier.holding;
    for (const [k, customer] of raw.customers.entries()) {
      level[k] = level[k]! - customer.used;
      if (level[k]! < -1e-9) faults.push(`day ${day}: customer ${k + 1} is short by ${-level[k]!}`);
      cost += level[k]! * customer.holding;
    }
  }
  return { cost: Math.round(cost * 1e4) / 1e4, faults };
}

import { readFileSync } from 'node:fs';
import { basename } from 'node:path';
import type { LegRule, RawInstance, RawInventory, RawRouting } from './raw-instance.js';

/** Reads a benchmark file by its ending and its own headings. @throws Error that names the file and what it lacks */
export function readInstance(path: string, policy: 'ML' | 'OU'): RawInstance {
  const text = readFileSync(path, 'utf8');
  const name = basename(path).replace(/\.\w+$/, '');
  if (path.endsWith('.dat')) return readArchetti(path, text, name, policy);
  if (path.endsWith('.txt')) return readSolomon(path, text, name);
  if (path.endsWith('.vrp') || path.endsWith('.tsp')) return readSections(path, text, name);
  throw new Error(`${path}: not a benchmark file. Known are .txt (Solomon), .vrp, .tsp and .dat (Archetti).`);
}

function numbers(line: string): number[] {
  return line
    .trim()
    .split(/\s+/)
    .filter((word) => word !== '')
    .map(Number);
}

/** Solomon's and Gehring and Homberger's own layout: VEHICLE and CUSTOMER tables. */
function readSolomon(path: string, text: string, name: string): RawRouting {
  const rows = text
    .split('\n')
    .map(numbers)
    .filter((row) => row.length > 0 && row.every(Number.isFinite));
  const head = rows.find((row) => row.length === 2);
  const nodes = rows.filter((row) => row.length === 7);
  if (head === undefined || nodes.length < 2)
    throw new Error(`${path}: no VEHICLE and CUSTOMER tables of Solomon's form.`);
  return {
    form: 'routing',
    name,
    kind: 'vrptw',
    rule: 'truncate-1',
    points: nodes.map((row) => [row[1]!, row[2]!] as const),
    matrix: null,
    vehicles: head[0]!,
    capacity: head[1]!,
    demands: nodes.map((row) => row[3]!),
    windows: nodes.map((row) => [row[4]!, row[5]!] as const),
    serviceTimes: nodes.map((row) => row[6]!),
  };
}

const LEG_RULES: Readonly<Record<string, LegRule>> = { EUC_2D: 'nearest', ATT: 'att', GEO: 'geo', EXPLICIT: 'matrix' };

/** TSPLIB's layout (Reinelt 1995) and what CVRPLIB adds to it. */
function readSections(path: string, text: string, name: string): RawRouting {
  const fields = new Map<string, string>();
  const sections = new Map<string, number[][]>();
  let open: number[][] | null = null;
  for (const line of text.split('\n')) {
    const heading = /^\s*([A-Z_0-9]+)\s*:\s*(.*?)\s*$/.exec(line);
    const section = /^\s*([A-Z_]+_SECTION)\s*$/.exec(line);
    if (section !== null) {
      open = [];
      sections.set(section[1]!, open);
    } else if (heading !== null) fields.set(heading[1]!, heading[2]!);
    else if (open !== null && /^[\s\d.eE+-]+$/.test(line) && line.trim() !== '') open.push(numbers(line));
  }
  const size = Number(fields.get('DIMENSION'));
  const rule = LEG_RULES[fields.get('EDGE_WEIGHT_TYPE') ?? ''];
  if (!Number.isInteger(size) || rule === undefined) {
    throw new Error(
      `${path}: DIMENSION or EDGE_WEIGHT_TYPE is missing or unknown (${fields.get('EDGE_WEIGHT_TYPE')}).`,
    );
  }
  const windows = sections.get('TIME_WINDOW_SECTION');
  const demands = sections.get('DEMAND_SECTION');
  const timed = windows !== undefined;
  const service = Number(fields.get('SERVICE_TIME') ?? 0);
  return {
    form: 'routing',
    name,
    kind: timed ? 'vrptw' : demands === undefined ? 'tsp' : 'cvrp',
    rule: timed ? 'truncate-1' : rule,
    points: (sections.get('NODE_COORD_SECTION') ?? []).map((row) => [row[1]!, row[2]!] as const),
    matrix:
      rule === 'matrix' ? fullMatrix(path, fields, (sections.get('EDGE_WEIGHT_SECTION') ?? []).flat(), size) : null,
    vehicles: demands === undefined ? 1 : Number(fields.get('VEHICLES') ?? size - 1),
    capacity: demands === undefined ? Number.POSITIVE_INFINITY : Number(fields.get('CAPACITY')),
    demands: demands?.map((row) => row[1]!) ?? new Array<number>(size).fill(0),
    windows: windows?.map((row) => [row[1]!, row[2]!] as const) ?? null,
    serviceTimes: timed ? Array.from({ length: size }, (_, k) => (k === 0 ? 0 : service)) : null,
  };
}

function fullMatrix(
  path: string,
  fields: ReadonlyMap<string, string>,
  values: readonly number[],
  size: number,
): number[] {
  const format = fields.get('EDGE_WEIGHT_FORMAT') ?? '';
  if (format === 'FULL_MATRIX') return [...values];
  if (format !== 'LOWER_DIAG_ROW' && format !== 'LOWER_ROW') {
    throw new Error(`${path}: EDGE_WEIGHT_FORMAT ${format} is not read.`);
  }
  const diagonal = format === 'LOWER_DIAG_ROW' ? 1 : 0;
  const out = new Array<number>(size * size).fill(0);
  let at = 0;
  for (let i = 0; i < size; i++) {
    for (let j = 0; j < i + diagonal; j++, at++) {
      out[i * size + j] = values[at]!;
      out[j * size + i] = values[at]!;
    }
  }
  return out;
}

/** `n days capacity`, then the supplier, then a line a customer. The number of vehicles stands in the file's name. */
function readArchetti(path: string, text: string, name: string, policy: 'ML' | 'OU'): RawInventory {
  const rows = text
    .split('\n')
    .map(numbers)
    .filter((row) => row.length > 0);
  const [size, days, capacity] = rows[0] ?? [];
  const supplier = rows[1];
  const customers = rows.slice(2);
  if (size === undefined || days === undefined || capacity === undefined || supplier?.length !== 6) {
    throw new Error(`${path}: not of Archetti's form (first line: nodes, days, capacity; then the supplier).`);
  }
  if (customers.length !== size - 1)
    throw new Error(`${path}: ${size - 1} customers announced, ${customers.length} there.`);
  const vehicles = Number(/_K(\d+)$/.exec(name)?.[1] ?? 1);
  return {
    form: 'inventory',
    name,
    kind: vehicles === 1 ? 'irp-single' : days <= 3 ? 'irp-h3' : 'irp-h6',
    days,
    vehicles,
    capacity,
    policy,
    supplier: {
      x: supplier[1]!,
      y: supplier[2]!,
      initial: supplier[3]!,
      produced: supplier[4]!,
      holding: supplier[5]!,
    },
    customers: customers.map((row) => ({
      x: row[1]!,
      y: row[2]!,
      initial: row[3]!,
      capacity: row[4]!,
      used: row[6]!,
      holding: row[7]!,
    })),
  };
}

import type { z } from 'zod';
import type { InputFault } from '../../domain/errors.js';
import type { Account, Depot, Truck } from '../../domain/registry.js';
import { shown } from '../../domain/senml/shown.js';
import {
  accountSchema,
  assignmentSchema,
  depotSchema,
  fleetContainerSchema,
  fleetGatewaySchema,
  fleetNodeSchema,
  fleetPersonSchema,
  fleetPlantSchema,
  type SiteEntry,
  siteSchema,
  truckSchema,
} from './import-fleet-schema.js';

/** An entry together with its place in the file. */
export interface Placed<Row> {
  /** JSON pointer, for instance `/containers/3`. */
  readonly pointer: string;
  readonly row: Row;
}

export interface ParsedFleet {
  readonly accounts: readonly Placed<Account>[];
  readonly sites: readonly Placed<SiteEntry>[];
  readonly containers: readonly Placed<z.output<typeof fleetContainerSchema>>[];
  readonly gateways: readonly Placed<z.output<typeof fleetGatewaySchema>>[];
  readonly nodes: readonly Placed<z.output<typeof fleetNodeSchema>>[];
  readonly assignments: readonly Placed<z.output<typeof assignmentSchema>>[];
  readonly depots: readonly Placed<Depot>[];
  readonly trucks: readonly Placed<Truck>[];
  readonly people: readonly Placed<z.output<typeof fleetPersonSchema>>[];
  readonly plants: readonly Placed<z.output<typeof fleetPlantSchema>>[];
  /** Ids that some entry claims, also where the rest of the entry is faulty: references to it are not a second fault. */
  readonly claimedIds: ReadonlyMap<string, ReadonlySet<string>>;
  readonly faults: readonly InputFault[];
  /** What was passed over or assumed, for the person to know. */
  readonly notes: readonly string[];
}

const LISTS = [
  'accounts',
  'sites',
  'containers',
  'gateways',
  'nodes',
  'assignments',
  'depots',
  'trucks',
  'people',
  'plants',
] as const;

type ListName = (typeof LISTS)[number];

/** Lists whose entries may do without a name and are then called by their id. */
const NAMED_BY_ID: ReadonlySet<ListName> = new Set<ListName>([
  'accounts',
  'sites',
  'containers',
  'depots',
  'trucks',
  'people',
]);

/** More unknown fields than this are summed up. */
const MAX_NOTES = 20;

/**
 * Reads the entries of a fleet file one by one, so that all faults come out at once; what joins entries is left to the
 * caller. Unknown fields are passed over and noted.
 */
export function parseFleet(file: unknown): ParsedFleet {
  const faults: InputFault[] = [];
  const notes = new Notes();
  const root = isObject(file) ? file : {};
  if (!isObject(file)) {
    faults.push({ pointer: '', detail: `the file is ${shown(file)}; an object with accounts, sites, … was expected` });
  }
  for (const key of Object.keys(root)) {
    if (!(LISTS as readonly string[]).includes(key))
      notes.add(`/${key} is not part of a fleet file and was passed over`);
  }
  const claimedIds = new Map<string, Set<string>>();
  const read = <Schema extends z.ZodType>(name: ListName, schema: Schema): Placed<z.output<Schema>>[] =>
    readList(name, root[name], schema, { faults, notes, claimed: claimedSet(claimedIds, name) });
  const parsed = {
    accounts: read('accounts', accountSchema),
    sites: read('sites', siteSchema),
    containers: read('containers', fleetContainerSchema),
    gateways: read('gateways', fleetGatewaySchema),
    nodes: read('nodes', fleetNodeSchema),
    assignments: read('assignments', assignmentSchema),
    depots: read('depots', depotSchema),
    trucks: read('trucks', truckSchema),
    people: read('people', fleetPersonSchema),
    plants: read('plants', fleetPlantSchema),
  };
  return { ...parsed, claimedIds, faults, notes: notes.lines() };
}

interface Findings {
  readonly faults: InputFault[];
  readonly notes: Notes;
  readonly claimed: Set<string>;
}

function readList<Schema extends z.ZodType>(
  name: ListName,
  list: unknown,
  schema: Schema,
  { faults, notes, claimed }: Findings,
): Placed<z.output<Schema>>[] {
  if (list === undefined || list === null) return [];
  if (!Array.isArray(list)) {
    faults.push({ pointer: `/${name}`, detail: `is ${shown(list)}; an array was expected` });
    return [];
  }
  const rows: Placed<z.output<Schema>>[] = [];
  for (const [index, entry] of list.entries()) {
    const pointer = `/${name}/${index}`;
    const raw = withDefaults(name, entry, pointer, notes);
    if (isObject(raw) && typeof raw.id === 'string') {
      if (claimed.has(raw.id))
        faults.push({ pointer: `${pointer}/id`, detail: `the id ${shown(raw.id)} stands twice` });
      claimed.add(raw.id);
    }
    const result = schema.safeParse(raw);
    if (result.success) {
      rows.push({ pointer, row: result.data });
      noteUnknown(raw, result.data, pointer, notes);
      continue;
    }
    for (const issue of result.error.issues) {
      const path = issue.path.map((part) => String(part).replaceAll('~', '~0').replaceAll('/', '~1'));
      faults.push({ pointer: [pointer, ...path].join('/'), detail: issue.message });
    }
  }
  return rows;
}

function withDefaults(name: ListName, entry: unknown, pointer: string, notes: Notes): unknown {
  if (!isObject(entry)) return entry;
  let filled = entry;
  if (NAMED_BY_ID.has(name) && filled.name === undefined && filled.id !== undefined)
    filled = { ...filled, name: filled.id };
  if (name === 'sites' && filled.elevationM === undefined) {
    filled = { ...filled, elevationM: 0 };
    notes.add(
      `${pointer}/elevationM is missing; 0 m is assumed, which shifts evapotranspiration by about 1 % per 300 m`,
    );
  }
  return filled;
}

function noteUnknown(raw: unknown, parsed: unknown, pointer: string, notes: Notes): void {
  if (Array.isArray(raw) && Array.isArray(parsed)) {
    for (const [index, element] of raw.entries()) noteUnknown(element, parsed[index], `${pointer}/${index}`, notes);
  } else if (isObject(raw) && isObject(parsed)) {
    for (const [key, value] of Object.entries(raw)) {
      if (Object.hasOwn(parsed, key)) noteUnknown(value, parsed[key], `${pointer}/${key}`, notes);
      else notes.add(`${pointer}/${key} is not known and was passed over`);
    }
  }
}

function claimedSet(claimedIds: Map<string, Set<string>>, name: ListName): Set<string> {
  const set = new Set<string>();
  claimedIds.set(name, set);
  return set;
}

function isObject(value: unknown): value is Record<string, unknown> {
  return typeof value === 'object' && value !== null && !Array.isArray(value);
}

class Notes {
  readonly #lines: string[] = [];
  #more = 0;

  add(line: string): void {
    if (this.#lines.length < MAX_NOTES) this.#lines.push(line);
    else this.#more += 1;
  }

  lines(): readonly string[] {
    return this.#more === 0 ? this.#lines : [...this.#lines, `and ${this.#more} more of the same`];
  }
}

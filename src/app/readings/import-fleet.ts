import { createHash } from 'node:crypto';
import type { Write } from '../../domain/change-set.js';
import { DomainError, type InputFault } from '../../domain/errors.js';
import type { ContainerId, EpochMs, NodeId, SiteId } from '../../domain/ids.js';
import { LocalDays } from '../../domain/local-day.js';
import type { Assignment, Container, Fleet, Gateway, Person, SensorNode } from '../../domain/registry.js';
import type { SiteAccess } from '../../domain/site-access.js';
import type { App } from '../context.js';
import { normaliseLogin } from '../people/people.js';
import { type ParsedFleet, type Placed, parseFleet } from './import-fleet-parse.js';

export interface FleetSummary {
  /** Entries of the file by list, with nodes, gateways and assignments that follow from others. */
  readonly counts: Readonly<Record<string, number>>;
  /** What was passed over or assumed, for the person to know. */
  readonly notes: readonly string[];
}

/**
 * Imports a fleet file: everything or, where anything is faulty, nothing. Entries replace those of the same id; what
 * the file does not mention stays. Importing the same file again changes nothing.
 *
 * @param name what the file is called in messages
 * @throws DomainError `fleet_invalid` with all faults and their JSON pointers; `file_unreadable` where it is not JSON
 */
export async function importFleet(app: App, name: string, bytes: Uint8Array): Promise<FleetSummary> {
  const { fleet, access, notes } = readFleetFile(name, bytes, await app.store.registry.fleet());
  const writes = [...fleetWrites(fleet), ...access.map((row): Write => ({ kind: 'site_access', row }))];
  if (writes.length > 0) {
    const actor = { kind: 'command', id: 'import' } as const;
    await app.store.commit({ atMs: app.clock.nowMs(), actor, writes, cursor: null });
  }
  const counts = Object.fromEntries(Object.entries(fleet).map(([list, rows]) => [list, rows.length]));
  return { counts, notes };
}

/**
 * Reads a fleet file and joins it with what is known already, without writing anything.
 * @throws DomainError `fleet_invalid` with all faults and their JSON pointers; `file_unreadable` where it is not JSON
 */
export function readFleetFile(
  name: string,
  bytes: Uint8Array,
  known: Fleet,
): { readonly fleet: Fleet; readonly access: readonly SiteAccess[]; readonly notes: readonly string[] } {
  const { faults, fleet, access, notes } = joinFleet(parseFleet(parseJson(name, bytes)), known);
  if (faults.length > 0) throw fleetInvalid(name, faults);
  return { fleet, access, notes };
}

function parseJson(name: string, bytes: Uint8Array): unknown {
  let text: string;
  try {
    text = new TextDecoder('utf-8', { fatal: true }).decode(bytes);
  } catch (cause) {
    throw new DomainError('file_unreadable', `${name} is not valid UTF-8; save it as UTF-8.`, { cause });
  }
  try {
    return JSON.parse(text);
  } catch (cause) {
    const reason = cause instanceof Error ? cause.message : String(cause);
    throw new DomainError('file_unreadable', `${name} is not JSON: ${reason}.`, { cause });
  }
}

function fleetInvalid(name: string, faults: readonly InputFault[]): DomainError {
  const count = faults.length === 1 ? '1 fault' : `${faults.length} faults`;
  return new DomainError(
    'fleet_invalid',
    `${name} has ${count}; nothing was imported. Mend them and import it again.`,
    {
      faults,
    },
  );
}

/**
 * Joins the entries of a file with each other and with what is known already: references, double logins, assignments
 * from the short form, nodes and gateways that are only mentioned.
 */
export function joinFleet(
  parsed: ParsedFleet,
  known: Fleet,
): {
  readonly fleet: Fleet;
  /** How to get into sites, where the file says so. */
  readonly access: readonly SiteAccess[];
  readonly faults: readonly InputFault[];
  readonly notes: readonly string[];
} {
  const faults = [...parsed.faults];
  const notes = [...parsed.notes];
  const references = new References(parsed, known, faults);
  for (const { pointer, row } of parsed.sites) references.check('accounts', row.accountId, `${pointer}/accountId`);
  for (const { pointer, row } of parsed.trucks) references.check('depots', row.depotId, `${pointer}/depotId`);
  for (const { pointer, row } of parsed.people) references.check('accounts', row.accountId, `${pointer}/accountId`);
  for (const { pointer, row } of parsed.gateways) references.check('sites', row.siteId, `${pointer}/siteId`);

  const containers = joinContainers(parsed, references, notes, faults);
  const assignments = joinAssignments(parsed, known, references, faults);
  const gateways = joinGateways(parsed, known, assignments.placed, containers, faults);
  const fleet: Fleet = {
    accounts: parsed.accounts.map(({ row }) => row),
    sites: parsed.sites.map(({ row: { accessNotes: _notes, contacts: _contacts, ...site } }) => site),
    containers,
    gateways: gateways.gateways,
    nodes: joinNodes(parsed, known, assignments.rows, gateways.ofNode),
    assignments: assignments.rows,
    depots: parsed.depots.map(({ row }) => row),
    trucks: parsed.trucks.map(({ row }) => row),
    people: joinPeople(parsed, known, faults),
  };
  const access = parsed.sites
    .map(({ row }): SiteAccess => ({ siteId: row.id, notes: row.accessNotes, contacts: row.contacts }))
    .filter(({ notes: how, contacts }) => how !== null || contacts.length > 0);
  return { fleet, access, faults, notes };
}

/** Which ids there are, in the file (also in its faulty entries) or in the store. */
class References {
  readonly #ids = new Map<string, Set<string>>();
  readonly #faults: InputFault[];

  constructor(parsed: ParsedFleet, known: Fleet, faults: InputFault[]) {
    this.#faults = faults;
    for (const list of ['accounts', 'sites', 'containers', 'depots'] as const) {
      const ids = new Set(known[list].map((row) => row.id));
      for (const id of parsed.claimedIds.get(list) ?? []) ids.add(id);
      this.#ids.set(list, ids);
    }
  }

  check(list: 'accounts' | 'sites' | 'containers' | 'depots', id: string | null, pointer: string): void {
    if (id === null || this.#ids.get(list)?.has(id) === true) return;
    this.#faults.push({ pointer, detail: `“${id}” is not among the ${list} of the file or the store` });
  }
}

function joinContainers(
  parsed: ParsedFleet,
  references: References,
  notes: string[],
  faults: InputFault[],
): readonly Container[] {
  const plantsOf = new Map<ContainerId, Container['plants']>();
  for (const { pointer, row } of parsed.plants) {
    references.check('containers', row.containerId, `${pointer}/containerId`);
    const { containerId, ...plant } = row;
    if (parsed.claimedIds.get('containers')?.has(containerId) !== true) {
      faults.push({
        pointer: `${pointer}/containerId`,
        detail: `plants come with their container; “${containerId}” is not in this file`,
      });
    }
    plantsOf.set(containerId, [...(plantsOf.get(containerId) ?? []), plant]);
  }
  return parsed.containers.map(({ pointer, row }) => {
    references.check('sites', row.siteId, `${pointer}/siteId`);
    const { nodeId: _node, gatewayId: _gateway, ...container } = row;
    const lastMm = container.reservoir.strapping.at(-1)?.[0] ?? 0;
    if (container.reservoir.overflowMm > lastMm) {
      notes.push(
        `${pointer}/reservoir: the strapping table ends at ${lastMm} mm, below the overflow at ${container.reservoir.overflowMm} mm; litres above it are a guess`,
      );
    }
    return { ...container, plants: [...container.plants, ...(plantsOf.get(container.id) ?? [])] };
  });
}

interface PlacedAssignment extends Placed<Assignment> {
  readonly gatewayId: string | null;
}

/** Assignments as written, then those of the short form. */
function joinAssignments(
  parsed: ParsedFleet,
  known: Fleet,
  references: References,
  faults: InputFault[],
): { readonly rows: readonly Assignment[]; readonly placed: readonly PlacedAssignment[] } {
  const explicit = parsed.assignments.map(({ pointer, row }): PlacedAssignment => {
    references.check('containers', row.containerId, `${pointer}/containerId`);
    const start = new Date(row.from).toISOString().replaceAll(/[-:]|\.\d+/g, '');
    const id = row.id ?? shortId(`${row.containerId}-${row.nodeId}-${start}`);
    const { nodeId, containerId, zeroMm } = row;
    return {
      pointer,
      row: { id, nodeId, containerId, fromMs: row.from, toMs: row.to, zeroMm },
      gatewayId: row.gatewayId,
    };
  });
  const zoneOf = zones(parsed, known);
  const short = parsed.containers.flatMap((container) => shortForm(container, explicit, zoneOf));
  const placed = [...explicit, ...short];
  faults.push(...overlapFaults(placed, known));
  return { rows: placed.map(({ row }) => row), placed };
}

/**
 * The assignment that `nodeId` on a container is short for: from the start of the installation day in the site's zone
 * until an assignment in the file puts that node elsewhere or another node on that container.
 */
function shortForm(
  { pointer, row: container }: ParsedFleet['containers'][number],
  explicit: readonly PlacedAssignment[],
  zoneOf: ReadonlyMap<SiteId, string>,
): PlacedAssignment[] {
  const timeZone = zoneOf.get(container.siteId);
  if (container.nodeId === null || timeZone === undefined) return [];
  const { nodeId } = container;
  const fromMs = new LocalDays(timeZone).startMs(container.installedOn);
  const related = explicit.filter(({ row }) => row.nodeId === nodeId || row.containerId === container.id);
  const saysTheSame = related.some(
    ({ row }) => row.nodeId === nodeId && row.containerId === container.id && row.fromMs <= fromMs,
  );
  if (saysTheSame) return [];
  const later = related.map(({ row }) => row.fromMs).filter((ms) => ms > fromMs);
  const row: Assignment = {
    id: shortId(`${container.id}-${nodeId}`),
    nodeId,
    containerId: container.id,
    fromMs,
    toMs: later.length === 0 ? null : Math.min(...later),
    zeroMm: 0,
  };
  return [{ pointer: `${pointer}/nodeId`, row, gatewayId: container.gatewayId }];
}

function zones(parsed: ParsedFleet, known: Fleet): Map<SiteId, string> {
  return new Map([...known.sites, ...parsed.sites.map(({ row }) => row)].map((site) => [site.id, site.timeZone]));
}

/** An id of the allowed length; a long one keeps its beginning and ends in a digest of the whole. */
function shortId(text: string): string {
  if (text.length <= 64) return text;
  return `${text.slice(0, 47)}-${createHash('sha256').update(text).digest('hex').slice(0, 16)}`;
}

/** A node measures one container at a time; checked over the file and what the store keeps beside it. */
function overlapFaults(placed: readonly PlacedAssignment[], known: Fleet): InputFault[] {
  const replaced = new Set(placed.map(({ row }) => row.id));
  const kept = known.assignments.filter((row) => !replaced.has(row.id)).map((row) => ({ pointer: null, row }));
  const byNode = new Map<NodeId, { readonly pointer: string | null; readonly row: Assignment }[]>();
  for (const entry of [...kept, ...placed]) {
    byNode.set(entry.row.nodeId, [...(byNode.get(entry.row.nodeId) ?? []), entry]);
  }
  const faults: InputFault[] = [];
  for (const [nodeId, entries] of byNode) {
    const inOrder = entries.sort((a, b) => a.row.fromMs - b.row.fromMs);
    for (let i = 1; i < inOrder.length; i++) {
      const before = inOrder[i - 1];
      const after = inOrder[i];
      if (before === undefined || after === undefined || endMs(before.row) <= after.row.fromMs) continue;
      const pointer = after.pointer ?? before.pointer;
      // Two that stood in the store already are not this file's fault, and cannot be: the store refuses them.
      if (pointer === null) continue;
      const at = new Date(after.row.fromMs).toISOString();
      faults.push({
        pointer,
        detail: `node ${nodeId} would be on ${before.row.containerId} and ${after.row.containerId} at once from ${at}; end one assignment before the other begins`,
      });
    }
  }
  return faults;
}

const endMs = (row: Assignment): EpochMs => row.toMs ?? Number.POSITIVE_INFINITY;

function joinGateways(
  parsed: ParsedFleet,
  known: Fleet,
  assignments: readonly PlacedAssignment[],
  containers: readonly Container[],
  faults: InputFault[],
): { readonly gateways: readonly Gateway[]; readonly ofNode: ReadonlyMap<NodeId, string> } {
  const gateways = new Map<string, Gateway>();
  const ofNode = new Map<NodeId, string>();
  for (const { row } of parsed.gateways) {
    gateways.set(row.id, { id: row.id, siteId: row.siteId, name: row.name ?? row.id });
    for (const nodeId of row.nodeIds) ofNode.set(nodeId, row.id);
  }
  const knownIds = new Set([...known.gateways.map((row) => row.id), ...(parsed.claimedIds.get('gateways') ?? [])]);
  const siteOf = new Map([...known.containers, ...containers].map((row) => [row.id, row.siteId]));
  for (const { gatewayId, row } of assignments) {
    if (gatewayId === null) continue;
    ofNode.set(row.nodeId, gatewayId);
    const siteId = siteOf.get(row.containerId);
    if (!knownIds.has(gatewayId) && siteId !== undefined)
      gateways.set(gatewayId, { id: gatewayId, siteId, name: gatewayId });
  }
  for (const { pointer, row } of parsed.nodes) {
    if (row.gatewayId === null) continue;
    ofNode.set(row.id, row.gatewayId);
    if (!knownIds.has(row.gatewayId) && !gateways.has(row.gatewayId)) {
      faults.push({
        pointer: `${pointer}/gatewayId`,
        detail: `“${row.gatewayId}” is not among the gateways of the file or the store`,
      });
    }
  }
  return { gateways: [...gateways.values()], ofNode };
}

/** Nodes in the list, in gateways and in assignments; what the store knows of them stays where the file is silent. */
function joinNodes(
  parsed: ParsedFleet,
  known: Fleet,
  assignments: readonly Assignment[],
  gatewayOf: ReadonlyMap<NodeId, string>,
): readonly SensorNode[] {
  const before = new Map(known.nodes.map((node) => [node.id, node]));
  const promised = new Map(parsed.nodes.map(({ row }) => [row.id, row.promisedIntervalS]));
  const ids = new Set([...promised.keys(), ...gatewayOf.keys(), ...assignments.map((row) => row.nodeId)]);
  return [...ids].map((id) => ({
    id,
    gatewayId: gatewayOf.get(id) ?? before.get(id)?.gatewayId ?? null,
    promisedIntervalS: promised.get(id) ?? before.get(id)?.promisedIntervalS ?? null,
  }));
}

function joinPeople(parsed: ParsedFleet, known: Fleet, faults: InputFault[]): readonly Person[] {
  const before = new Map(known.people.map((person) => [person.id, person]));
  const inFile = new Set(parsed.people.map(({ row }) => row.id));
  const logins = new Map(
    known.people.filter((person) => !inFile.has(person.id)).map((person) => [person.login, person.id]),
  );
  return parsed.people.map(({ pointer, row }) => {
    const login = normaliseLogin(row.login ?? before.get(row.id)?.login ?? row.id);
    const other = logins.get(login);
    if (other !== undefined)
      faults.push({ pointer: `${pointer}/login`, detail: `“${login}” is the login of ${other} already` });
    logins.set(login, row.id);
    if ((row.role === 'client') !== (row.accountId !== null)) {
      const detail =
        row.role === 'client' ? 'is missing: a client sees one account' : 'is for clients only; leave it out';
      faults.push({ pointer: `${pointer}/accountId`, detail });
    }
    return { ...row, login, disabledAtMs: before.get(row.id)?.disabledAtMs ?? null };
  });
}

/** In the order that references need. */
function fleetWrites(fleet: Fleet): readonly Write[] {
  return [
    ...fleet.accounts.map((row): Write => ({ kind: 'account', row })),
    ...fleet.sites.map((row): Write => ({ kind: 'site', row })),
    ...fleet.containers.map((row): Write => ({ kind: 'container', row })),
    ...fleet.gateways.map((row): Write => ({ kind: 'gateway', row })),
    ...fleet.nodes.map((row): Write => ({ kind: 'node', row })),
    ...fleet.assignments.map((row): Write => ({ kind: 'assignment', row })),
    ...fleet.depots.map((row): Write => ({ kind: 'depot', row })),
    ...fleet.trucks.map((row): Write => ({ kind: 'truck', row })),
    ...fleet.people.map((row): Write => ({ kind: 'person', row })),
  ];
}

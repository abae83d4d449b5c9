import { randomUUID } from 'node:crypto';
import type { Principal } from '../../domain/access.js';
import { WHOLE_FLEET } from '../../domain/access.js';
import type { Write } from '../../domain/change-set.js';
import { DomainError } from '../../domain/errors.js';
import type { ContainerId, EpochMs, NodeId } from '../../domain/ids.js';
import type { Page, PageRequest } from '../../domain/ports/store.js';
import type { Assignment } from '../../domain/registry.js';
import { type App, allowed } from '../context.js';
import { pageById } from '../paging.js';

export interface NewAssignment {
  readonly nodeId: NodeId;
  readonly containerId: ContainerId;
  readonly fromMs: EpochMs;
  readonly toMs: EpochMs | null;
  readonly zeroMm: number;
  /** Ends whatever stands in the way at `fromMs`: this node on another pot, another node on this pot. */
  readonly endOthers: boolean;
}

export async function assignments(
  app: App,
  who: Principal,
  page: PageRequest,
  filter: { readonly containerId: ContainerId | null; readonly nodeId: NodeId | null },
): Promise<Page<Assignment>> {
  const rows = await app.store.registry.assignments(allowed(who, 'registry.read'));
  const chosen = rows.filter(
    (row) =>
      (filter.containerId === null || row.containerId === filter.containerId) &&
      (filter.nodeId === null || row.nodeId === filter.nodeId),
  );
  return pageById(chosen, page);
}

/**
 * Puts a node on a pot, also days after it was done: readings from `fromMs` on then belong to the pot, and all that was
 * derived from them is derived anew.
 * @throws DomainError `conflict` where the node is elsewhere, or another node on this pot, at that time
 */
export async function assign(app: App, who: Principal, input: NewAssignment): Promise<Assignment> {
  allowed(who, 'container.commission');
  if ((await app.store.registry.node(input.nodeId)) === null) {
    throw invalid('/nodeId', `there is no node “${input.nodeId}”; add the node first`);
  }
  if ((await app.store.registry.container(WHOLE_FLEET, input.containerId)) === null) {
    throw invalid('/containerId', `there is no container “${input.containerId}”`);
  }
  const { endOthers, ...fields } = input;
  const row: Assignment = { id: `AS-${randomUUID()}`, ...fields };
  checkSpan(row);
  const others = await inTheWay(app, row);
  const ended = endOthers ? others.filter((other) => other.fromMs < row.fromMs) : [];
  const stillInTheWay = others.filter((other) => !ended.includes(other));
  refuseOverlap(stillInTheWay);
  await commit(app, who, [
    ...ended.map((other): Write => ({ kind: 'assignment', row: { ...other, toMs: row.fromMs } })),
    { kind: 'assignment', row },
  ]);
  return row;
}

/** Changes when an assignment began and ended, and where its zero lies; history follows. */
export async function changeAssignment(
  app: App,
  who: Principal,
  id: string,
  change: { readonly fromMs: EpochMs; readonly toMs: EpochMs | null; readonly zeroMm: number },
): Promise<Assignment> {
  allowed(who, 'container.commission');
  const row = { ...(await assignmentOf(app, id)), ...change };
  checkSpan(row);
  refuseOverlap(await inTheWay(app, row));
  await commit(app, who, [{ kind: 'assignment', row }]);
  return row;
}

export async function endAssignment(app: App, who: Principal, id: string, toMs: EpochMs): Promise<Assignment> {
  const { fromMs, zeroMm } = await assignmentOf(app, id);
  return changeAssignment(app, who, id, { fromMs, toMs, zeroMm });
}

/** For an assignment that was never true: its readings belong to no pot again. */
export async function removeAssignment(app: App, who: Principal, id: string): Promise<void> {
  allowed(who, 'container.commission');
  await assignmentOf(app, id);
  await commit(app, who, [{ kind: 'assignment_removed', id }]);
}

/**
 * Two nodes were mixed up from an instant on: what stood on the one pot then belongs to the other. Periods that had
 * begun before are cut there. Each zero stays with the pot, since it is the height of the place where a sensor hangs.
 * @returns the assignments of both pots from that instant on
 */
export async function swapNodes(
  app: App,
  who: Principal,
  input: { readonly containerIds: readonly [ContainerId, ContainerId]; readonly atMs: EpochMs },
): Promise<readonly Assignment[]> {
  allowed(who, 'container.commission');
  const [one, other] = input.containerIds;
  if (one === other) throw invalid('/containerIds', 'names the same pot twice');
  const writes: Write[] = [];
  const swapped: Assignment[] = [];
  for (const [from, to] of [
    [one, other],
    [other, one],
  ] as const) {
    const zeroMm = (await standingAt(app, to, input.atMs)).zeroMm;
    for (const row of await app.store.registry.assignmentsOfContainer(WHOLE_FLEET, from)) {
      if (row.toMs !== null && row.toMs <= input.atMs) continue;
      if (row.fromMs >= input.atMs) writes.push({ kind: 'assignment_removed', id: row.id });
      else writes.push({ kind: 'assignment', row: { ...row, toMs: input.atMs } });
      const fromMs = Math.max(row.fromMs, input.atMs);
      swapped.push({ ...row, id: `AS-${randomUUID()}`, containerId: to, fromMs, zeroMm });
    }
  }
  await commit(app, who, [...writes, ...swapped.map((row): Write => ({ kind: 'assignment', row }))]);
  return swapped;
}

async function standingAt(app: App, containerId: ContainerId, atMs: EpochMs): Promise<Assignment> {
  const rows = await app.store.registry.assignmentsOfContainer(WHOLE_FLEET, containerId);
  const standing = rows.find((row) => row.fromMs <= atMs && (row.toMs === null || row.toMs > atMs));
  if (standing === undefined) {
    throw invalid('/containerIds', `no node was on “${containerId}” at that time, so there is nothing to swap`);
  }
  return standing;
}

async function inTheWay(app: App, row: Assignment): Promise<readonly Assignment[]> {
  const [ofNode, ofContainer] = await Promise.all([
    app.store.registry.assignmentsOfNode(row.nodeId),
    app.store.registry.assignmentsOfContainer(WHOLE_FLEET, row.containerId),
  ]);
  const byId = new Map([...ofNode, ...ofContainer].map((other) => [other.id, other]));
  return [...byId.values()].filter((other) => other.id !== row.id && overlaps(row, other));
}

function overlaps(a: Assignment, b: Assignment): boolean {
  return (a.toMs === null || b.fromMs < a.toMs) && (b.toMs === null || a.fromMs < b.toMs);
}

function refuseOverlap(others: readonly Assignment[]): void {
  const [other] = others;
  if (other === undefined) return;
  const since = new Date(other.fromMs).toISOString();
  const until = other.toMs === null ? 'and still is' : `until ${new Date(other.toMs).toISOString()}`;
  throw new DomainError(
    'conflict',
    `Node “${other.nodeId}” is on container “${other.containerId}” since ${since}, ${until}. End that assignment first, or send endOthers: true.`,
  );
}

function checkSpan(row: Assignment): void {
  if (row.toMs !== null && row.toMs <= row.fromMs) throw invalid('/to', 'does not lie after `from`');
}

async function assignmentOf(app: App, id: string): Promise<Assignment> {
  const rows = await app.store.registry.assignments(WHOLE_FLEET);
  const row = rows.find((candidate) => candidate.id === id);
  if (row === undefined) throw new DomainError('not_found', `There is no assignment with the id “${id}”.`);
  return row;
}

function invalid(pointer: string, detail: string): DomainError {
  return new DomainError('invalid_input', `${pointer.slice(1)}: ${detail}.`, { faults: [{ pointer, detail }] });
}

async function commit(app: App, who: Principal, writes: readonly Write[]): Promise<void> {
  await app.store.commit({
    atMs: app.clock.nowMs(),
    actor: { kind: 'person', id: who.personId },
    writes,
    cursor: null,
  });
}

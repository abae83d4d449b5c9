import { WHOLE_FLEET } from '../../domain/access.js';
import type { Change } from '../../domain/change-set.js';
import type { EpochMs, NodeId, SiteId } from '../../domain/ids.js';
import type { Store } from '../../domain/ports/store.js';
import type { Assignment, SensorNode } from '../../domain/registry.js';

/** Lines of the change log read at a time, and how often in a row; further behind, reading all anew is cheaper. */
const CATCH_UP_LINES = 1_000;
const CATCH_UP_PAGES = 10;

/**
 * What ingest asks of the registry for every message, kept in memory: nodes, when each was first assigned, and sites.
 *
 * It follows the change log rather than the commits of this process, so that it also sees what an import beside the
 * running server wrote. {@link refresh} costs one look at the end of the log where nothing changed.
 */
export class IngestDirectory {
  readonly #store: Store;
  #seenSeq: number | null = null;
  #refreshing: Promise<void> | null = null;
  #nodes = new Map<NodeId, SensorNode>();
  #firstAssignments = new Map<NodeId, EpochMs>();
  #sites = new Set<SiteId>();

  constructor(store: Store) {
    this.#store = store;
  }

  node(id: NodeId): SensorNode | null {
    return this.#nodes.get(id) ?? null;
  }

  /** Null where the node never had an assignment. */
  firstAssignmentMs(id: NodeId): EpochMs | null {
    return this.#firstAssignments.get(id) ?? null;
  }

  hasSite(id: SiteId): boolean {
    return this.#sites.has(id);
  }

  /** Brings the copy up to what was committed before the call. */
  async refresh(): Promise<void> {
    // A call during a refresh may have seen a later commit than that refresh will, so it waits for one of its own.
    while (this.#refreshing !== null) await this.#refreshing;
    this.#refreshing = this.#catchUp().finally(() => {
      this.#refreshing = null;
    });
    await this.#refreshing;
  }

  async #catchUp(): Promise<void> {
    if (this.#seenSeq === null) return this.#loadAll();
    for (let page = 0; page < CATCH_UP_PAGES; page++) {
      const changes: readonly Change[] = await this.#store.changes.after(this.#seenSeq, CATCH_UP_LINES);
      await this.#apply(changes);
      this.#seenSeq = changes.at(-1)?.seq ?? this.#seenSeq;
      if (changes.length < CATCH_UP_LINES) return;
    }
    await this.#loadAll();
  }

  async #apply(changes: readonly Change[]): Promise<void> {
    const changedNodes = new Set<NodeId>();
    let assignments = false;
    let sites = false;
    for (const change of changes) {
      if (change.kind === 'node') changedNodes.add(change.key);
      if (change.kind === 'assignment' || change.kind === 'assignment_removed') assignments = true;
      if (change.kind === 'site') sites = true;
    }
    for (const id of changedNodes) {
      const node = await this.#store.registry.node(id);
      if (node !== null) this.#nodes.set(id, node);
    }
    if (assignments) this.#firstAssignments = firstOf(await this.#store.registry.assignments(WHOLE_FLEET));
    if (sites) this.#sites = await this.#readSites();
  }

  async #loadAll(): Promise<void> {
    // Read before the tables: a commit in between is read twice, never missed.
    const seq = await this.#store.changes.lastSeq();
    const nodes = await this.#store.registry.nodes(WHOLE_FLEET);
    this.#nodes = new Map(nodes.map((node) => [node.id, node]));
    this.#firstAssignments = firstOf(await this.#store.registry.assignments(WHOLE_FLEET));
    this.#sites = await this.#readSites();
    this.#seenSeq = seq;
  }

  async #readSites(): Promise<Set<SiteId>> {
    return new Set((await this.#store.registry.sites(WHOLE_FLEET)).map((site) => site.id));
  }
}

function firstOf(assignments: readonly Assignment[]): Map<NodeId, EpochMs> {
  const first = new Map<NodeId, EpochMs>();
  for (const { nodeId, fromMs } of assignments) {
    const known = first.get(nodeId);
    if (known === undefined || fromMs < known) first.set(nodeId, fromMs);
  }
  return first;
}

import { WHOLE_FLEET } from '../../domain/access.js';
import type { EpochMs } from '../../domain/ids.js';
import type { SensorNode } from '../../domain/registry.js';
import type { App } from '../context.js';

/** What we ask of a node, as it stands retained on `nodes/<nodeId>/settings`. */
export interface NodeSettings {
  readonly intervalS: number;
  /** Until when to report as fast as it can; null: not now. */
  readonly fastUntil: string | null;
}

/** Four readings an hour: what the leak test wants, and what a cell can give for years. */
export const USUAL_INTERVAL_S = 900;

const PAGE = 1000;

type Publish = (topic: string, payload: string, options: { readonly retain: boolean }) => Promise<void>;

/** @param fastUntilMs until when it was last asked to hurry; what has passed is asked no more */
export function settingsOf(node: SensorNode, fastUntilMs: EpochMs | null, nowMs: EpochMs): NodeSettings {
  return {
    intervalS: node.promisedIntervalS ?? USUAL_INTERVAL_S,
    fastUntil: fastUntilMs !== null && fastUntilMs > nowMs ? new Date(fastUntilMs).toISOString() : null,
  };
}

/**
 * Keeps what we ask of each node published. A broker may forget what it retained while it was down, so everything is
 * published once at each start, and from then on what changed.
 */
export class NodeSettingsStage {
  readonly #app: App;
  readonly #publish: Publish;
  #seq: number | null = null;

  constructor(app: App, publish: Publish) {
    this.#app = app;
    this.#publish = publish;
  }

  /** @returns false where nothing had changed */
  async step(): Promise<boolean> {
    const { changes, registry } = this.#app.store;
    if (this.#seq === null) {
      const seq = await changes.lastSeq();
      for (const node of await registry.nodes(WHOLE_FLEET)) await this.#send(node);
      this.#seq = seq;
      return true;
    }
    const lines = await changes.after(this.#seq, PAGE);
    const last = lines.at(-1);
    if (last === undefined) return false;
    const asked = lines.filter(({ kind }) => kind === 'node' || kind === 'fast_report');
    for (const id of new Set(asked.map(({ key }) => key))) {
      const node = await registry.node(id);
      if (node !== null) await this.#send(node);
    }
    this.#seq = last.seq;
    return true;
  }

  async #send(node: SensorNode): Promise<void> {
    const { clock, store } = this.#app;
    const settings = settingsOf(node, await store.commissioning.fastUntilMs(node.id), clock.nowMs());
    await this.#publish(`nodes/${node.id}/settings`, JSON.stringify(settings), { retain: true });
  }
}

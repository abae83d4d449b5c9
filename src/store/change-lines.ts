import type { WriteKind } from '../domain/change-set.js';
import type { ContainerId, EpochMs, SiteId } from '../domain/ids.js';

export interface ChangeLine {
  readonly kind: WriteKind;
  readonly key: string;
  readonly siteId: SiteId | null;
  readonly containerId: ContainerId | null;
  readonly fromMs: EpochMs | null;
  readonly toMs: EpochMs | null;
}

/** Gathers the lines of one commit: one a kind, key and place, over the whole time that was written. */
export class ChangeLines {
  readonly #lines = new Map<string, ChangeLine>();

  add(
    kind: WriteKind,
    key: string,
    about: {
      readonly siteId?: SiteId | null;
      readonly containerId?: ContainerId | null;
      readonly fromMs?: EpochMs | null;
      readonly toMs?: EpochMs | null;
    } = {},
  ): void {
    const siteId = about.siteId ?? null;
    const containerId = about.containerId ?? null;
    const fromMs = about.fromMs ?? null;
    const toMs = about.toMs ?? null;
    // Ids hold no blanks.
    const id = `${kind} ${key} ${siteId} ${containerId}`;
    const known = this.#lines.get(id);
    const line =
      known === undefined
        ? { kind, key, siteId, containerId, fromMs, toMs }
        : // An open end stays open.
          { ...known, fromMs: least(known.fromMs, fromMs), toMs: greatest(known.toMs, toMs) };
    this.#lines.set(id, line);
  }

  lines(): Iterable<ChangeLine> {
    return this.#lines.values();
  }
}

const least = (a: number | null, b: number | null): number | null => (a === null || b === null ? null : Math.min(a, b));
const greatest = (a: number | null, b: number | null): number | null =>
  a === null || b === null ? null : Math.max(a, b);

import type { FindingDraft, FindingKind } from '../../domain/pot.js';

/**
 * What a finding explains away. A stuck sensor draws no water and dries no soil, so whatever rests on the level is not
 * said beside it; a failed wick looks like a planting that draws nothing.
 */
const EXPLAINS: Partial<Record<FindingKind, readonly FindingKind[]>> = {
  sensor_unplugged: [
    'sensor_stuck',
    'sensor_fouled',
    'leak',
    'wick_failed',
    'wick_limited',
    'demand_collapsed',
    'overflow_blocked',
    'overflow_partly_blocked',
  ],
  sensor_stuck: [
    'leak',
    'wick_failed',
    'wick_limited',
    'demand_collapsed',
    'overflow_blocked',
    'overflow_partly_blocked',
  ],
  wick_failed: ['demand_collapsed', 'wick_limited'],
  overflow_blocked: ['overflow_partly_blocked', 'sensor_drift'],
};

/** Drops what a surer or more basic finding accounts for. */
export function weigh(drafts: readonly FindingDraft[]): readonly FindingDraft[] {
  const explained = new Set<FindingKind>();
  for (const draft of drafts) for (const kind of EXPLAINS[draft.kind] ?? []) explained.add(kind);
  return drafts.filter((draft) => !explained.has(draft.kind));
}

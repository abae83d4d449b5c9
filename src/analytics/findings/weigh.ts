import type { FindingDraft, FindingKind } from '../../domain/pot.js';
import { say } from './draft.js';

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

/** The rivals that are told of where they were set aside. */
const RIVALS = [
  'leak',
  'wick_failed',
  'wick_limited',
  'demand_collapsed',
  'overflow_blocked',
  'overflow_partly_blocked',
  'sensor_stuck',
  'sensor_fouled',
  'sensor_drift',
] as const satisfies readonly FindingKind[];

/**
 * Weighs what was found on one pot at one instant: what a surer or more basic finding accounts for is set aside, and the
 * one that stays says so, with how sure the rival was.
 */
export function weigh(drafts: readonly FindingDraft[]): readonly FindingDraft[] {
  if (drafts.length < 2) return drafts;
  const aside = new Map<FindingKind, FindingKind>();
  for (const draft of drafts) {
    for (const kind of EXPLAINS[draft.kind] ?? []) if (!aside.has(kind)) aside.set(kind, draft.kind);
  }
  return drafts.flatMap((draft) => {
    if (aside.has(draft.kind)) return [];
    const rivals = RIVALS.filter((kind) => aside.get(kind) === draft.kind).flatMap((kind) => {
      const rival = drafts.find((other) => other.kind === kind);
      return rival === undefined ? [] : [say(`finding.instead_of.${kind}`, { asideFraction: rival.confidence })];
    });
    return [rivals.length === 0 ? draft : { ...draft, evidence: [...draft.evidence, ...rivals] }];
  });
}

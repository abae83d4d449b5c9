import { sayTheSame } from '../../alerts/messages.js';
import type { EpochMs } from '../../domain/ids.js';
import { HOUR_MS, type LocalDays } from '../../domain/local-day.js';
import type { Finding, FindingDraft, Forecast } from '../../domain/pot.js';

/** Findings move a little with every night; what is on record moves when a person would say something else. */
const SAME_SIZE_SHARE = 0.1;
const SAME_CONFIDENCE = 0.05;

/**
 * What has to be written so that the record says what analytics sees now: new findings open, those seen no more close,
 * and those that changed are brought up to date under their name.
 * @param open the pot's open findings on record
 * @param atMs the moment of saying so
 */
export function findingChanges(
  open: readonly Finding[],
  drafts: readonly FindingDraft[],
  atMs: EpochMs,
): { readonly changed: readonly Finding[]; readonly open: readonly Finding[] } {
  const changed: Finding[] = [];
  const after: Finding[] = [];
  const seen = new Set<string>();
  for (const draft of drafts) {
    if (seen.has(draft.kind)) continue;
    seen.add(draft.kind);
    const standing = open.find((finding) => finding.kind === draft.kind);
    if (standing === undefined) {
      const id = `${draft.containerId}:${draft.kind}:${atMs}`;
      const opened: Finding = { ...draft, id, openedMs: atMs, closedMs: null };
      changed.push(opened);
      after.push(opened);
    } else if (saysOtherwise(standing, draft)) {
      const revised: Finding = { ...standing, ...draft };
      changed.push(revised);
      after.push(revised);
    } else {
      after.push(standing);
    }
  }
  for (const finding of open) {
    if (!seen.has(finding.kind)) changed.push({ ...finding, closedMs: atMs });
  }
  return { changed, open: after };
}

function saysOtherwise(finding: Finding, draft: FindingDraft): boolean {
  const sizeMoved =
    finding.size === null || draft.size === null
      ? finding.size !== draft.size
      : Math.abs(finding.size - draft.size) > SAME_SIZE_SHARE * Math.abs(finding.size);
  return (
    sizeMoved ||
    finding.severity !== draft.severity ||
    finding.nodeId !== draft.nodeId ||
    Math.abs(finding.confidence - draft.confidence) > SAME_CONFIDENCE ||
    !sayTheSame(finding.evidence, draft.evidence)
  );
}

const MOVED_MS = 2 * HOUR_MS;
const MOVED_SHARE = 0.03;

/** Whether a forecast says something that the one kept last does not; at least one a local day is kept. */
export function isWorthKeeping(last: Forecast | null, next: Forecast, days: LocalDays): boolean {
  if (last === null || next.knowledge !== last.knowledge) return true;
  if (days.dayOf(next.originMs) !== days.dayOf(last.originMs)) return true;
  const lastMs = last.dry?.p50Ms ?? null;
  const nextMs = next.dry?.p50Ms ?? null;
  if (lastMs === null || nextMs === null) return lastMs !== nextMs;
  const leadMs = Math.max(0, nextMs - next.originMs);
  return Math.abs(nextMs - lastMs) > Math.max(MOVED_MS, MOVED_SHARE * leadMs);
}

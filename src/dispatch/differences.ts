import { daysBetween } from '../domain/local-day.js';
import type { PublishedStop } from './crew.js';

/** What changed about one visit. */
export interface PlanChange {
  readonly kind: 'added' | 'dropped' | 'other_day' | 'other_technician' | 'other_time';
  readonly siteId: string;
  readonly from: PublishedStop | null;
  readonly to: PublishedStop | null;
}

/** Minutes by which a visit may shift without being told. */
const TOLD_SHIFT_MINUTES = 15;

/**
 * The short list beside a draft. Visits of one site are paired on the same day first, then in order of days; what is left
 * over is added or dropped.
 */
export function differences(
  published: readonly PublishedStop[],
  draft: readonly PublishedStop[],
): readonly PlanChange[] {
  const out: PlanChange[] = [];
  const sites = [...new Set([...published, ...draft].map((one) => one.siteId))].sort();
  for (const siteId of sites) {
    const old = published.filter((one) => one.siteId === siteId).sort((a, b) => daysBetween(b.day, a.day));
    const fresh = draft.filter((one) => one.siteId === siteId).sort((a, b) => daysBetween(b.day, a.day));
    const leftOld: PublishedStop[] = [];
    for (const from of old) {
      const at = fresh.findIndex((one) => one.day === from.day);
      if (at < 0) {
        leftOld.push(from);
        continue;
      }
      const to = fresh.splice(at, 1)[0]!;
      if (to.personId !== from.personId) out.push({ kind: 'other_technician', siteId, from, to });
      else if (Math.abs(to.startMinute - from.startMinute) >= TOLD_SHIFT_MINUTES) {
        out.push({ kind: 'other_time', siteId, from, to });
      }
    }
    for (let k = 0; k < Math.max(leftOld.length, fresh.length); k++) {
      const from = leftOld[k] ?? null;
      const to = fresh[k] ?? null;
      out.push({ kind: from === null ? 'added' : to === null ? 'dropped' : 'other_day', siteId, from, to });
    }
  }
  return out;
}

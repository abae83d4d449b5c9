import type { ContainerId, EpochMs, NodeId } from '../../domain/ids.js';
import { DAY_MS } from '../../domain/local-day.js';
import type { FindingDraft } from '../../domain/pot.js';
import { shorten } from '../block.js';
import type { PotView } from '../pot-view.js';
import { lastDays } from './baseline.js';
import { say } from './draft.js';

/**
 * What one pot's record says about the node that is on it, for comparison with the other pots of its site. Made from
 * the days before and the days after a moment; see {@link summariseForSwap}.
 */
export interface SwapSummary {
  readonly containerId: ContainerId;
  readonly name: string;
  readonly nodeId: NodeId;
  /** Daily values, oldest first; the same day numbers for all pots of a site where they are known. */
  readonly days: readonly SwapDay[];
}

export interface SwapDay {
  readonly dayNumber: number;
  readonly endMs: EpochMs;
  /** At the end of the day, or null. */
  readonly levelMm: number | null;
  readonly moisture: number | null;
  readonly noiseMm: number | null;
  /** Litres drawn per mm of ET0. */
  readonly usePerEt0: number | null;
  readonly refilled: boolean;
}

const BEFORE_DAYS = 10;
const AFTER_DAYS = 3;
/** Log-likelihood that the exchange must gain over three days, in all; a chance of 1 in 20 000 by itself. */
const DECISION = 10;
const MOISTURE_SD = 0.03;
const LEVEL_SD_MM = 8;
const NOISE_LOG_SD = 0.35;
const USE_LOG_SD = 0.6;
/** No single quantity decides: its misfit counts up to this much. */
const MOST_PER_QUANTITY = 12;

/**
 * Pairs of pots of one site whose nodes seem to have been exchanged: from some day on each record fits the other pot's
 * past better than its own. Compares level where it went on, moisture, noise and thirst; a refill makes the level say
 * nothing. Each pair gives one finding for each of the two pots. Cost: pots² x days.
 */
export function findSwaps(pots: readonly SwapSummary[]): readonly FindingDraft[] {
  const drafts: FindingDraft[] = [];
  const taken = new Set<ContainerId>();
  const pairs: { readonly a: SwapSummary; readonly b: SwapSummary; readonly best: SwapScore }[] = [];
  for (let i = 0; i < pots.length; i++) {
    for (let j = i + 1; j < pots.length; j++) {
      const best = bestDay(pots[i]!, pots[j]!);
      if (best !== null && best.score >= DECISION) pairs.push({ a: pots[i]!, b: pots[j]!, best });
    }
  }
  pairs.sort((x, y) => y.best.score - x.best.score);
  for (const { a, b, best } of pairs) {
    if (taken.has(a.containerId) || taken.has(b.containerId)) continue;
    taken.add(a.containerId);
    taken.add(b.containerId);
    drafts.push(draftOf(a, b, best), draftOf(b, a, best));
  }
  return drafts;
}

interface SwapScore {
  readonly score: number;
  readonly sinceMs: EpochMs;
  readonly days: number;
}

/** The day of the last two weeks from which on an exchange explains most. */
function bestDay(a: SwapSummary, b: SwapSummary): SwapScore | null {
  const last = a.days[a.days.length - 1];
  if (last === undefined) return null;
  let best: SwapScore | null = null;
  for (let ago = AFTER_DAYS; ago <= 14; ago++) {
    const from = last.dayNumber - ago + 1;
    const own = pairScore(a, a, from) + pairScore(b, b, from);
    const crossed = pairScore(a, b, from) + pairScore(b, a, from);
    if (!Number.isFinite(own) || !Number.isFinite(crossed)) continue;
    // Both must fit better crossed: one pot that changed by itself is no exchange.
    const gainA = pairScore(b, a, from) - pairScore(a, a, from);
    const gainB = pairScore(a, b, from) - pairScore(b, b, from);
    const score = crossed - own;
    if (gainA < DECISION / 4 || gainB < DECISION / 4) continue;
    if (best === null || score > best.score) {
      best = { score, sinceMs: last.endMs - ago * DAY_MS, days: ago };
    }
  }
  return best;
}

/** Log-likelihood, to a constant, of what `after`'s node reports from a day on under `before`'s past. */
function pairScore(before: SwapSummary, after: SwapSummary, fromDay: number): number {
  const past = before.days.filter((day) => day.dayNumber < fromDay && day.dayNumber >= fromDay - BEFORE_DAYS);
  const now = after.days.filter((day) => day.dayNumber >= fromDay && day.dayNumber < fromDay + AFTER_DAYS);
  if (past.length < 5 || now.length < AFTER_DAYS - 1) return Number.NaN;
  let sum = 0;
  const lastPast = past[past.length - 1]!;
  const first = now[0]!;
  if (lastPast.levelMm !== null && first.levelMm !== null && !first.refilled) {
    sum += misfit(first.levelMm - lastPast.levelMm, LEVEL_SD_MM);
  }
  sum += compare(
    past,
    now,
    (day) => day.moisture,
    (x) => x,
    MOISTURE_SD,
  );
  sum += compare(past, now, (day) => day.noiseMm, Math.log, NOISE_LOG_SD);
  sum += compare(
    past,
    now,
    (day) => day.usePerEt0,
    (x) => Math.log(Math.max(0.005, x)),
    USE_LOG_SD,
  );
  return sum;
}

function compare(
  past: readonly SwapDay[],
  now: readonly SwapDay[],
  of: (day: SwapDay) => number | null,
  scale: (value: number) => number,
  sd: number,
): number {
  const before = mean(past, of, scale);
  const after = mean(now, of, scale);
  return before === null || after === null ? 0 : misfit(after - before, sd);
}

function mean(
  days: readonly SwapDay[],
  of: (day: SwapDay) => number | null,
  scale: (value: number) => number,
): number | null {
  const values = days.map(of).filter((value) => value !== null);
  if (values.length === 0) return null;
  return values.reduce((sum, value) => sum + scale(value), 0) / values.length;
}

function misfit(difference: number, sd: number): number {
  return -Math.min(MOST_PER_QUANTITY, (difference / sd) ** 2 / 2);
}

function draftOf(pot: SwapSummary, other: SwapSummary, best: SwapScore): FindingDraft {
  return {
    containerId: pot.containerId,
    nodeId: pot.nodeId,
    kind: 'nodes_swapped',
    onsetMs: best.sinceMs,
    size: null,
    unit: null,
    heightMm: null,
    confidence: Math.round(100 * Math.min(0.97, 0.7 + 0.01 * best.score)) / 100,
    severity: 'medium',
    evidence: [
      say('finding.nodes_swapped.fits', {
        sinceMs: best.sinceMs,
        otherContainer: other.name,
        thisContainer: pot.name,
      }),
      say('finding.nodes_swapped.score', { score: shorten(best.score), days: best.days }),
    ],
    toConfirm: say('finding.nodes_swapped.confirm'),
  };
}

/** The last weeks of a pot for {@link findSwaps}; null without a node. */
export function summariseForSwap(view: PotView): SwapSummary | null {
  if (view.nodeId === null) return null;
  const days = lastDays(view, BEFORE_DAYS + 16).map((day) => ({
    dayNumber: day.dayNumber,
    endMs: day.endMs,
    levelMm: day.dawnLevelMm,
    moisture: day.dawnMoisture,
    noiseMm: day.noiseMm > 0 ? day.noiseMm : null,
    usePerEt0: day.netUseLitres === null || day.hoursDry > 0 ? null : day.netUseLitres / day.et0Mm,
    refilled: day.refills > 0 || day.rainLitres > 0,
  }));
  return { containerId: view.ctx.container.id, name: view.ctx.container.name, nodeId: view.nodeId, days };
}

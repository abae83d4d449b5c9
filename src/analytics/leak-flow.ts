import type { PotContext } from '../domain/analysis.js';
import type { EpochMs } from '../domain/ids.js';
import { DAY_MS, HOUR_MS } from '../domain/local-day.js';
import type { KnownLeak } from './findings/leak/leak.js';
import type { RecentLevels } from './recent.js';

/** Flow through a crack at a level, litres a day: an orifice's, square root of the head above it. */
export function leakFlow(ctx: PotContext, leak: KnownLeak, levelMm: number): number {
  const range = ctx.container.reservoir.overflowMm - leak.heightMm;
  const head = levelMm - leak.heightMm;
  if (head <= 0 || range <= 0) return 0;
  return leak.litresPerDay * Math.sqrt(Math.min(1.5, head / range));
}

/** Longest time for which a level stands for what followed it. */
const LONGEST_STEP_MS = 6 * HOUR_MS;

/** Litres that a known leak took between two instants, by the levels seen between them. */
export function leakedLitres(
  ctx: PotContext,
  recent: RecentLevels,
  leak: KnownLeak,
  fromMs: EpochMs,
  toMs: EpochMs,
): number {
  let sum = 0;
  for (let i = 0; i < recent.timeMs.length; i++) {
    const startMs = Math.max(recent.timeMs[i]!, fromMs);
    const nextMs = recent.timeMs[i + 1] ?? toMs;
    const endMs = Math.min(nextMs, toMs, recent.timeMs[i]! + LONGEST_STEP_MS);
    if (endMs > startMs) sum += (leakFlow(ctx, leak, recent.levelMm[i]!) * (endMs - startMs)) / DAY_MS;
  }
  return sum;
}

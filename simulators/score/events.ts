import { existsSync } from 'node:fs';
import { join } from 'node:path';
import { median } from './baselines.js';
import { readCsv, timeOf } from './read-csv.js';
import type { TrueEvent, Truth } from './truth.js';

const HOUR_MS = 3_600_000;
const MIN_RISE_MM = 8;
/** Pours closer than this are one refill for a sensor that reports every quarter to full hour. */
const MERGE_MS = HOUR_MS;

interface SaidEvent {
  readonly kind: string;
  readonly startMs: number;
  readonly endMs: number;
  readonly litres: number;
  used: boolean;
}

export interface EventSample {
  /** True refills of 8 mm and more, each found or not. */
  readonly refills: readonly { readonly found: boolean; readonly volumeError: number | null }[];
  /** Refills of 8 mm and more that were said, each true or not. */
  readonly saidRefills: readonly { readonly right: boolean; readonly tookRain: boolean }[];
  /** Rises of 8 mm and more in uncovered pots: what they were, and what they were called. */
  readonly rises: readonly { readonly truth: 'refill' | 'rain'; readonly said: string | null }[];
  /** Losses of 8 mm and more within minutes, and what was said of sudden losses besides. */
  readonly losses: readonly { readonly found: boolean }[];
  readonly falseLosses: number;
}

function mergePours(events: readonly TrueEvent[]): TrueEvent[] {
  const merged: TrueEvent[] = [];
  for (const event of events) {
    const last = merged[merged.length - 1];
    if (last !== undefined && event.startMs - last.endMs < MERGE_MS) {
      merged[merged.length - 1] = {
        ...last,
        endMs: event.endMs,
        litres: last.litres + event.litres,
        riseMm: last.riseMm + event.riseMm,
      };
    } else merged.push(event);
  }
  return merged;
}

export async function collectEvents(truth: Truth, outDir: string): Promise<EventSample> {
  const said = new Map<string, SaidEvent[]>();
  const path = join(outDir, 'events.csv');
  if (!existsSync(path)) throw new Error(`${outDir} holds no events.csv: run "brimline replay" into it first.`);
  await readCsv(path, (row) => {
    const list = said.get(row('container')) ?? [];
    list.push({
      kind: row('kind'),
      startMs: timeOf(row('start'))!,
      endMs: timeOf(row('end')) ?? timeOf(row('start'))!,
      litres: Number(row('litres')),
      used: false,
    });
    said.set(row('container'), list);
  });

  const refills: EventSample['refills'][number][] = [];
  const saidRefills: EventSample['saidRefills'][number][] = [];
  const rises: EventSample['rises'][number][] = [];
  const losses: EventSample['losses'][number][] = [];
  let falseLosses = 0;
  for (const container of truth.containers.values()) {
    const faults = truth.faults.filter((f) => f.containerId === container.id && f.kind !== 'leak');
    const faulty = (ms: number): boolean =>
      faults.some((f) => ms >= f.fromMs - 24 * HOUR_MS && ms <= f.toMs + 24 * HOUR_MS);
    const slackMs = HOUR_MS + 2 * container.intervalS * 1000;
    const mine = said.get(container.id) ?? [];
    const own = truth.events.filter((e) => e.containerId === container.id);
    const pours = mergePours(own.filter((e) => e.kind === 'refill'));
    const rains = own.filter(
      (e) => e.kind === 'rain' && e.litres / container.areaM2 >= MIN_RISE_MM && e.riseMm >= MIN_RISE_MM,
    );

    for (const pour of pours) {
      const match = nearest(mine, 'refill', pour, slackMs);
      if (match !== null) match.used = true;
      if (pour.riseMm < MIN_RISE_MM || faulty(pour.startMs)) continue;
      refills.push({
        found: match !== null,
        volumeError: match === null ? null : Math.abs(match.litres - pour.litres) / pour.litres,
      });
      if (!container.covered) {
        const any = match ?? nearest(mine, null, pour, slackMs);
        rises.push({ truth: 'refill', said: any?.kind ?? null });
      }
    }
    for (const rain of rains) {
      if (container.covered || faulty(rain.startMs)) continue;
      // A pour into the rain hides it: both are right then.
      if (pours.some((p) => p.startMs > rain.startMs - HOUR_MS && p.startMs < rain.endMs + HOUR_MS)) continue;
      const wide = { startMs: rain.startMs - HOUR_MS, endMs: rain.endMs + 4 * HOUR_MS };
      const found = mine.filter(
        (e) => (e.kind === 'rain' || e.kind === 'refill') && e.endMs >= wide.startMs && e.startMs <= wide.endMs,
      );
      const named = found.some((e) => e.kind === 'refill') ? 'refill' : (found[0]?.kind ?? null);
      rises.push({ truth: 'rain', said: named });
    }
    for (const loss of own.filter((e) => e.kind === 'drained' && -e.riseMm >= MIN_RISE_MM)) {
      const match = nearest(mine, 'sudden_loss', loss, slackMs) ?? nearest(mine, 'drained', loss, slackMs);
      if (match !== null) match.used = true;
      if (!faulty(loss.startMs)) losses.push({ found: match !== null });
    }
    falseLosses += mine.filter((e) => e.kind === 'sudden_loss' && !e.used && !faulty(e.startMs)).length;
    for (const event of mine) {
      if (event.kind !== 'refill' || faulty(event.startMs)) continue;
      if (!event.used && event.litres / container.areaM2 < MIN_RISE_MM) continue;
      const tookRain =
        !event.used && rains.some((r) => event.startMs < r.endMs + slackMs && event.endMs > r.startMs - slackMs);
      saidRefills.push({ right: event.used, tookRain });
    }
  }
  return { refills, saidRefills, rises, losses, falseLosses };
}

function nearest(
  said: readonly SaidEvent[],
  kind: string | null,
  pour: { readonly startMs: number; readonly endMs: number },
  slackMs: number,
): SaidEvent | null {
  let best: SaidEvent | null = null;
  let bestGap = Infinity;
  for (const event of said) {
    if (kind === null ? event.kind !== 'rain' : event.kind !== kind) continue;
    if (event.used) continue;
    // After an outage the program can only say "between these two readings".
    if (event.endMs < pour.startMs - slackMs || event.startMs > pour.endMs + slackMs) continue;
    const gap = Math.abs(event.startMs - pour.startMs);
    if (gap < bestGap) {
      best = event;
      bestGap = gap;
    }
  }
  return best;
}

export interface EventScore {
  readonly refills: number;
  readonly refillRecall: number | null;
  readonly refillPrecision: number | null;
  readonly refillVolumeErrorMedian: number | null;
  readonly falseRefillsFromRain: number;
  readonly uncoveredRises: number;
  /** Share of rises in uncovered pots that were called what they were; one that was not noticed is wrong. */
  readonly rainAgainstRefill: number | null;
  readonly rainCalledRefill: number | null;
  readonly refillCalledRain: number | null;
  readonly suddenLosses: number;
  readonly suddenLossRecall: number | null;
  readonly falseSuddenLosses: number;
}

export function scoreEvents(samples: readonly EventSample[]): EventScore {
  const refills = samples.flatMap((s) => s.refills);
  const said = samples.flatMap((s) => s.saidRefills);
  const rises = samples.flatMap((s) => s.rises);
  const losses = samples.flatMap((s) => s.losses);
  const errors = refills.flatMap((r) => (r.volumeError === null ? [] : [r.volumeError]));
  const share = (part: number, whole: number): number | null => (whole > 0 ? part / whole : null);
  const rains = rises.filter((r) => r.truth === 'rain');
  const pours = rises.filter((r) => r.truth === 'refill');
  return {
    refills: refills.length,
    refillRecall: share(refills.filter((r) => r.found).length, refills.length),
    refillPrecision: share(said.filter((r) => r.right).length, said.length),
    refillVolumeErrorMedian: errors.length > 0 ? median(errors) : null,
    falseRefillsFromRain: said.filter((r) => r.tookRain).length,
    uncoveredRises: rises.length,
    rainAgainstRefill: share(rises.filter((r) => r.said === r.truth).length, rises.length),
    rainCalledRefill: share(rains.filter((r) => r.said === 'refill').length, rains.length),
    refillCalledRain: share(pours.filter((r) => r.said === 'rain').length, pours.length),
    suddenLosses: losses.length,
    suddenLossRecall: share(losses.filter((l) => l.found).length, losses.length),
    falseSuddenLosses: samples.reduce((sum, s) => sum + s.falseLosses, 0),
  };
}

import type { EpochMs } from '../../domain/ids.js';
import { addDays, type LocalDays } from '../../domain/local-day.js';

/** Something that is done by the business clock, whatever arrives. */
export interface Job {
  readonly name: string;
  readonly when: { readonly kind: 'every'; readonly everyMs: number } | DailyAt;
  /** A run that is this late is left out: what it would have said has passed. */
  readonly staleAfterMs: number;
}

export interface DailyAt {
  readonly kind: 'daily';
  readonly hour: number;
  readonly minute: number;
}

export interface DueJob {
  readonly name: string;
  /** The instant for which it is due; the latest, where several were missed. */
  readonly scheduledMs: EpochMs;
  /** How many earlier runs fell through and are not made up for. */
  readonly missed: number;
}

/** A last run further ahead than this was dated by a clock that has been set right since. */
const CLOCK_STEP_MS = 24 * 3_600_000;

/**
 * Which jobs are due: those with a scheduled instant in (lastMs, nowMs]. A server that was off runs each job once, for
 * the latest of its instants, and not once for each that it missed; a job that never ran is due for its latest instant.
 * @param lastMs for each job the instant for which it ran last; absent: never
 * @param days days of the zone in which daily jobs are dated
 */
export function dueJobs(
  lastMs: ReadonlyMap<string, EpochMs>,
  nowMs: EpochMs,
  days: LocalDays,
  jobs: readonly Job[],
): readonly DueJob[] {
  return jobs.flatMap((job): DueJob[] => {
    const scheduledMs = latestInstant(job, nowMs, days);
    const known = lastMs.get(job.name) ?? null;
    const last = known !== null && known <= nowMs + CLOCK_STEP_MS ? known : null;
    if (last !== null && scheduledMs <= last) return [];
    if (nowMs - scheduledMs > job.staleAfterMs) return [];
    return [{ name: job.name, scheduledMs, missed: last === null ? 0 : instantsBetween(job, last, scheduledMs, days) }];
  });
}

function latestInstant(job: Job, nowMs: EpochMs, days: LocalDays): EpochMs {
  const { when } = job;
  if (when.kind === 'every') return Math.floor(nowMs / when.everyMs) * when.everyMs;
  const today = days.dayOf(nowMs);
  const todayMs = days.atMs(today, when.hour, when.minute);
  return todayMs <= nowMs ? todayMs : days.atMs(addDays(today, -1), when.hour, when.minute);
}

/** Scheduled instants strictly between two others. */
function instantsBetween(job: Job, afterMs: EpochMs, beforeMs: EpochMs, days: LocalDays): number {
  const { when } = job;
  if (when.kind === 'every') {
    return Math.max(0, Math.ceil(beforeMs / when.everyMs) - Math.floor(afterMs / when.everyMs) - 1);
  }
  let count = 0;
  for (let day = days.dayOf(afterMs); days.startMs(day) < beforeMs; day = addDays(day, 1)) {
    const instantMs = days.atMs(day, when.hour, when.minute);
    if (instantMs > afterMs && instantMs < beforeMs) count += 1;
  }
  return count;
}

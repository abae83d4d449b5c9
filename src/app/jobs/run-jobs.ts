import { WHOLE_FLEET } from '../../domain/access.js';
import type { EpochMs } from '../../domain/ids.js';
import { DAY_MS, HOUR_MS, type LocalDays } from '../../domain/local-day.js';
import type { Backups } from '../../domain/ports/backups.js';
import type { ForecastSource } from '../../domain/ports/forecast-source.js';
import type { AnalysisStage } from '../analysis/analysis-stage.js';
import { freezeCalibration } from '../analysis/freeze-calibration.js';
import type { App } from '../context.js';
import { reviewAllSites } from '../fieldwork/alarm-stage.js';
import { morningDigest } from '../fieldwork/digest.js';
import { escalateAlarms } from '../fieldwork/escalations.js';
import { usualZone } from '../fieldwork/round-views.js';
import { verifyTasks } from '../fieldwork/verify-tasks.js';
import { verifyVisits } from '../fieldwork/verify-visits.js';
import { fleetView, localDaysOf } from '../fleet-view.js';
import type { Planner } from '../planning/planner.js';
import { applyRetention, type RetentionRules } from '../readings/retention.js';
import { fetchForecasts } from '../weather/weather-forecasts.js';
import { closeWeatherDays } from '../weather/weather-observations.js';
import { type DueJob, dueJobs, type Job } from './jobs.js';

const MINUTE_MS = 60_000;

export const JOBS = [
  { name: 'evaluation', when: { kind: 'every', everyMs: 5 * MINUTE_MS }, staleAfterMs: HOUR_MS },
  { name: 'verification', when: { kind: 'every', everyMs: 15 * MINUTE_MS }, staleAfterMs: HOUR_MS },
  { name: 'weather', when: { kind: 'every', everyMs: HOUR_MS }, staleAfterMs: HOUR_MS },
  { name: 'outlook', when: { kind: 'every', everyMs: HOUR_MS }, staleAfterMs: HOUR_MS },
  { name: 'backup', when: { kind: 'every', everyMs: HOUR_MS }, staleAfterMs: HOUR_MS },
  { name: 'night', when: { kind: 'daily', hour: 3, minute: 0 }, staleAfterMs: DAY_MS },
  { name: 'retention', when: { kind: 'daily', hour: 3, minute: 30 }, staleAfterMs: DAY_MS },
  { name: 'rounds', when: { kind: 'daily', hour: 4, minute: 0 }, staleAfterMs: 12 * HOUR_MS },
  { name: 'digest', when: { kind: 'daily', hour: 6, minute: 0 }, staleAfterMs: 12 * HOUR_MS },
] as const satisfies readonly Job[];

export type JobName = (typeof JOBS)[number]['name'];

/** A day's backup is made from this hour on, before the night's jobs. */
const BACKUP_HOUR = 2;

/** A gap in the evaluations longer than this means that nobody was looking. */
const AWAY_MS = 2 * HOUR_MS;

export interface JobParts {
  readonly app: App;
  readonly analysis: AnalysisStage;
  /** Null where nobody plans rounds by rule. */
  readonly planner: Planner | null;
  /** A public weather service; null where none is asked. */
  readonly forecasts: ForecastSource | null;
  /** How long raw readings and the change log are kept. */
  readonly retention: RetentionRules;
  /** Null where the server makes none by itself. */
  readonly backups: Backups | null;
}

/**
 * Runs what is due by the business clock, each job once, and keeps for which instant it ran. A job that fails is tried
 * again at the next tick; the others run all the same. What the parts lack nobody asks for.
 * @returns the names of the jobs that ran
 */
export async function runDueJobs(parts: JobParts): Promise<readonly JobName[]> {
  const { app } = parts;
  const nowMs = app.clock.nowMs();
  const last = await lastRuns(app);
  const days = localDaysOf(usualZone(await fleetView(app.store, WHOLE_FLEET, nowMs)));
  const due = new Map(dueJobs(last, nowMs, days, JOBS).map((job) => [job.name, job]));
  const lastSeenMs = last.get('evaluation') ?? null;
  const away = lastSeenMs !== null && nowMs - lastSeenMs > AWAY_MS ? { fromMs: lastSeenMs, toMs: nowMs } : null;
  const ran: JobName[] = [];
  for (const { name } of JOBS) {
    const job = due.get(name);
    if (job === undefined || isIdle(parts, name)) continue;
    try {
      if (!(await runJob(parts, name, nowMs, days, away))) continue;
      await recordRun(app, job, nowMs);
      ran.push(name);
    } catch (error) {
      app.log.error({ err: error, job: name }, 'a job failed and will be tried again');
    }
  }
  return ran;
}

interface Away {
  readonly fromMs: EpochMs;
  readonly toMs: EpochMs;
}

function isIdle({ forecasts, backups }: JobParts, name: JobName): boolean {
  return (name === 'outlook' && forecasts === null) || (name === 'backup' && backups === null);
}

/** @returns false where it could not be done yet, and is to be tried at the next tick */
async function runJob(
  { app, analysis, planner, forecasts, retention, backups }: JobParts,
  name: JobName,
  nowMs: EpochMs,
  days: LocalDays,
  away: Away | null,
): Promise<boolean> {
  switch (name) {
    case 'evaluation':
      if ((await analysis.evaluateAll(nowMs)) === null) return false;
      await reviewAllSites(app);
      await escalateAlarms(app);
      return true;
    case 'verification':
      await verifyVisits(app);
      await verifyTasks(app);
      return true;
    case 'weather':
      await closeWeatherDays(app);
      return true;
    case 'outlook':
      if (forecasts !== null) await fetchForecasts(app, forecasts);
      return true;
    case 'backup':
      backups?.request(days.dayOf(nowMs - BACKUP_HOUR * HOUR_MS));
      return true;
    case 'night':
      if (!(await analysis.compareSites(nowMs))) return false;
      await freezeCalibration(app);
      return true;
    case 'retention':
      await applyRetention(app, retention);
      return true;
    case 'rounds':
      if (planner?.settings.automatic === true) planner.request('night');
      return true;
    case 'digest':
      await morningDigest(app, away);
      return true;
  }
}

async function lastRuns(app: App): Promise<ReadonlyMap<string, EpochMs>> {
  const last = new Map<string, EpochMs>();
  for (const { name } of JOBS) {
    const ranMs = await app.store.work.jobLastRan(name);
    if (ranMs !== null) last.set(name, ranMs);
  }
  return last;
}

async function recordRun(app: App, job: DueJob, nowMs: EpochMs): Promise<void> {
  if (job.missed > 0) app.log.info({ job: job.name, missed: job.missed }, 'a job made up for the runs it missed');
  await app.store.commit({
    atMs: nowMs,
    actor: { kind: 'stage', id: 'jobs' },
    writes: [{ kind: 'job_ran', job: job.name, atMs: job.scheduledMs }],
    cursor: null,
  });
}

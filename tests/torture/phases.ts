import type Database from 'better-sqlite3';
import { ANALYSIS_STAGE } from '../../src/app/analysis/analysis-stage.js';
import { ALARM_STAGE } from '../../src/app/fieldwork/alarm-stage.js';
import type { JobName } from '../../src/app/jobs/run-jobs.js';
import { count, outboxCounts } from './checks.js';

/** The last of the jobs that are due at any hour; the first ones wait where the analysis is behind. */
const LAST_JOB: JobName = 'retention';

const PHASES = {
  analysis: 'while ledger, rollups and events were behind the readings',
  alarms: 'while the alarms were behind',
  jobs: 'between the jobs of a start',
  afterJobs: 'after them',
  outbox: 'with messages waiting to be sent',
} as const;

type Phase = keyof typeof PHASES;

/** What a server was about when it was killed, read from what it left; several things at once, mostly. */
export class KilledPhases {
  readonly #kills = new Map<Phase, number>();

  look(db: Database.Database): void {
    const lastSeq = count(db, 'SELECT coalesce(max(seq), 0) FROM change');
    if (isBehind(db, ANALYSIS_STAGE, lastSeq)) this.#count('analysis');
    if (isBehind(db, ALARM_STAGE, lastSeq)) this.#count('alarms');
    if (count(db, 'SELECT count(*) FROM job') > 0) this.#count(hasRun(db, LAST_JOB) ? 'afterJobs' : 'jobs');
    if (outboxCounts(db).waiting > 0) this.#count('outbox');
  }

  get notes(): readonly string[] {
    return (Object.keys(PHASES) as Phase[]).map((phase) => `${this.#kills.get(phase) ?? 0} kills ${PHASES[phase]}`);
  }

  #count(phase: Phase): void {
    this.#kills.set(phase, (this.#kills.get(phase) ?? 0) + 1);
  }
}

/** As if the hour of every job had come again: the next start runs them all. */
export function makeJobsDue(db: Database.Database): void {
  db.prepare('DELETE FROM job').run();
}

function isBehind(db: Database.Database, stage: string, lastSeq: number): boolean {
  const done = db.prepare('SELECT seq FROM cursor WHERE stage = ?').pluck().get(stage);
  return Number(done ?? 0) < lastSeq;
}

function hasRun(db: Database.Database, job: JobName): boolean {
  return db.prepare('SELECT 1 FROM job WHERE job = ?').pluck().get(job) !== undefined;
}

import { ANALYSIS_STAGE } from '../../src/app/analysis/analysis-stage.js';
import { ALARM_STAGE } from '../../src/app/fieldwork/alarm-stage.js';
import { NOTIFY_STAGE } from '../../src/app/fieldwork/notify-stage.js';
import { count, openLeft, outboxCounts } from './checks.js';
import { sleep } from './served.js';

const SETTLE_MS = 240_000;
const STAGE_NAMES = [ANALYSIS_STAGE, ALARM_STAGE, NOTIFY_STAGE] as const;
const STAGES = STAGE_NAMES.map((name) => `'${name}'`).join(', ');

/** Null once every stage has come to the end of the change log and nothing waits to be sent; otherwise what does. */
export async function untilSettled(dir: string): Promise<string | null> {
  const untilMs = Date.now() + SETTLE_MS;
  const db = openLeft(dir);
  try {
    for (;;) {
      const last = count(db, 'SELECT coalesce(max(seq), 0) FROM change');
      const level = count(db, `SELECT count(*) FROM cursor WHERE stage IN (${STAGES}) AND seq >= ${last}`);
      const behind = STAGE_NAMES.length - level;
      const { waiting } = outboxCounts(db);
      if (behind === 0 && waiting === 0) return null;
      if (Date.now() > untilMs)
        return `after ${SETTLE_MS / 1000} s ${behind} stages and ${waiting} messages are behind`;
      await sleep(200);
    }
  } finally {
    db.close();
  }
}

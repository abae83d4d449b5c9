import { upsertText } from '../sql.js';
import type { Applier } from './context.js';

const PUBLISHED_VISIT = upsertText('published_visit', ['stop_id'], ['day', 'published_ms', 'plan_json']);
const LEARNED_PACE = upsertText('learned_pace', ['learned_ms'], ['pace_json']);

/** Undo reaches back this many states of the draft. */
const VERSIONS_KEPT = 40;

export const planVersion: Applier<'plan_version'> = ({ sql, lines }, { kind, row }) => {
  const { madeMs, madeBy, cause, previousSeq, content } = row;
  sql.run(
    `INSERT INTO plan_version (made_ms, made_by, cause, previous_seq, content_json) VALUES (?, ?, ?, ?, ?)`,
    madeMs,
    madeBy,
    cause,
    previousSeq,
    JSON.stringify(content),
  );
  sql.run(`DELETE FROM plan_version WHERE seq <= (SELECT max(seq) FROM plan_version) - ?`, VERSIONS_KEPT);
  lines.add(kind, cause);
};

export const publishedVisit: Applier<'published_visit'> = ({ sql, lines }, { kind, day, row }) => {
  const { stopId, publishedMs } = row;
  if (sql.run(PUBLISHED_VISIT, stopId, day, publishedMs, JSON.stringify(row)) > 0) lines.add(kind, stopId);
};

export const learnedPace: Applier<'learned_pace'> = ({ sql, lines }, { kind, row }) => {
  if (sql.run(LEARNED_PACE, row.learnedMs, JSON.stringify(row)) > 0) lines.add(kind, 'pace');
};

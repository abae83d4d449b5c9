import type { PlanVersion } from '../../domain/plan.js';
import type { PlanReader } from '../../domain/ports/store.js';
import { parseJson } from '../json.js';
import { learnedPaceJson, planContentJson, publishedVisitJson } from '../json-plans.js';
import { selectList } from '../sql.js';
import type { ReadContext } from './context.js';

const VERSION = selectList(['seq', 'made_ms', 'made_by', 'cause', 'previous_seq', 'content_json']);

type VersionRow = Omit<PlanVersion, 'content'> & { readonly contentJson: string };

function toVersion({ contentJson, ...row }: VersionRow): PlanVersion {
  const place = { table: 'plan_version', column: 'content_json', key: String(row.seq) };
  return { ...row, content: parseJson(planContentJson, contentJson, place) };
}

export function planReader({ read }: ReadContext): PlanReader {
  return {
    latestVersion: () =>
      read((sql) => {
        const row = sql.get<VersionRow>(`SELECT ${VERSION} FROM plan_version ORDER BY seq DESC LIMIT 1`);
        return row === undefined ? null : toVersion(row);
      }),
    version: (seq) =>
      read((sql) => {
        const row = sql.get<VersionRow>(`SELECT ${VERSION} FROM plan_version WHERE seq = ?`, seq);
        return row === undefined ? null : toVersion(row);
      }),
    publishedVisits: (fromDay, toDay) =>
      read((sql) =>
        sql
          .all<{ id: string; json: string }>(
            `SELECT stop_id AS "id", plan_json AS "json" FROM published_visit WHERE day BETWEEN ? AND ?`,
            fromDay,
            toDay,
          )
          .map(({ id, json }) =>
            parseJson(publishedVisitJson, json, { table: 'published_visit', column: 'plan_json', key: id }),
          ),
      ),
    learnedPace: () =>
      read((sql) => {
        const row = sql.get<{ atMs: number; json: string }>(
          'SELECT learned_ms AS "atMs", pace_json AS "json" FROM learned_pace ORDER BY learned_ms DESC LIMIT 1',
        );
        if (row === undefined) return null;
        const place = { table: 'learned_pace', column: 'pace_json', key: String(row.atMs) };
        return parseJson(learnedPaceJson, row.json, place);
      }),
  };
}

import type { Absence } from '../../domain/crew.js';
import type { CrewReader } from '../../domain/ports/store.js';
import { ABSENCE_COLUMNS } from '../columns.js';
import { crewTermsJson, parseJson, siteTermsJson } from '../json.js';
import { selectList } from '../sql.js';
import type { ReadContext } from './context.js';

const ABSENCE = selectList(['id', ...ABSENCE_COLUMNS]);

interface TermsRow {
  readonly key: string;
  readonly json: string;
}

export function crewReader({ read }: ReadContext): CrewReader {
  return {
    crewTerms: () =>
      read((sql) =>
        sql
          .all<TermsRow>('SELECT person_id AS "key", terms_json AS "json" FROM crew_terms ORDER BY person_id')
          .map(({ key, json }) => parseJson(crewTermsJson, json, { table: 'crew_terms', column: 'terms_json', key })),
      ),
    siteTerms: () =>
      read((sql) =>
        sql
          .all<TermsRow>('SELECT site_id AS "key", terms_json AS "json" FROM site_terms ORDER BY site_id')
          .map(({ key, json }) => parseJson(siteTermsJson, json, { table: 'site_terms', column: 'terms_json', key })),
      ),
    absences: ({ fromDay }) =>
      read((sql) =>
        sql.all<Absence>(
          `SELECT ${ABSENCE} FROM absence WHERE ended_ms IS NULL AND to_day >= ? ORDER BY from_day, id`,
          fromDay ?? '',
        ),
      ),
    absence: (id) => read((sql) => sql.get<Absence>(`SELECT ${ABSENCE} FROM absence WHERE id = ?`, id) ?? null),
  };
}

import { ABSENCE_COLUMNS } from '../columns.js';
import { upsertText } from '../sql.js';
import type { Applier } from './context.js';

const CREW_TERMS = upsertText('crew_terms', ['person_id'], ['terms_json']);
const SITE_TERMS = upsertText('site_terms', ['site_id'], ['terms_json']);
const ABSENCE = upsertText('absence', ['id'], ABSENCE_COLUMNS);

export const crewTerms: Applier<'crew_terms'> = ({ sql, lines }, { kind, row }) => {
  if (sql.run(CREW_TERMS, row.personId, JSON.stringify(row)) > 0) lines.add(kind, row.personId);
};

export const siteTerms: Applier<'site_terms'> = ({ sql, lines }, { kind, row }) => {
  if (sql.run(SITE_TERMS, row.siteId, JSON.stringify(row)) > 0) lines.add(kind, row.siteId, { siteId: row.siteId });
};

export const absence: Applier<'absence'> = ({ sql, lines }, { kind, row }) => {
  const { id, personId, truckId, fromDay, toDay, reason, endedMs } = row;
  if (sql.run(ABSENCE, id, personId, truckId, fromDay, toDay, reason, endedMs) > 0) lines.add(kind, id);
};

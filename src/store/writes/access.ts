import type { SiteAccess } from '../../domain/site-access.js';
import { readSiteAccess, sealedSiteAccess } from '../sealed-rows.js';
import { upsertText } from '../sql.js';
import type { Applier } from './context.js';

const SITE_ACCESS = upsertText('site_access', ['site_id'], ['key_id', 'sealed']);
const LOOK = 'INSERT INTO access_look (at_ms, person_id, site_id, stop_id) VALUES (?, ?, ?, ?)';

export const siteAccess: Applier<'site_access'> = ({ sql, vault, lines }, { kind, row }) => {
  const before = readSiteAccess(sql, vault, row.siteId);
  if (isSame(before, row)) return;
  if (row.notes === null && row.contacts.length === 0) {
    sql.run('DELETE FROM site_access WHERE site_id = ?', row.siteId);
  } else {
    const { keyId, sealed } = sealedSiteAccess(vault, row);
    sql.run(SITE_ACCESS, row.siteId, keyId, sealed);
  }
  lines.add(kind, row.siteId, { siteId: row.siteId });
};

export const accessLook: Applier<'access_look'> = ({ sql, lines }, { kind, row }) => {
  sql.run(LOOK, row.atMs, row.personId, row.siteId, row.stopId);
  lines.add(kind, row.personId, { siteId: row.siteId });
};

/** Sealing makes other bytes each time, so that sameness shows in the clear only. */
function isSame(before: SiteAccess | null, row: SiteAccess): boolean {
  if (before === null) return row.notes === null && row.contacts.length === 0;
  return before.notes === row.notes && JSON.stringify(before.contacts) === JSON.stringify(row.contacts);
}

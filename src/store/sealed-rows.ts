import { z } from 'zod';
import type { SecondFactor } from '../domain/doors.js';
import { DomainError } from '../domain/errors.js';
import type { PersonId, SiteId } from '../domain/ids.js';
import type { SiteAccess } from '../domain/site-access.js';
import { parseJson } from './json.js';
import type { Sql } from './sql.js';
import type { Sealed, Vault } from './vault.js';

/** Tables with sealed columns: the key of a row, and the place that is authenticated with its text. */
export const SEALED_TABLES = [
  { table: 'site_access', key: 'site_id', place: (key: string) => `site_access ${key}` },
  { table: 'second_factor', key: 'person_id', place: (key: string) => `second_factor ${key}` },
] as const;

const accessJson = z.object({
  notes: z.string().nullable(),
  contacts: z.array(z.object({ name: z.string(), phone: z.string().nullable(), email: z.string().nullable() })),
});

export function sealedSiteAccess(vault: Vault, { siteId, notes, contacts }: SiteAccess): Sealed {
  const plain = contacts.map(({ name, phone, email }) => ({ name, phone, email }));
  return vault.seal(`site_access ${siteId}`, JSON.stringify({ notes, contacts: plain }));
}

export function readSiteAccess(sql: Sql, vault: Vault, siteId: SiteId): SiteAccess | null {
  const row = sql.get<Sealed>('SELECT key_id AS "keyId", sealed FROM site_access WHERE site_id = ?', siteId);
  if (row === undefined) return null;
  const text = vault.open(`site_access ${siteId}`, row);
  return { siteId, ...parseJson(accessJson, text, { table: 'site_access', key: siteId, column: 'sealed' }) };
}

export function sealedSecondFactor(vault: Vault, { personId, secret }: SecondFactor): Sealed {
  return vault.seal(`second_factor ${personId}`, secret);
}

export function readSecondFactor(sql: Sql, vault: Vault, personId: PersonId): SecondFactor | null {
  const row = sql.get<Sealed & Pick<SecondFactor, 'confirmedMs' | 'lastStep'>>(
    `SELECT key_id AS "keyId", sealed, confirmed_ms AS "confirmedMs", last_step AS "lastStep"
     FROM second_factor WHERE person_id = ?`,
    personId,
  );
  if (row === undefined) return null;
  const { confirmedMs, lastStep } = row;
  return { personId, secret: vault.open(`second_factor ${personId}`, row), confirmedMs, lastStep };
}

export function holdsSealed(sql: Sql): boolean {
  return SEALED_TABLES.some(({ table }) => sql.get(`SELECT 1 FROM ${table} LIMIT 1`) !== undefined);
}

/**
 * Seals what an older layout kept open. The pages that held it are overwritten, not only given free; the copy that was
 * kept of the older layout still holds it.
 * @returns how many texts were sealed
 */
export function sealOpenNotes(sql: Sql, vault: Vault): number {
  const open = 'SELECT id, access_notes AS notes FROM site WHERE access_notes IS NOT NULL';
  if (sql.get(open) === undefined) return 0;
  sql.db.pragma('secure_delete = ON');
  const sealed = sql.db
    .transaction(() => {
      const rows = sql.all<{ id: string; notes: string }>(open);
      for (const { id, notes } of rows) {
        const { keyId, sealed: bytes } = sealedSiteAccess(vault, { siteId: id, notes, contacts: [] });
        sql.run('INSERT OR IGNORE INTO site_access (site_id, key_id, sealed) VALUES (?, ?, ?)', id, keyId, bytes);
        sql.run('UPDATE site SET access_notes = NULL WHERE id = ?', id);
      }
      return rows.length;
    })
    .immediate();
  sql.db.pragma('wal_checkpoint(TRUNCATE)');
  return sealed;
}

/** Opens every sealed text once. @returns how many did open, and in words what was wrong with the first that did not */
export function openAll(sql: Sql, vault: Vault): { readonly opened: number; readonly trouble: string | null } {
  let opened = 0;
  let trouble: string | null = null;
  for (const { table, key, place } of SEALED_TABLES) {
    const rows = sql.all<Sealed & { readonly key: string }>(
      `SELECT ${key} AS key, key_id AS "keyId", sealed FROM ${table}`,
    );
    for (const row of rows) {
      try {
        vault.open(place(row.key), row);
        opened += 1;
      } catch (error) {
        if (!(error instanceof DomainError)) throw error;
        trouble ??= error.message;
      }
    }
  }
  return { opened, trouble };
}

/** Seals every row anew with the key that seals now. @returns how many rows had another */
export function resealAll(sql: Sql, vault: Vault, keyId: string): number {
  return sql.db
    .transaction(() => {
      let count = 0;
      for (const { table, key, place } of SEALED_TABLES) {
        const rows = sql.all<Sealed & { readonly key: string }>(
          `SELECT ${key} AS key, key_id AS "keyId", sealed FROM ${table} WHERE key_id <> ?`,
          keyId,
        );
        for (const row of rows) {
          const anew = vault.seal(place(row.key), vault.open(place(row.key), row));
          sql.run(`UPDATE ${table} SET key_id = ?, sealed = ? WHERE ${key} = ?`, anew.keyId, anew.sealed, row.key);
        }
        count += rows.length;
      }
      return count;
    })
    .immediate();
}

import type { Actor, Write, WriteKind } from '../../domain/change-set.js';
import type { ContainerId, EpochMs, NodeId, SiteId } from '../../domain/ids.js';
import { LocalDays } from '../../domain/local-day.js';
import type { ChangeLines } from '../change-lines.js';
import type { Sql } from '../sql.js';
import type { Vault } from '../vault.js';

export type WriteOf<Kind extends WriteKind> = Extract<Write, { readonly kind: Kind }>;

export interface ReadingCounts {
  added: number;
  completed: number;
  corrected: number;
  repeated: number;
}

/** What a write needs besides its rows. It lives for one commit. */
export interface WriteContext {
  readonly sql: Sql;
  readonly vault: Vault;
  readonly atMs: EpochMs;
  readonly actor: Actor;
  readonly lines: ChangeLines;
  readonly counts: ReadingCounts;
  /** Nodes whose assignments were written; checked for overlaps before the commit. */
  readonly reassignedNodes: Set<NodeId>;
}

/** Applies one kind of write, and adds its lines to the change log where anything changed. */
export type Applier<Kind extends WriteKind> = (context: WriteContext, write: WriteOf<Kind>) => void;

export function siteOfContainer(sql: Sql, containerId: ContainerId): SiteId | null {
  return (
    sql.get<{ siteId: SiteId }>('SELECT site_id AS "siteId" FROM container WHERE id = ?', containerId)?.siteId ?? null
  );
}

// A calendar costs tens of microseconds to make; there are few zones.
const calendars = new Map<string, LocalDays>();

/** The site's calendar; UTC where the site is not known. */
export function calendarOfSite(sql: Sql, siteId: SiteId | null): LocalDays {
  const zone =
    siteId === null
      ? undefined
      : sql.get<{ timeZone: string }>('SELECT time_zone AS "timeZone" FROM site WHERE id = ?', siteId)?.timeZone;
  const name = zone ?? 'UTC';
  const calendar = calendars.get(name) ?? new LocalDays(name);
  calendars.set(name, calendar);
  return calendar;
}

import type { EpochMs, PersonId, SiteId } from './ids.js';

/** Somebody at the client's whom the crew may call about getting in. */
export interface SiteContact {
  readonly name: string;
  readonly phone: string | null;
  readonly email: string | null;
}

/** How to get into a site and whom to call there: gate codes and people's numbers. Kept encrypted. */
export interface SiteAccess {
  readonly siteId: SiteId;
  readonly notes: string | null;
  readonly contacts: readonly SiteContact[];
}

/** One time that somebody was shown how to get into a site. */
export interface AccessLook {
  readonly atMs: EpochMs;
  readonly personId: PersonId;
  readonly siteId: SiteId;
  /** The stop on whose account it was shown; null where the role alone opens it. */
  readonly stopId: string | null;
}

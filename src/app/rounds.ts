import type { Principal } from '../domain/access.js';
import type { LocalDay, PersonId, SiteId } from '../domain/ids.js';
import type { RoundStop } from '../domain/work.js';
import type { App } from './context.js';
import type { RoundView } from './work-views.js';

/** All rounds of a day (for a technician: the own one), each with its stops in order. `day` null: today. */
export declare function rounds(
  app: App,
  who: Principal,
  query: { readonly day: LocalDay | null; readonly technicianId: PersonId | null },
): Promise<readonly RoundView[]>;

/** One technician's round of a day; empty where nothing was planned. `day` null: today. */
export declare function round(
  app: App,
  who: Principal,
  query: { readonly technicianId: PersonId; readonly day: LocalDay | null },
): Promise<RoundView>;

/**
 * Puts a site's stop on a technician's round. A stop of that site that is planned for the same day moves here from
 * whatever round it is on; planning it twice changes nothing. `position` null: last.
 */
export declare function planStop(
  app: App,
  who: Principal,
  input: {
    readonly siteId: SiteId;
    readonly technicianId: PersonId;
    readonly day: LocalDay;
    readonly position: number | null;
  },
): Promise<RoundStop>;

/** Moves a planned stop to another technician, day or position; what is null stays as it is. */
export declare function moveStop(
  app: App,
  who: Principal,
  input: {
    readonly stopId: string;
    readonly technicianId: PersonId | null;
    readonly day: LocalDay | null;
    readonly position: number | null;
  },
): Promise<RoundStop>;

/** Takes a planned stop off its round; its tasks are proposed again. */
export declare function removeStop(app: App, who: Principal, stopId: string): Promise<void>;

/** The technician sets out for a stop. */
export declare function setOut(app: App, who: Principal, stopId: string): Promise<RoundStop>;

import type { LocalDay } from '../ids.js';

/** Makes the backups that the clock asks for. */
export interface Backups {
  /** Sees to it that there is a good backup of this day; returns at once, and does nothing where there is one already. */
  request(day: LocalDay): void;
}

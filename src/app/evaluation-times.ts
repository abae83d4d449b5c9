import type { EpochMs } from '../domain/ids.js';
import { HOUR_MS, type LocalDays } from '../domain/local-day.js';

/** The dispatcher's desk opens: what is known by then is what the day is planned on. */
const MORNING = { hour: 7, minute: 30 } as const;

/**
 * When a pot is looked at although nothing has arrived, in (afterMs, untilMs]: at each full UTC hour, for what only time
 * makes true (silence, a forecast that runs out), and at 07:30 on the wall of the site. Besides these a pot is looked
 * at after each arrival, at the time of its receipt. The live stage and the replay both go by this.
 */
export function evaluationTimes(afterMs: EpochMs, untilMs: EpochMs, calendar: LocalDays): readonly EpochMs[] {
  const times: EpochMs[] = [];
  for (let hourMs = (Math.floor(afterMs / HOUR_MS) + 1) * HOUR_MS; hourMs <= untilMs; hourMs += HOUR_MS) {
    const day = calendar.dayOf(hourMs - 1);
    const morningMs = calendar.atMs(day, MORNING.hour, MORNING.minute);
    if (morningMs > hourMs - HOUR_MS && morningMs < hourMs && morningMs > afterMs) times.push(morningMs);
    times.push(hourMs);
  }
  const lastMorningMs = calendar.atMs(calendar.dayOf(untilMs), MORNING.hour, MORNING.minute);
  const lastMs = times.at(-1) ?? afterMs;
  if (lastMorningMs > lastMs && lastMorningMs <= untilMs) times.push(lastMorningMs);
  return times;
}

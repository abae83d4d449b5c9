import type { SiteCalendar } from '../../analytics/marks.js';
import type { EpochMs } from '../../domain/ids.js';
import { HOUR_MS } from '../../domain/local-day.js';

/** The dispatcher's desk opens at 07:30 on the wall, two hours after the day turns: what is known then is planned on. */
const MORNING_AFTER_DAWN_MS = 2 * HOUR_MS;

/**
 * When a pot is looked at although nothing has arrived, in (afterMs, untilMs]: at each full UTC hour, for what only time
 * makes true (silence, a forecast that runs out), and at 07:30 on the wall of the site. Besides these a pot is looked
 * at after each arrival, at the time of its receipt. The live stage and the replay both go by this.
 */
export function evaluationTimes(afterMs: EpochMs, untilMs: EpochMs, calendar: SiteCalendar): readonly EpochMs[] {
  const times: EpochMs[] = [];
  let atMs = afterMs;
  while (true) {
    const hourMs = (Math.floor(atMs / HOUR_MS) + 1) * HOUR_MS;
    const morningMs = nextMorning(calendar, atMs);
    atMs = Math.min(hourMs, morningMs);
    if (atMs > untilMs) return times;
    times.push(atMs);
  }
}

function nextMorning(calendar: SiteCalendar, afterMs: EpochMs): EpochMs {
  const day = calendar.at(afterMs);
  const morningMs = day.dawnMs + MORNING_AFTER_DAWN_MS;
  return morningMs > afterMs ? morningMs : calendar.numbered(day.number + 1).dawnMs + MORNING_AFTER_DAWN_MS;
}

/** Site-local days by `Intl` alone, so that the page need not carry a time library. Days are `YYYY-MM-DD`. */

const HOUR_MS = 3_600_000;
export const DAY_MS = 24 * HOUR_MS;

const formats = new Map<string, Intl.DateTimeFormat>();

function partsFormat(timeZone: string): Intl.DateTimeFormat {
  const known = formats.get(timeZone);
  if (known !== undefined) return known;
  const made = new Intl.DateTimeFormat('en-US', {
    timeZone,
    calendar: 'iso8601',
    numberingSystem: 'latn',
    year: 'numeric',
    month: '2-digit',
    day: '2-digit',
    hour: '2-digit',
    minute: '2-digit',
    second: '2-digit',
    hourCycle: 'h23',
  });
  formats.set(timeZone, made);
  return made;
}

interface WallTime {
  readonly day: string;
  readonly hour: number;
  readonly minute: number;
  readonly second: number;
}

/** What calendar and clock on the wall show in a zone. @throws RangeError for an unknown zone */
export function wallTime(ms: number, timeZone: string): WallTime {
  const found = new Map<string, string>();
  for (const part of partsFormat(timeZone).formatToParts(ms)) found.set(part.type, part.value);
  const part = (name: string): string => {
    const value = found.get(name);
    if (value === undefined) throw new Error(`Intl gave no ${name} for zone ${timeZone}`);
    return value;
  };
  return {
    day: `${part('year')}-${part('month')}-${part('day')}`,
    hour: Number(part('hour')),
    minute: Number(part('minute')),
    second: Number(part('second')),
  };
}

export const dayOf = (ms: number, timeZone: string): string => wallTime(ms, timeZone).day;

/** Hours since local midnight by the clock on the wall, 0-24. */
export function wallHour(ms: number, timeZone: string): number {
  const wall = wallTime(ms, timeZone);
  return wall.hour + wall.minute / 60 + wall.second / 3600;
}

/** Minutes that the zone is ahead of UTC at an instant. */
function offsetMs(ms: number, timeZone: string): number {
  const wall = wallTime(ms, timeZone);
  const asUtc = Date.parse(`${wall.day}T00:00:00Z`) + ((wall.hour * 60 + wall.minute) * 60 + wall.second) * 1000;
  return asUtc - Math.floor(ms / 1000) * 1000;
}

/** First instant of a local day, right across daylight-saving changes. */
export function startOfDayMs(day: string, timeZone: string): number {
  const utcMidnight = Date.parse(`${day}T00:00:00Z`);
  const first = utcMidnight - offsetMs(utcMidnight, timeZone);
  const second = utcMidnight - offsetMs(first, timeZone);
  if (dayOf(second, timeZone) === day) return second;
  // Midnight itself is skipped on the day of the change: the day begins at the jump.
  return second + HOUR_MS;
}

export function addDays(day: string, days: number): string {
  return new Date(Date.parse(`${day}T00:00:00Z`) + days * DAY_MS).toISOString().slice(0, 10);
}

/** The local midnights in (fromMs, toMs]. */
export function midnights(fromMs: number, toMs: number, timeZone: string): readonly number[] {
  const found: number[] = [];
  let day = addDays(dayOf(fromMs, timeZone), 1);
  for (let ms = startOfDayMs(day, timeZone); ms <= toMs; ms = startOfDayMs(day, timeZone)) {
    found.push(ms);
    day = addDays(day, 1);
  }
  return found;
}

/** Weekdays, wall-clock minutes and lists of words, as forms show and read them. */
export const WEEKDAYS = [1, 2, 3, 4, 5, 6, 7] as const;

/** Monday 1 January 2024 was an ISO weekday 1. */
const A_MONDAY_MS = Date.UTC(2024, 0, 1, 12);
const DAY_MS = 86_400_000;

export function weekdayName(weekday: number, locale: string, width: 'long' | 'short'): string {
  return new Intl.DateTimeFormat(locale, { timeZone: 'UTC', weekday: width }).format(
    A_MONDAY_MS + (weekday - 1) * DAY_MS,
  );
}

/** `07:30` of 450 minutes, to the nearest one; 24:00 is shown as the last minute that a clock shows. */
export function toClock(minute: number): string {
  const shown = Math.min(Math.round(minute), 1_439);
  return `${String(Math.floor(shown / 60)).padStart(2, '0')}:${String(shown % 60).padStart(2, '0')}`;
}

/** Minutes after midnight of `07:30`; null for anything else. */
export function fromClock(text: string): number | null {
  const match = /^(\d{1,2}):(\d\d)/.exec(text);
  if (match === null) return null;
  const minute = Number(match[1]) * 60 + Number(match[2]);
  return minute < 1_440 ? minute : null;
}

/** `roof ladder, key 14` as a list without empty words and repeats. */
export function wordsOf(text: string): readonly string[] {
  return [
    ...new Set(
      text
        .split(',')
        .map((word) => word.trim())
        .filter((word) => word !== ''),
    ),
  ];
}

/** Weekdays as people say them: `Mon–Fri`, `Mon, Wed, Sat`. */
export function sayWeekdays(weekdays: readonly number[], locale: string): string {
  const sorted = [...new Set(weekdays)].toSorted((a, b) => a - b);
  const name = (weekday: number): string => weekdayName(weekday, locale, 'short');
  const parts: string[] = [];
  for (let i = 0; i < sorted.length; ) {
    let end = i;
    while (end + 1 < sorted.length && sorted[end + 1] === sorted[end]! + 1) end++;
    if (end - i >= 2) parts.push(`${name(sorted[i]!)}–${name(sorted[end]!)}`);
    else for (let k = i; k <= end; k++) parts.push(name(sorted[k]!));
    i = end + 1;
  }
  return parts.join(', ');
}

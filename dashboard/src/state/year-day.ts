/** Days of the year, `MM-DD`, as forms show and make them; a leap year is meant, so that 29 February is one. */
const LEAP_YEAR = 2028;

export const MONTHS = [1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12] as const;

export function monthName(month: number, locale: string): string {
  return named({ month: 'long' }, locale, month, 1);
}

/** `15 April`. */
export function yearDayWords(monthDay: string, locale: string): string {
  const [month = 1, day = 1] = monthDay.split('-').map(Number);
  return named({ month: 'long', day: 'numeric' }, locale, month, day);
}

export function daysOfMonth(month: number): readonly number[] {
  const last = new Date(Date.UTC(LEAP_YEAR, month, 0)).getUTCDate();
  return Array.from({ length: last }, (_, index) => index + 1);
}

export function yearDayOf(month: number, day: number): string {
  const two = (value: number): string => String(value).padStart(2, '0');
  return `${two(month)}-${two(Math.min(day, daysOfMonth(month).length))}`;
}

function named(style: Intl.DateTimeFormatOptions, locale: string, month: number, day: number): string {
  return new Intl.DateTimeFormat(locale, { ...style, timeZone: 'UTC' }).format(Date.UTC(LEAP_YEAR, month - 1, day, 12));
}

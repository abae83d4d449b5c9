import { addDays } from './zone.js';

/** Months are `YYYY-MM`. */
export const monthOf = (day: string): string => day.slice(0, 7);

export function addMonths(month: string, months: number): string {
  const [year, number] = month.split('-').map(Number) as [number, number];
  const total = year * 12 + (number - 1) + months;
  return `${String(Math.floor(total / 12)).padStart(4, '0')}-${String((total % 12) + 1).padStart(2, '0')}`;
}

/** First and last day of a month. */
export function monthSpan(month: string): { readonly from: string; readonly to: string } {
  return { from: `${month}-01`, to: addDays(`${addMonths(month, 1)}-01`, -1) };
}

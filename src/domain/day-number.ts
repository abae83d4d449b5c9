import type { LocalDay } from './ids.js';

/**
 * Days since 1970-01-01 in the proleptic Gregorian calendar: years counted from 1 March, so that the leap day comes last
 * and months follow the rule (153 m + 2) / 5.
 */
export function numberOfDay(day: LocalDay): number {
  const parts = /^(\d{4})-(\d\d)-(\d\d)$/.exec(day);
  const year = Number(parts?.[1]);
  const month = Number(parts?.[2]);
  const date = Number(parts?.[3]);
  const shiftedYear = month > 2 ? year : year - 1;
  const shiftedMonth = month > 2 ? month - 3 : month + 9;
  const number =
    365 * shiftedYear +
    Math.floor(shiftedYear / 4) -
    Math.floor(shiftedYear / 100) +
    Math.floor(shiftedYear / 400) +
    Math.floor((153 * shiftedMonth + 2) / 5) +
    date -
    1 -
    EPOCH_NUMBER;
  if (parts === null || dayOfNumber(number) !== day) throw new RangeError(`${day} is no day of the calendar`);
  return number;
}

/** 1970-01-01 counted from 0000-03-01. */
const EPOCH_NUMBER = 719_468;
const DAYS_IN_400_YEARS = 146_097;

export function dayOfNumber(number: number): LocalDay {
  const shifted = number + EPOCH_NUMBER;
  const era = Math.floor(shifted / DAYS_IN_400_YEARS);
  const dayOfEra = shifted - era * DAYS_IN_400_YEARS;
  const yearOfEra = Math.floor(
    (dayOfEra - Math.floor(dayOfEra / 1460) + Math.floor(dayOfEra / 36_524) - Math.floor(dayOfEra / 146_096)) / 365,
  );
  const dayFromMarch = dayOfEra - (365 * yearOfEra + Math.floor(yearOfEra / 4) - Math.floor(yearOfEra / 100));
  const shiftedMonth = Math.floor((5 * dayFromMarch + 2) / 153);
  const date = dayFromMarch - Math.floor((153 * shiftedMonth + 2) / 5) + 1;
  const month = shiftedMonth < 10 ? shiftedMonth + 3 : shiftedMonth - 9;
  const year = yearOfEra + era * 400 + (month <= 2 ? 1 : 0);
  const pad = (value: number, width: number): string => String(value).padStart(width, '0');
  return `${pad(year, 4)}-${pad(month, 2)}-${pad(date, 2)}`;
}

import { Temporal } from 'temporal-polyfill';

export const HOUR_MS = 3_600_000;
export const DAY_MS = 86_400_000;
export const STEP_MS = 900_000;
export const STEPS_PER_HOUR = 4;
export const STEP_HOURS = 0.25;

/**
 * The simulated span: hours counted from `startMs`, and the local days of one zone laid over them. The start is a local
 * midnight of the zone, so that whole local days can be drawn.
 */
export class Calendar {
  readonly timeZone: string;
  readonly startMs: number;
  readonly hours: number;
  readonly days: readonly string[];
  /** First instant of each local day, and one more for the end of the last. */
  readonly dayStartMs: readonly number[];
  readonly dayOfYear: readonly number[];
  /** Month 0-11 and the day's place in it, for interpolating monthly normals. */
  readonly monthPosition: readonly number[];

  constructor(timeZone: string, firstDay: string, dayCount: number) {
    this.timeZone = timeZone;
    const days: string[] = [];
    const starts: number[] = [];
    const doys: number[] = [];
    const positions: number[] = [];
    let date = Temporal.PlainDate.from(firstDay);
    for (let i = 0; i <= dayCount; i++) {
      starts.push(date.toZonedDateTime(timeZone).epochMilliseconds);
      if (i < dayCount) {
        days.push(date.toString());
        doys.push(date.dayOfYear);
        positions.push(date.month - 1 + (date.day - 0.5) / date.daysInMonth - 0.5);
      }
      date = date.add({ days: 1 });
    }
    this.days = days;
    this.dayStartMs = starts;
    this.dayOfYear = doys;
    this.monthPosition = positions;
    this.startMs = starts[0]!;
    this.hours = Math.round((starts[dayCount]! - this.startMs) / HOUR_MS);
  }

  /** Index of the local day that holds the instant; clamped to the span. */
  dayIndex(ms: number): number {
    let index = Math.min(this.days.length - 1, Math.max(0, Math.floor((ms - this.startMs) / DAY_MS)));
    while (index > 0 && ms < this.dayStartMs[index]!) index--;
    while (index < this.days.length - 1 && ms >= this.dayStartMs[index + 1]!) index++;
    return index;
  }

  /** Hours on the wall since local midnight; on the two days a year with a clock change, off by an hour after it. */
  wallHour(ms: number): number {
    return (ms - this.dayStartMs[this.dayIndex(ms)]!) / HOUR_MS;
  }
}

/** Interpolates twelve monthly normals, each standing for the middle of its month. */
export function monthly(values: readonly number[], monthPosition: number): number {
  const position = (monthPosition + 12) % 12;
  const month = Math.floor(position);
  const share = position - month;
  return values[month % 12]! * (1 - share) + values[(month + 1) % 12]! * share;
}

const two = (value: number): string => (value < 10 ? `0${value}` : String(value));
let lastDay = Number.NaN;
let lastDate = '';

/** ISO 8601 UTC to the second. The date of the last call is kept: rows of a file mostly share it. */
export function isoSecond(ms: number): string {
  const day = Math.floor(ms / DAY_MS);
  if (day !== lastDay) {
    lastDay = day;
    lastDate = new Date(day * DAY_MS).toISOString().slice(0, 11);
  }
  const seconds = Math.floor((ms - day * DAY_MS) / 1000);
  const minutes = Math.floor(seconds / 60);
  return `${lastDate}${two(Math.floor(minutes / 60))}:${two(minutes % 60)}:${two(seconds % 60)}Z`;
}

export function addDays(day: string, days: number): string {
  return Temporal.PlainDate.from(day).add({ days }).toString();
}

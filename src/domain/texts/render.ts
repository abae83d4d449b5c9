import { numberOfDay } from '../day-number.js';
import type { Message } from '../message.js';
import type { UnitPreferences } from '../registry.js';
import { celsiusToFahrenheit, litresToUsGallons, mmToInches } from '../units.js';

/** How one person reads: language, units, and the zone in which instants are shown. */
export interface Reader {
  /** BCP 47, for numbers and dates. */
  readonly locale: string;
  readonly units: UnitPreferences;
  readonly timeZone: string;
}

export type Catalogue = Readonly<Record<string, string>>;

const UNKNOWN = '–';

const DAY_MS = 86_400_000;
const SITE_DAY = /^\d{4}-\d{2}-\d{2}$/;

/**
 * Renders a message. `{levelMm}` is formatted by its unit, `{dryMs:day}` as a day without the hour,
 * `{pots#pot|pots}` as a number with its word in the singular or plural.
 * @throws Error where the catalogue lacks the code or the message lacks a parameter: a fault of the program
 */
export function render(catalogue: Catalogue, message: Message, reader: Reader): string {
  const template = catalogue[message.code];
  if (template === undefined) throw new Error(`no text for code ${message.code}`);
  return template.replace(
    /\{(\w+)(?::(\w+))?(?:#([^|}]*)\|([^}]*))?\}/g,
    (_all, name: string, style?: string, one?: string, other?: string) => {
      const value = message.params[name];
      if (value === undefined) throw new Error(`text ${message.code} lacks parameter ${name}`);
      if (value === null) return UNKNOWN;
      if (one !== undefined && other !== undefined) {
        return `${formatNumber(Number(value), reader, 0)} ${Number(value) === 1 ? one : other}`;
      }
      return formatParameter(name, value, reader, style);
    },
  );
}

/** Formats one value by the unit at the end of its name. */
export function formatParameter(name: string, value: string | number, reader: Reader, style?: string): string {
  if (typeof value === 'string')
    return SITE_DAY.test(value) && /(^d|D)ay$/.test(name) ? formatDay(value, reader) : value;
  if (name.endsWith('LitresPerDay') || name === 'litresPerDay') return `${formatVolume(value, reader)}/d`;
  if (name.endsWith('Litres') || name === 'litres') return formatVolume(value, reader);
  // A rate by length is no length.
  if (name.endsWith('PerMm')) return formatNumber(value, reader, 2);
  if (name.endsWith('Mm') || name === 'mm') return formatLength(value, reader);
  if (name.endsWith('Ms')) return formatInstant(value, reader, style);
  if (name.endsWith('Fraction')) return `${formatNumber(value * 100, reader, 0)} %`;
  if (/[a-z]C$/.test(name)) return formatTemperature(value, reader);
  if (/[a-z]V$/.test(name)) return `${formatNumber(value, reader, 2)} V`;
  if (name.endsWith('Days')) return `${formatNumber(value, reader, 1)} d`;
  if (name.endsWith('Hours')) return `${formatNumber(value, reader, 1)} h`;
  if (name.endsWith('Minutes')) return `${formatNumber(value, reader, 0)} min`;
  if (name.endsWith('Kg')) return `${formatNumber(value, reader, 0)} kg`;
  return formatNumber(value, reader, 2);
}

export function formatVolume(litres: number, reader: Reader): string {
  if (reader.units.volume === 'US_gal') {
    const gallons = litresToUsGallons(litres);
    return `${formatNumber(gallons, reader, Math.abs(gallons) < 10 ? 1 : 0)} gal`;
  }
  return `${formatNumber(litres, reader, Math.abs(litres) < 10 ? 1 : 0)} L`;
}

export function formatLength(mm: number, reader: Reader): string {
  return reader.units.length === 'in'
    ? `${formatNumber(mmToInches(mm), reader, 1)} in`
    : `${formatNumber(mm, reader, 0)} mm`;
}

export function formatTemperature(celsius: number, reader: Reader): string {
  return reader.units.temperature === 'degF'
    ? `${formatNumber(celsiusToFahrenheit(celsius), reader, 0)} °F`
    : `${formatNumber(celsius, reader, 1)} °C`;
}

export function formatNumber(value: number, reader: Reader, maximumFractionDigits: number): string {
  return numberFormat(reader.locale, maximumFractionDigits).format(value);
}

/** `27 Aug 2026`, of a site-local day `YYYY-MM-DD`. */
export function formatDay(day: string, reader: Reader): string {
  return instantFormat(reader.locale, 'UTC', 'date').format((numberOfDay(day) + 0.5) * DAY_MS);
}

/** `day`: Thu 27 Aug; `time`: 14:05; otherwise both. */
export function formatInstant(epochMs: number, reader: Reader, style?: string): string {
  const format = style === 'day' || style === 'time' ? style : 'both';
  return instantFormat(reader.locale, reader.timeZone, format).format(epochMs);
}

// Intl formatters cost about 50 µs to make and under 1 µs to use.
const numberFormats = new Map<string, Intl.NumberFormat>();
const instantFormats = new Map<string, Intl.DateTimeFormat>();

function numberFormat(locale: string, maximumFractionDigits: number): Intl.NumberFormat {
  const key = `${locale}|${maximumFractionDigits}`;
  const known =
    numberFormats.get(key) ?? new Intl.NumberFormat(locale, { maximumFractionDigits, signDisplay: 'negative' });
  numberFormats.set(key, known);
  return known;
}

function instantFormat(locale: string, timeZone: string, style: 'date' | 'day' | 'time' | 'both'): Intl.DateTimeFormat {
  const key = `${locale}|${timeZone}|${style}`;
  const day = { weekday: 'short', day: 'numeric', month: 'short' } as const;
  const time = { hour: '2-digit', minute: '2-digit', hourCycle: 'h23' } as const;
  const date = { day: 'numeric', month: 'short', year: 'numeric' } as const;
  const options = { date, day, time, both: { ...day, ...time } }[style];
  const known = instantFormats.get(key) ?? new Intl.DateTimeFormat(locale, { timeZone, ...options });
  instantFormats.set(key, known);
  return known;
}

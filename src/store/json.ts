import { z } from 'zod';
import type { AlarmKind } from '../domain/alarm.js';
import type { CrewTerms, SiteTerms } from '../domain/crew.js';
import { DomainError } from '../domain/errors.js';
import type { Message } from '../domain/message.js';
import type { ContactRules } from '../domain/notify.js';
import type { Forecast } from '../domain/pot.js';
import type { Planting, StrappingPair } from '../domain/registry.js';

/** Where a JSON text stands, for the words when it cannot be read. */
export interface JsonPlace {
  readonly table: string;
  readonly column: string;
  readonly key: string;
}

/**
 * Reads a JSON column.
 * @throws DomainError `store_damaged` that names table, column and row
 */
export function parseJson<Value>(schema: z.ZodType<Value>, text: string, place: JsonPlace): Value {
  let value: unknown;
  try {
    value = JSON.parse(text);
  } catch (cause) {
    throw unreadable(place, 'is no JSON', cause);
  }
  const parsed = schema.safeParse(value);
  if (parsed.success) return parsed.data;
  const issue = parsed.error.issues[0];
  throw unreadable(place, `${issue?.path.join('/') ?? ''}: ${issue?.message ?? 'has another shape'}`, parsed.error);
}

function unreadable(place: JsonPlace, found: string, cause: unknown): DomainError {
  return new DomainError(
    'store_damaged',
    `Column ${place.column} of ${place.table} ${place.key} cannot be read (${found}). The file was changed by something else than this program, or is damaged: put a backup in its place.`,
    { cause },
  );
}

const number = z.number();
const nullableNumber = z.number().nullable();

// The codes of old messages stay readable as they are; the catalogue says whether it still has words for them.
const message = z.object({
  code: z.string(),
  params: z.record(z.string(), z.union([z.string(), z.number(), z.null()])),
}) as unknown as z.ZodType<Message>;

const quantiles = z.object({ p10Ms: nullableNumber, p50Ms: nullableNumber, p90Ms: nullableNumber });

export const messageJson = message;
export const messagesJson: z.ZodType<readonly Message[]> = z.array(message);
export const stringsJson: z.ZodType<readonly string[]> = z.array(z.string());
export const numbersJson: z.ZodType<readonly number[]> = z.array(number);
export const strappingJson: z.ZodType<readonly StrappingPair[]> = z.array(z.tuple([number, number]));
export const plantsJson: z.ZodType<readonly Planting[]> = z.array(
  z.object({
    name: z.string(),
    demandClass: z.enum(['low', 'moderate', 'high']),
    plantedOn: z.string().nullable(),
  }),
);
export const forecastJson: z.ZodType<Forecast> = z.object({
  containerId: z.string(),
  originMs: number,
  knowledge: z.enum(['known', 'learning', 'silent', 'no_node', 'sensor_fault']),
  levelMm: nullableNumber,
  litres: nullableNumber,
  rateLitresPerDay: nullableNumber,
  rateSdLitresPerDay: nullableNumber,
  dry: quantiles.nullable(),
  stress: quantiles.nullable(),
  dataDays: number,
  basis: z.array(message),
});

const weekdayHours = z.object({ weekday: number, fromMinute: number, toMinute: number });

export const crewTermsJson: z.ZodType<CrewTerms> = z.object({
  personId: z.string(),
  shifts: z.array(weekdayHours),
  pause: z.object({ fromMinute: number, minutes: number }).nullable(),
  overtimeMinutes: number,
  truckId: z.string().nullable(),
  home: z.object({ latitude: number, longitude: number }).nullable(),
  skills: z.array(z.string()),
});

export const siteTermsJson: z.ZodType<SiteTerms> = z.object({
  siteId: z.string(),
  hours: z.array(weekdayHours),
  closed: z.array(z.object({ fromDay: z.string(), toDay: z.string() })),
  wateringWeekdays: z.array(number).nullable(),
  skills: z.array(z.string()),
  forbiddenPeople: z.array(z.string()),
  visitEveryDays: nullableNumber,
  // Terms of before there were such dates have none.
  replantOn: z.array(z.string()).default([]),
});

const alarmKind = z.enum([
  'dry',
  'leak',
  'overflow_blocked',
  'wick_failed',
  'waterlogged',
  'node_silent',
  'outage',
  'crew_full',
]) satisfies z.ZodType<AlarmKind>;

const dailyWindow = z.object({ fromMinute: number, toMinute: number });

export const contactRulesJson: z.ZodType<ContactRules> = z.object({
  personId: z.string(),
  timeZone: z.string(),
  siteIds: z.array(z.string()).nullable(),
  minimumPriority: z.enum(['low', 'medium', 'high']),
  // Rules that older programs wrote lack these two.
  kinds: z.array(alarmKind).nullable().default(null),
  working: z
    .array(z.object({ weekday: number, fromMinute: number, toMinute: number }))
    .nullable()
    .default(null),
  quiet: dailyWindow.nullable(),
  digestMinute: number,
  away: z.array(z.object({ fromDay: z.string(), toDay: z.string() })),
  standInId: z.string().nullable(),
});

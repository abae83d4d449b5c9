import { z } from 'zod';
import { flag, id, instant, instantIn, list, localDay, longId, message, number } from './common.js';
import { assignment, container, site } from './registry.js';

export const knowledge = z.enum(['known', 'learning', 'silent', 'no_node', 'sensor_fault']);

export const quantiles = z
  .object({ p10: instant.nullable(), p50: instant.nullable(), p90: instant.nullable() })
  .meta({ id: 'Quantiles', description: 'Null beyond the horizon of 60 days, or where it is not known' });

export const forecast = z
  .object({
    containerId: id,
    originAt: instant,
    knowledge,
    levelMm: z.number().nullable(),
    litres: z.number().nullable(),
    rateLitresPerDay: z.number().nullable(),
    rateSdLitresPerDay: z.number().nullable(),
    dry: quantiles.nullable(),
    stress: quantiles.nullable(),
    dataDays: z.number(),
    basis: list(message),
  })
  .meta({ id: 'Forecast' });

export const status = z
  .object({
    containerId: id,
    at: instant,
    nodeId: id.nullable(),
    lastReadingAt: instant.nullable(),
    levelMm: z.number().nullable(),
    litres: z.number().nullable(),
    capacityLitres: z.number(),
    deadLitres: z.number(),
    moistureFraction: z.number().nullable(),
    temperatureC: z.number().nullable(),
    batteryV: z.number().nullable(),
    forecast,
  })
  .meta({ id: 'PotStatus' });

export const findingKind = z.enum([
  'leak',
  'overflow_blocked',
  'overflow_partly_blocked',
  'wick_failed',
  'wick_limited',
  'waterlogged',
  'demand_collapsed',
  'sensor_stuck',
  'sensor_drift',
  'sensor_unplugged',
  'sensor_fouled',
  'node_silent',
  'nodes_swapped',
  'clock_wrong',
  'battery_low',
]);

export const severity = z.enum(['low', 'medium', 'high']);

export const finding = z
  .object({
    id: longId,
    containerId: id,
    nodeId: id.nullable(),
    kind: findingKind,
    onsetAt: instant.nullable(),
    openedAt: instant,
    closedAt: instant.nullable(),
    size: z.number().nullable(),
    unit: z.string().nullable().meta({ description: 'Unit of `size` in UCUM' }),
    heightMm: z.number().nullable(),
    confidence: z.number(),
    severity,
    evidence: list(message),
    toConfirm: message.nullable(),
  })
  .meta({ id: 'Finding' });

export const eventKind = z.enum(['refill', 'rain', 'overflow', 'drained', 'sudden_loss']);

export const event = z
  .object({
    id: longId,
    containerId: id,
    kind: eventKind,
    startAt: instant,
    endAt: instant,
    startLevelMm: z.number(),
    endLevelMm: z.number(),
    litres: z.number(),
    atLeast: z.boolean(),
    confidence: z.number(),
  })
  .meta({ id: 'Event' });

const correctedKind = z.enum([...eventKind.options, 'none', 'as_found']).meta({
  description:
    'What it really was; `none`: nothing happened to the water; `as_found`: what the levels show counts again',
});

export const eventCorrection = z.object({
  containerId: id,
  correctedKind,
  litres: number(0, 50_000).nullable().default(null).meta({ description: 'Null: as measured' }),
  startAt: instantIn.nullable().default(null).meta({ description: 'When it began; null: when it was seen' }),
});

export const addedEvent = z.object({
  kind: eventKind,
  startAt: instantIn,
  litres: number(0, 50_000).meta({ description: 'What the reservoir gained or lost by it' }),
});

/** A word on an event, with what stood before. */
export const correction = z
  .object({
    eventId: longId,
    containerId: id,
    correctedKind,
    litres: z.number().nullable(),
    startAt: instant.nullable(),
    before: z
      .object({ kind: eventKind, litres: z.number(), startAt: instant })
      .nullable()
      .meta({ description: 'Null where nothing stood' }),
    at: instant,
    actorId: z.string(),
    actorName: z.string(),
  })
  .meta({ id: 'EventCorrection' });

export const containerItem = z
  .object({
    id,
    siteId: id,
    siteName: z.string(),
    accountId: id,
    accountName: z.string(),
    name: z.string(),
    place: z.string().nullable(),
    covered: z.boolean(),
    removedOn: localDay.nullable(),
    status: status.nullable().meta({ description: 'Null before the first analysis' }),
    findings: list(z.object({ kind: findingKind, severity })),
  })
  .meta({ id: 'ContainerItem' });

export const containerDetail = z
  .object({
    container,
    site,
    accountName: z.string(),
    status: status.nullable(),
    findings: list(finding).meta({ description: 'Open, and those closed within the last 60 days' }),
    events: list(event).meta({ description: 'Of the last 60 days, newest first' }),
    corrections: list(correction).meta({ description: 'What people said on these events, newest first' }),
    assignments: list(assignment),
    explanation: list(message).meta({ description: 'Data used, the rate and its parts, assumptions' }),
  })
  .meta({ id: 'ContainerDetail' });

export const explanation = z
  .object({
    at: instant,
    messages: list(message).meta({ description: 'The sentence, data used, the rate and its parts, assumptions' }),
    forecast: forecast.meta({ description: 'Computed now from what was known then' }),
    said: forecast.nullable().meta({ description: 'The last forecast kept by then, within two days' }),
  })
  .meta({ id: 'Explanation' });

export const resolution = z.enum(['raw', 'hour', 'day']);

const column = list(z.number().nullable());

export const cleaningReason = z
  .enum(['smoothed', 'temperature', 'jump', 'waits', 'astray', 'stuck', 'impossible', 'no_level'])
  .meta({
    description:
      'Why a level is what it is after cleaning: `smoothed` within noise and use; `temperature` restated for the sensor’s response to it as well; `jump` two readings agree on a new level; `waits` for the next reading to agree; `astray` the next did not agree; `stuck` repeated for too long; `impossible` for the vessel; `no_level` none was sent',
  });

export const series = z
  .object({
    containerId: id,
    resolution,
    from: instant,
    to: instant,
    /** Instants of readings, starts of UTC hours, or starts of site-local days. */
    time: list(instant),
    levelMm: column,
    levelMinMm: column.nullable(),
    levelMaxMm: column.nullable(),
    litres: column.meta({ description: 'All the water in the reservoir' }),
    moistureFraction: column,
    temperatureC: column,
    batteryV: column,
    cleanedLevelMm: column.nullable().meta({ description: 'After cleaning; null where the level was refused' }),
    cleaningReason: list(cleaningReason).nullable(),
    events: list(event),
    findings: list(finding),
  })
  .meta({ id: 'Series', description: 'One value a point in each column; null where it was not measured' });

export const seriesQuery = z
  .object({
    from: instantIn,
    to: instantIn,
    resolution: resolution.optional().meta({ description: 'Chosen by the length of the span where it is left out' }),
    cleaning: flag
      .default(false)
      .meta({ description: 'For raw readings: also the level after cleaning, and why it is so' }),
  })
  .refine((span) => span.from < span.to, { error: 'is not after `from`', path: ['to'] });

export const ledgerDay = z
  .object({
    containerId: id,
    day: localDay,
    openingLitres: z.number(),
    refillCrewLitres: z.number(),
    refillOtherLitres: z.number(),
    rainLitres: z.number(),
    uptakeLitres: z.number(),
    leakLitres: z.number(),
    overflowLitres: z.number(),
    drainedLitres: z.number(),
    unexplainedLitres: z.number(),
    closingLitres: z.number(),
    sdLitres: z.number(),
    coverage: z.number(),
  })
  .meta({
    id: 'LedgerDay',
    description:
      'opening + refillCrew + refillOther + rain = uptake + leak + overflow + drained + unexplained + closing, in litres',
  });

export const ledgerPosting = ledgerDay
  .extend({ postedAt: instant, supersededAt: instant.nullable().meta({ description: 'Null: it stands' }) })
  .meta({ id: 'LedgerPosting' });

export const waterSum = ledgerDay
  .omit({ containerId: true, day: true, coverage: true })
  .extend({
    id: z.string().meta({ description: 'Of the account, site or container' }),
    name: z.string(),
    month: z.string().nullable().meta({ description: 'YYYY-MM, where months were asked for' }),
    containers: z.number().int(),
    containerDays: z.number().int(),
  })
  .meta({ id: 'WaterSum' });

export const water = z
  .object({
    from: localDay,
    to: localDay,
    by: z.enum(['account', 'site', 'container']),
    items: list(waterSum),
    total: waterSum.nullable().meta({ description: 'Null where there is nothing in the period' }),
  })
  .meta({ id: 'Water' });

export type QuantilesJson = z.infer<typeof quantiles>;
export type ForecastJson = z.infer<typeof forecast>;
export type StatusJson = z.infer<typeof status>;
export type FindingJson = z.infer<typeof finding>;
export type FindingKindJson = z.infer<typeof findingKind>;
export type EventJson = z.infer<typeof event>;
export type EventCorrectionBody = z.input<typeof eventCorrection>;
export type AddedEventBody = z.input<typeof addedEvent>;
export type ExplanationJson = z.infer<typeof explanation>;
export type CorrectionJson = z.infer<typeof correction>;
export type ContainerItem = z.infer<typeof containerItem>;
export type ContainerDetail = z.infer<typeof containerDetail>;
export type Resolution = z.infer<typeof resolution>;
export type Series = z.infer<typeof series>;
export type LedgerDayJson = z.infer<typeof ledgerDay>;
export type WaterSum = z.infer<typeof waterSum>;
export type Water = z.infer<typeof water>;

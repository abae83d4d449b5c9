import { z } from 'zod';
import { flag, id, instant, instantIn, list, localDay, longId, number } from './common.js';

export const principalKind = z.enum(['node', 'gateway', 'station', 'subscriber']);

export const newCredential = z.object({
  principalId: id.meta({ description: 'The MQTT user name: the id of the node or gateway, or a name of your own' }),
  kind: principalKind,
  siteId: id.nullable().default(null).meta({ description: 'The site whose weather a station publishes' }),
  overlapHours: z
    .number()
    .min(0, 'is below 0')
    .max(336, 'is above 336')
    .default(0)
    .meta({ description: 'Hours for which the former secret still opens, so that a node can be given the new one' }),
});

export const credential = z
  .object({
    principalId: id,
    kind: principalKind,
    siteId: id.nullable(),
    createdAt: instant,
    revokedAt: instant.nullable(),
    previousUntil: instant
      .nullable()
      .meta({ description: 'Until when the secret before the last rotation opens as well' }),
  })
  .meta({ id: 'Credential' });

export const madeCredential = z
  .object({
    credential,
    secret: z.string().meta({ description: 'The MQTT password. It is shown once and cannot be shown again.' }),
  })
  .meta({ id: 'MadeCredential' });

export const refusal = z.enum([
  'not_senml',
  'unknown_node',
  'no_quantity',
  'unknown_unit',
  'ratio_out_of_range',
  'impossible_value',
  'before_first_assignment',
  'too_far_ahead',
  'payload_too_large',
  'unknown_site',
  'bad_row',
]);

export const quarantined = z
  .object({
    id: longId,
    receivedAt: instant,
    source: z.string().meta({ description: 'MQTT topic, or `file:NAME:LINE`' }),
    nodeId: z.string().nullable(),
    refusal,
    detail: z.string(),
    contentType: z.string().nullable(),
    recordIndex: z.number().int().nullable(),
    resolvedAt: instant.nullable(),
    rawBase64: z.string().meta({ description: 'The bytes as they came' }),
    rawText: z.string().nullable().meta({ description: 'The same as text, where the bytes are UTF-8' }),
  })
  .meta({ id: 'QuarantinedRecord' });

export const rerun = z.object({
  ids: z.array(longId).min(1, 'names no record').max(1_000, 'names more than 1000 records'),
});

export const rerunOutcome = z
  .object({
    taken: z.number().int(),
    refusedAgain: z.number().int(),
    items: list(z.object({ id: longId, taken: z.boolean(), detail: z.string().nullable() })),
  })
  .meta({ id: 'RerunOutcome' });

const celsius = number(-90, 60).nullable().default(null);

export const weatherDayBody = z
  .object({
    siteId: id,
    day: localDay,
    tminC: celsius,
    tmaxC: celsius,
    humidityFraction: number(0, 1).nullable().default(null),
    windMPerS: number(0, 100).nullable().default(null),
    solarMjPerM2: number(0, 50).nullable().default(null),
    rainMm: number(0, 2_000).nullable().default(null),
    et0Mm: number(0, 30).nullable().default(null),
    rainProbability: number(0, 1).nullable().default(null),
    issuedAt: instantIn
      .nullable()
      .default(null)
      .meta({ description: 'When a forecast was made; null: an observation, known from the end of its local day' }),
  })
  .refine((day) => day.tminC === null || day.tmaxC === null || day.tminC <= day.tmaxC, {
    error: 'is below the day’s lowest',
    path: ['tmaxC'],
  });

export const weatherBody = z.object({
  days: z.array(weatherDayBody).min(1, 'holds no day').max(1_000, 'holds more than 1000 days').readonly(),
});

export const weatherDay = z
  .object({
    siteId: id,
    day: localDay,
    tminC: z.number().nullable(),
    tmaxC: z.number().nullable(),
    humidityFraction: z.number().nullable(),
    windMPerS: z.number().nullable(),
    solarMjPerM2: z.number().nullable(),
    rainMm: z.number().nullable(),
    et0Mm: z.number().nullable().meta({ description: 'Reference evapotranspiration as it was handed in' }),
    rainProbability: z.number().nullable(),
    issuedAt: instant.nullable(),
    usedEt0: z
      .object({
        et0Mm: z.number(),
        estimated: list(z.enum(['temperature', 'humidity', 'wind', 'solar'])).meta({
          description: 'What was not known of the day and was estimated as FAO-56 chapter 3 says',
        }),
      })
      .nullable()
      .meta({ description: 'What the analysis goes by; null: not even the temperatures are known' }),
  })
  .meta({ id: 'WeatherDay' });

export const weatherTaken = z.object({ taken: z.number().int() });

export const weatherQuery = z.object({ siteId: id, from: localDay, to: localDay, forecast: flag.default(false) });

export type CredentialJson = z.infer<typeof credential>;
export type MadeCredential = z.infer<typeof madeCredential>;
export type NewCredentialBody = z.input<typeof newCredential>;
export type QuarantinedJson = z.infer<typeof quarantined>;
export type RerunOutcome = z.infer<typeof rerunOutcome>;
export type WeatherBody = z.input<typeof weatherBody>;
export type WeatherDayJson = z.infer<typeof weatherDay>;

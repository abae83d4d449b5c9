import { z } from 'zod';
import { id, instant, list, localDay, message, number, text } from './common.js';
import { language, units } from './people.js';
import { finding } from './pots.js';
import { assignment } from './registry.js';

export const firm = z
  .object({
    name: z.string(),
    currency: z.string().meta({ description: 'ISO 4217', example: 'EUR' }),
    waterPricePerM3: z
      .number()
      .nullable()
      .meta({ description: 'What a cubic metre of water costs; null where no tariff was set' }),
    language,
    units,
  })
  .meta({ id: 'Firm' });

const currency = z
  .string()
  .trim()
  .toUpperCase()
  .regex(/^[A-Z]{3}$/, 'takes the three letters of ISO 4217, such as EUR');

export const firmChange = z.object({
  name: text(200),
  currency,
  waterPricePerM3: number(0, 10_000).nullable(),
  language,
  units,
});

export const setUpState = z.object({
  awaits: z.boolean().meta({ description: 'Nobody is there yet: the first owner may be made' }),
});

export const setUp = z.object({
  code: z.string().min(1, 'is empty').max(40, 'is longer than 40 characters').meta({
    description: 'As the server’s console shows it',
  }),
  name: text(200),
  login: z
    .string()
    .trim()
    .toLowerCase()
    .regex(/^[a-z0-9._@+-]{2,100}$/, 'takes 2 to 100 of a-z 0-9 . _ @ + -'),
  password: z.string().min(12, 'is shorter than 12 characters').max(200, 'is longer than 200 characters'),
  firm: firmChange,
});

const pair = z.tuple([z.number(), z.number()]).readonly();

const mm = number(0, 20_000);

export const vesselShape = z.discriminatedUnion('kind', [
  z.object({ kind: z.literal('round'), bottomDiameterMm: mm, topDiameterMm: mm }),
  z.object({
    kind: z.literal('box'),
    bottomLengthMm: mm,
    bottomWidthMm: mm,
    topLengthMm: mm,
    topWidthMm: mm,
  }),
]);

export const vesselSize = z.object({
  heightMm: mm.meta({ description: 'From the floor to the separator plate, inside' }),
  overflowMm: mm,
  feetAreaMm2: number(0, 1e8).meta({ description: 'What the plate’s feet take, all together' }),
  wickAreaMm2: number(0, 1e8),
  wickFootMm: mm,
});

export const shapeBody = z.object({ shape: vesselShape, size: vesselSize });

const spokenFault = z.object({ pointer: z.string(), detail: z.string(), message });

const refused = z.object({ kind: z.literal('refused'), faults: list(spokenFault) });

export const tableOfShape = z.discriminatedUnion('kind', [
  z.object({ kind: z.literal('table'), strapping: list(pair) }),
  refused,
]);

export const measuredPour = z.object({ litres: number(0, 50_000), levelMm: number(-100, 5_000) });

export const poursBody = z.object({
  pours: z.array(measuredPour).max(100, 'has more than 100 pours').readonly(),
  keep: z.boolean().default(false).meta({ description: 'Make it the container’s table; otherwise only look' }),
});

const bandPoint = z.object({
  levelMm: z.number(),
  litres: z.number(),
  lowLitres: z.number().meta({ description: 'Nine times in ten the true volume lies between these' }),
  highLitres: z.number(),
});

export const pourResult = z.discriminatedUnion('kind', [
  z.object({
    kind: z.literal('table'),
    strapping: list(pair),
    band: list(bandPoint),
    overflowMm: z.number().nullable().meta({ description: 'Null where the pours did not reach the port' }),
    ranOver: list(z.number().int()).meta({ description: 'Pours that ran over, by index' }),
    kept: z.boolean(),
  }),
  refused,
]);

export const pourRecord = z
  .object({
    id: z.string(),
    containerId: id,
    at: instant,
    actorId: z.string(),
    pours: list(z.object({ litres: z.number(), levelMm: z.number() })),
    strapping: list(pair),
    band: list(bandPoint),
    overflowMm: z.number().nullable(),
  })
  .meta({ id: 'PourRecord' });

export const wickProof = z.discriminatedUnion('kind', [
  z.object({
    kind: z.literal('proved'),
    days: z.number(),
    drawnLitres: z.number(),
    moistureFrom: z.number(),
    moistureTo: z.number(),
    at: instant,
  }),
  z.object({
    kind: z.literal('not_yet_proved'),
    days: z.number(),
    missing: z.enum([
      'no_moisture_sensor',
      'no_level',
      'no_water_at_the_wick',
      'wetted_from_above',
      'too_few_days',
      'too_little_drawn',
    ]),
  }),
  z.object({ kind: z.literal('disproved'), moistureFrom: z.number(), moistureTo: z.number(), at: instant }),
]);

export const commissioning = z
  .object({
    containerId: id,
    poured: pourRecord.nullable().meta({ description: 'The pours behind the table that holds now' }),
    assignment: assignment.nullable(),
    lastReadingAt: instant.nullable(),
    wick: z.object({ sinceAt: instant, proof: wickProof }),
    swapped: finding.nullable(),
  })
  .meta({ id: 'Commissioning' });

export const commissioningItem = z
  .object({
    containerId: id,
    name: z.string(),
    place: z.string().nullable(),
    siteId: id,
    siteName: z.string(),
    accountId: id,
    accountName: z.string(),
    nodeId: id.nullable(),
    lacks: list(z.enum(['node', 'table', 'plants', 'weight', 'wick'])),
    swapped: finding.nullable(),
  })
  .meta({ id: 'CommissioningItem' });

export const levelNow = z
  .object({
    containerId: id,
    nodeId: id.nullable(),
    readings: list(z.object({ time: instant, levelMm: z.number(), litres: z.number() })).meta({
      description: 'Of the last two hours, oldest first, as the node sent them',
    }),
    intervalS: z.number(),
    nextAt: instant.nullable().meta({ description: 'When the sensor’s next word is to be expected' }),
    fastUntil: instant.nullable(),
  })
  .meta({ id: 'LevelNow' });

export const fastReportBody = z.object({ minutes: number(1, 120) });

export const fastReport = z.object({ until: instant });

const figures = {
  uptakeLitres: z.number(),
  containerDays: z.number(),
  potMm: z.number().nullable().meta({ description: 'Pots times mm of reference evapotranspiration' }),
};

const reviewItem = z
  .object({
    id: z.string(),
    name: z.string(),
    containers: z.number().int(),
    ...figures,
    tookLitres: z.number().meta({ description: 'What the pots took on the crew’s visits, by the ledger' }),
    meterLitres: z.number().meta({ description: 'What the crew wrote down as poured' }),
    leakLitres: z.number(),
    overflowLitres: z.number(),
    visits: z.number().int(),
    dryHours: z.number(),
    before: z.object(figures).nullable(),
    weatherLitres: z.number().nullable().meta({
      description: 'What the pots of both spans would have drawn at the earlier thirst in this span’s weather',
    }),
    comparableLitres: z.number().nullable().meta({ description: 'What those pots did draw' }),
  })
  .meta({ id: 'ReviewItem' });

export const waterReview = z
  .object({
    from: localDay,
    to: localDay,
    // The period before the earliest that can be asked for lies outside what may be asked for.
    before: z.object({ from: z.iso.date(), to: z.iso.date() }),
    by: z.enum(['account', 'site', 'container']),
    firmName: z.string(),
    currency: z.string(),
    pricePerM3: z.number().nullable().meta({ description: 'Null without a tariff, and for a client' }),
    items: list(reviewItem),
    total: reviewItem.nullable(),
  })
  .meta({ id: 'WaterReview' });

export type FirmJson = z.infer<typeof firm>;
export type FirmBody = z.input<typeof firmChange>;
export type SetUpBody = z.input<typeof setUp>;
export type ShapeBody = z.input<typeof shapeBody>;
export type TableOfShapeJson = z.infer<typeof tableOfShape>;
export type PourResultJson = z.infer<typeof pourResult>;
export type PourRecordJson = z.infer<typeof pourRecord>;
export type CommissioningJson = z.infer<typeof commissioning>;
export type CommissioningItemJson = z.infer<typeof commissioningItem>;
export type LevelNowJson = z.infer<typeof levelNow>;
export type WaterReviewJson = z.infer<typeof waterReview>;
export type ReviewItemJson = z.infer<typeof reviewItem>;

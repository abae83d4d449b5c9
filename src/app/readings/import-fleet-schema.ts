import { z } from 'zod';
import { type EpochMs, ID_PATTERN, type LocalDay } from '../../domain/ids.js';
import type { Account, Container, Depot, Gateway, Person, Planting, Site, Truck } from '../../domain/registry.js';
import { shown } from '../../domain/senml/shown.js';
import type { SiteAccess } from '../../domain/site-access.js';

/*
 * What a fleet file and the registry's routes take, field by field, in words that a person can act on. Each schema
 * yields the domain's own type. What joins entries (references, double ids, overlaps) is checked by the use cases.
 */

const MAX_NAME = 200;
const MAX_NOTE = 2_000;

/** Chance of a dry container that an account accepts where it does not say one. */
export const DEFAULT_DRY_RISK = 0.05;

const expected = (what: string) => ({
  error: (issue: { readonly input?: unknown }) =>
    issue.input === undefined ? `is missing; ${what} was expected` : `is ${shown(issue.input)}; ${what} was expected`,
});

export const idSchema = z
  .string(expected('an id'))
  .regex(ID_PATTERN, expected('1 to 64 letters, digits, dots, dashes or underscores'));

const nameSchema = z
  .string(expected('a name'))
  .trim()
  .min(1, 'is empty')
  .max(MAX_NAME, `is longer than ${MAX_NAME} characters`);

const noteSchema = z
  .string(expected('a text'))
  .max(MAX_NOTE, `is longer than ${MAX_NOTE} characters`)
  .nullable()
  .default(null);

function number(unit: string, least: number, most: number) {
  const what = `a number from ${least} to ${most}${unit === '' ? '' : ` ${unit}`}`;
  return z.number(expected(what)).min(least, expected(what)).max(most, expected(what));
}

export const daySchema = z
  .string(expected('a day such as 2026-03-01'))
  .refine(isRealDay, expected('a day such as 2026-03-01')) satisfies z.ZodType<LocalDay>;

const INSTANT_PATTERN = /^\d{4}-\d\d-\d\dT\d\d:\d\d(?::\d\d(?:\.\d{1,9})?)?Z$/;

/** ISO 8601 in UTC, to epoch milliseconds. */
export const instantSchema = z
  .string(expected('an instant in UTC such as 2026-06-01T10:00:00Z'))
  .refine(
    (text) => INSTANT_PATTERN.test(text) && !Number.isNaN(Date.parse(text)) && isRealDay(text.slice(0, 10)),
    expected('an instant in UTC such as 2026-06-01T10:00:00Z'),
  )
  .transform((text): EpochMs => Date.parse(text));

export const timeZoneSchema = z
  .string(expected('an IANA time zone such as Europe/Madrid'))
  .refine(isTimeZone, expected('an IANA time zone such as Europe/Madrid'));

export const accountSchema = z.object(
  {
    id: idSchema,
    name: nameSchema,
    dryRisk: number('', 0.001, 0.5).default(DEFAULT_DRY_RISK),
  },
  expected('an account'),
) satisfies z.ZodType<Account, unknown>;

const contactSchema = z.object(
  { name: nameSchema, phone: noteSchema, email: noteSchema },
  expected('a contact with name, phone and email'),
);

export const siteSchema = z.object(
  {
    id: idSchema,
    accountId: idSchema,
    name: nameSchema,
    latitude: number('degrees north', -90, 90),
    longitude: number('degrees east', -180, 180),
    // From the shore of the Dead Sea to the highest towns.
    elevationM: number('m', -450, 6000),
    timeZone: timeZoneSchema,
    tap: z.boolean(expected('true or false')).default(false),
    accessNotes: noteSchema,
    contacts: z.array(contactSchema, expected('an array of contacts')).max(20, 'has more than 20 contacts').default([]),
  },
  expected('a site'),
) satisfies z.ZodType<Site & Omit<SiteAccess, 'siteId' | 'notes'> & { readonly accessNotes: string | null }, unknown>;

export type SiteEntry = z.infer<typeof siteSchema>;

/** Pairs of level and litres, both increasing; the first fault names the pair. */
export const strappingSchema = z
  .array(
    z.tuple([number('mm', 0, 5000), number('litres', 0, 100_000)], expected('a pair [level mm, litres]')),
    expected('an array of pairs [level mm, litres]'),
  )
  .min(2, 'needs at least two pairs [level mm, litres]')
  .max(1000, 'has more than 1000 pairs')
  .superRefine((pairs, context) => {
    for (let i = 1; i < pairs.length; i++) {
      const [beforeMm, beforeLitres] = pairs[i - 1] ?? [0, 0];
      const [levelMm, litres] = pairs[i] ?? [0, 0];
      if (levelMm <= beforeMm) {
        return context.addIssue({ code: 'custom', message: `levels must increase: ${levelMm} follows ${beforeMm}` });
      }
      if (litres <= beforeLitres) {
        return context.addIssue({ code: 'custom', message: `litres must increase: ${litres} follows ${beforeLitres}` });
      }
    }
  });

export const reservoirSchema = z
  .object(
    {
      strapping: strappingSchema,
      overflowMm: number('mm', 1, 5000),
      wickFootMm: number('mm', 0, 5000),
    },
    expected('the reservoir with strapping, overflowMm and wickFootMm'),
  )
  .superRefine((reservoir, context) => {
    if (reservoir.wickFootMm < reservoir.overflowMm) return;
    context.addIssue({
      code: 'custom',
      path: ['wickFootMm'],
      message: `is ${reservoir.wickFootMm}; the wick foot must stand below the overflow invert, ${reservoir.overflowMm}`,
    });
  });

export const plantingSchema = z.object(
  {
    name: nameSchema,
    demandClass: z.enum(['low', 'moderate', 'high'], expected('"low", "moderate" or "high"')).default('moderate'),
    plantedOn: daySchema.nullable().default(null),
  },
  expected('a planting'),
) satisfies z.ZodType<Planting, unknown>;

/** A container alone; the fleet file adds its node. */
export const containerSchema = z.object(
  {
    id: idSchema,
    siteId: idSchema,
    name: nameSchema,
    place: noteSchema,
    covered: z.boolean(expected('true or false')).default(false),
    installedOn: daySchema,
    removedOn: daySchema.nullable().default(null),
    reservoir: reservoirSchema,
    soil: z
      .object({ litres: number('litres', 0.1, 100_000), surfaceM2: number('m²', 0.001, 1000) }, expected('the soil'))
      .nullable()
      .default(null),
    potKg: number('kg', 0, 100_000).nullable().default(null),
    plants: z.array(plantingSchema, expected('an array of plantings')).max(100, 'has more than 100').default([]),
  },
  expected('a container'),
) satisfies z.ZodType<Container, unknown>;

export const fleetContainerSchema = containerSchema.extend({
  nodeId: idSchema.nullable().default(null),
  gatewayId: idSchema.nullable().default(null),
});

export const assignmentSchema = z
  .object(
    {
      id: idSchema.optional(),
      nodeId: idSchema,
      containerId: idSchema,
      from: instantSchema,
      to: instantSchema.nullable().default(null),
      zeroMm: number('mm', -1000, 1000).default(0),
      gatewayId: idSchema.nullable().default(null),
    },
    expected('an assignment'),
  )
  .superRefine((assignment, context) => {
    if (assignment.to === null || assignment.to > assignment.from) return;
    context.addIssue({ code: 'custom', path: ['to'], message: 'is not later than "from"' });
  });

export const gatewaySchema = z.object(
  { id: idSchema, siteId: idSchema, name: nameSchema },
  expected('a gateway'),
) satisfies z.ZodType<Gateway, unknown>;

export const fleetGatewaySchema = gatewaySchema.extend({
  name: nameSchema.optional(),
  nodeIds: z.array(idSchema, expected('an array of node ids')).default([]),
});

export const fleetNodeSchema = z.object(
  {
    id: idSchema,
    gatewayId: idSchema.nullable().default(null),
    promisedIntervalS: number('s', 1, 31 * 86_400)
      .nullable()
      .default(null),
  },
  expected('a node'),
);

export const depotSchema = z.object(
  {
    id: idSchema,
    name: nameSchema,
    latitude: number('degrees north', -90, 90),
    longitude: number('degrees east', -180, 180),
  },
  expected('a depot'),
) satisfies z.ZodType<Depot, unknown>;

export const truckSchema = z.object(
  {
    id: idSchema,
    name: nameSchema,
    tankLitres: number('litres', 0, 50_000),
    depotId: idSchema.nullable().default(null),
  },
  expected('a truck'),
) satisfies z.ZodType<Truck, unknown>;

export const unitsSchema = z.object(
  {
    volume: z.enum(['L', 'US_gal'], expected('"L" or "US_gal"')).default('L'),
    length: z.enum(['mm', 'in'], expected('"mm" or "in"')).default('mm'),
    temperature: z.enum(['Cel', 'degF'], expected('"Cel" or "degF"')).default('Cel'),
  },
  expected('units'),
);

/** A person without a password: an owner sets it, or sends an invitation. */
export const fleetPersonSchema = z.object(
  {
    id: idSchema,
    name: nameSchema,
    login: nameSchema.optional(),
    role: z.enum(
      ['owner', 'dispatcher', 'technician', 'installer', 'client'],
      expected('"owner", "dispatcher", "technician", "installer" or "client"'),
    ),
    accountId: idSchema.nullable().default(null),
    language: z.enum(['en', 'es'], expected('"en" or "es"')).default('en'),
    units: unitsSchema.default({ volume: 'L', length: 'mm', temperature: 'Cel' }),
  },
  expected('a person'),
) satisfies z.ZodType<Omit<Person, 'login' | 'disabledAtMs'>, unknown>;

/** A planting that stands in a list of its own rather than in its container. */
export const fleetPlantSchema = plantingSchema.extend({ containerId: idSchema });

function isRealDay(text: string): boolean {
  if (!/^\d{4}-\d\d-\d\d$/.test(text)) return false;
  const date = new Date(`${text}T00:00:00Z`);
  return !Number.isNaN(date.getTime()) && date.toISOString().startsWith(text);
}

function isTimeZone(text: string): boolean {
  try {
    new Intl.DateTimeFormat('en', { timeZone: text });
  } catch (error) {
    if (error instanceof RangeError) return false;
    throw error;
  }
  // Offsets such as +01:00 are taken by newer engines, but know no daylight saving.
  return /^[A-Za-z]/.test(text);
}

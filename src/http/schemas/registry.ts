import { z } from 'zod';
import { id, instant, instantIn, list, localDay, number, text } from './common.js';

export const account = z
  .object({
    id,
    name: text(200),
    dryRisk: number(0, 1).meta({ description: 'Accepted chance that a container is dry before its visit, 0-1' }),
  })
  .meta({ id: 'Account' });

export const site = z
  .object({
    id,
    accountId: id,
    name: text(200),
    latitude: number(-90, 90),
    longitude: number(-180, 180),
    elevationM: number(-430, 8_850),
    timeZone: z
      .string()
      .max(64)
      .refine(isTimeZone, 'is not a zone of the IANA database, such as Europe/Madrid')
      .meta({ description: 'IANA zone; the site’s days are counted in it', example: 'Europe/Madrid' }),
    tap: z.boolean(),
  })
  .meta({ id: 'Site' });

function isTimeZone(zone: string): boolean {
  // Offsets such as +01:00 are taken by newer engines, but know no daylight saving.
  if (!/^[A-Za-z]/.test(zone)) return false;
  try {
    new Intl.DateTimeFormat('en', { timeZone: zone });
    return true;
  } catch (cause) {
    if (cause instanceof RangeError) return false;
    throw cause;
  }
}

export const reservoir = z.object({
  strapping: z
    .array(z.tuple([number(0, 5_000), number(0, 50_000)]).readonly())
    .max(500, 'has more than 500 pairs')
    .readonly()
    .meta({ description: 'Pairs of [level above the reservoir floor in mm, litres], both increasing' }),
  overflowMm: number(0, 5_000).meta({ description: 'Invert of the overflow port above the floor' }),
  wickFootMm: number(0, 5_000).meta({ description: 'Foot of the wick above the floor' }),
});

export const planting = z.object({
  name: text(200),
  demandClass: z.enum(['low', 'moderate', 'high']),
  plantedOn: localDay.nullable(),
});

export const container = z
  .object({
    id,
    siteId: id,
    name: text(200),
    place: text(500).nullable().meta({ description: 'Where on the site the pot stands' }),
    covered: z.boolean().meta({ description: 'Rain cannot reach the soil' }),
    installedOn: localDay,
    removedOn: localDay.nullable(),
    reservoir,
    soil: z.object({ litres: number(0.1, 100_000), surfaceM2: number(0.0001, 1_000) }).nullable(),
    potKg: number(0, 100_000).nullable(),
    plants: list(planting),
  })
  .meta({ id: 'Container' });

export const gateway = z.object({ id, siteId: id, name: text(200) }).meta({ id: 'Gateway' });

export const node = z
  .object({
    id,
    gatewayId: id.nullable(),
    promisedIntervalS: number(1, 604_800).nullable().meta({ description: 'Seconds between two readings' }),
  })
  .meta({ id: 'Node' });

/** What may be changed, the id standing in the address. */
export const accountChange = account.omit({ id: true });
export const siteChange = site.omit({ id: true });
export const containerChange = container.omit({ id: true });
export const gatewayChange = gateway.omit({ id: true });
export const nodeChange = node.omit({ id: true });

const zeroMm = number(-1_000, 1_000).meta({
  description: 'Height of the sensor’s zero above the reservoir floor; water level = reading + zeroMm',
});

export const assignment = z
  .object({ id: z.string(), nodeId: id, containerId: id, from: instant, to: instant.nullable(), zeroMm })
  .meta({ id: 'Assignment', description: 'A node measures a container from one instant up to another' });

export const newAssignment = z.object({
  nodeId: id,
  containerId: id,
  from: instantIn,
  to: instantIn.nullable().default(null),
  zeroMm: zeroMm.default(0),
  endOthers: z
    .boolean()
    .default(false)
    .meta({ description: 'Ends what stands in the way (this node elsewhere, another node here) at `from`' }),
});

export const assignmentChange = z.object({ from: instantIn, to: instantIn.nullable(), zeroMm });

export const assignmentEnd = z.object({ to: instantIn });

export const swap = z.object({
  containerIds: z.tuple([id, id]),
  at: instantIn.meta({ description: 'From when on each node has been in the other pot' }),
});

export type AccountJson = z.infer<typeof account>;
export type SiteJson = z.infer<typeof site>;
export type ContainerJson = z.infer<typeof container>;
export type GatewayJson = z.infer<typeof gateway>;
export type NodeJson = z.infer<typeof node>;
export type AssignmentJson = z.infer<typeof assignment>;
export type NewAssignmentBody = z.input<typeof newAssignment>;
export type AssignmentChangeBody = z.input<typeof assignmentChange>;

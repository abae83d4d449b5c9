import { z } from 'zod';
import { alarmKind } from './alarms.js';
import { id, instant, list, localDay, longId, message, number } from './common.js';

const minute = number(0, 1_439)
  .int('is not a whole number')
  .meta({ description: 'Minutes after midnight on the wall' });

const zone = z
  .string()
  .max(64)
  .refine(isTimeZone, 'is not a zone of the IANA database, such as Europe/Madrid')
  .meta({ description: 'IANA zone in which the hours and days are meant', example: 'Europe/Madrid' });

function isTimeZone(name: string): boolean {
  if (!/^[A-Za-z0-9_+/-]+$/.test(name)) return false;
  try {
    new Intl.DateTimeFormat('en', { timeZone: name });
    return true;
  } catch (error) {
    if (error instanceof RangeError) return false;
    throw error;
  }
}

const rules = {
  timeZone: zone,
  siteIds: list(id).nullable().meta({ description: 'Null: every site' }),
  minimumPriority: z.enum(['low', 'medium', 'high']),
  kinds: list(alarmKind).nullable().meta({ description: 'Kinds of alarm to be told of. Null: every kind' }),
  working: list(
    z.object({
      weekday: number(1, 7).int('is not a whole number'),
      fromMinute: minute,
      toMinute: number(1, 1_440).int('is not a whole number'),
    }),
  )
    .nullable()
    .meta({
      description: 'Working hours; outside them what can wait is held until a working day’s digest. Null: any hour',
    }),
  quiet: z
    .object({ fromMinute: minute, toMinute: minute })
    .nullable()
    .meta({ description: 'Held until the digest, except what cannot wait; may run over midnight. Null: never quiet' }),
  digestMinute: minute.meta({ description: 'When comes what was held' }),
  away: list(z.object({ fromDay: localDay, toDay: localDay })).meta({ description: 'Days away, both included' }),
  standInId: id.nullable().meta({ description: 'Who is told instead on days away' }),
};

export const contactRules = z.object({ personId: id, ...rules }).meta({ id: 'ContactRules' });
export const contactRulesBody = z.object({
  ...rules,
  away: rules.away.default([]),
  kinds: rules.kinds.default(null),
  working: rules.working.default(null),
  standInId: rules.standInId.default(null),
});

export const standIn = z.object({ id, name: z.string() }).meta({ id: 'StandIn' });

const channel = z.enum(['email', 'web_push', 'webhook', 'mqtt']);

export const address = z
  .object({
    id: longId,
    personId: id.nullable().meta({ description: 'Null for what serves the whole firm' }),
    channel,
    target: z.string(),
    createdAt: instant,
  })
  .meta({ id: 'Address' });

const email = z
  .string()
  .trim()
  .max(254, 'is longer than 254 characters')
  .regex(/^[^\s<>@,;:"()\\]+@[A-Za-z0-9.-]+$/, 'is no mail address such as name@firm.example');

const pushKey = z.string().regex(/^[A-Za-z0-9_-]{16,200}=*$/, 'is not base64url');

/** What the browser's `PushSubscription` holds, or a mail address. */
export const newAddress = z.discriminatedUnion('channel', [
  z.object({ channel: z.literal('email'), target: email }),
  z.object({
    channel: z.literal('web_push'),
    target: z.string().min(1, 'is empty').max(2_000, 'is longer than 2000 characters'),
    keys: z.object({ p256dh: pushKey, auth: pushKey }),
  }),
]);

export const pushKeyAnswer = z.object({
  publicKey: z
    .string()
    .nullable()
    .meta({ description: 'For `applicationServerKey`; null where web push is not set up' }),
});

export const addresses = z.object({
  items: list(address),
  sendsMail: z.boolean().meta({ description: 'Mail is set up on this server' }),
  sendsPush: z.boolean().meta({ description: 'Web push is set up on this server' }),
});

export const newWebhook = z.object({
  target: z
    .url({ protocol: /^https?$/, error: 'is not an http or https address' })
    .max(2_000, 'is longer than 2000 characters'),
});

export const addedWebhook = z.object({
  address,
  secret: z.string().meta({ description: 'Signs what is sent there; it cannot be shown again' }),
});

export const calendar = z.object({
  createdAt: instant
    .nullable()
    .meta({ description: 'Since when a private address is in use; null where there is none' }),
});

export const madeCalendar = z.object({
  url: z
    .string()
    .meta({ description: 'For the calendar to subscribe to; whoever has it reads the stops. Not shown again' }),
});

export const undelivered = z
  .object({
    entry: z.object({
      id: longId,
      channel,
      topic: z.string(),
      subject: message,
      body: list(message),
      withdrawal: z.boolean(),
      urgent: z.boolean(),
      createdAt: instant,
      attempts: z.number().int(),
      state: z.enum(['waiting', 'delivered', 'dead', 'cancelled']),
      lastError: z.string().nullable(),
    }),
    personName: z.string().nullable(),
    target: z.string(),
  })
  .meta({ id: 'Undelivered' });

export const undeliveredEntry = undelivered.shape.entry;

export type ContactRulesJson = z.infer<typeof contactRules>;
export type ContactRulesBody = z.input<typeof contactRulesBody>;
export type AddressJson = z.infer<typeof address>;
export type AddressesJson = z.infer<typeof addresses>;
export type NewAddressBody = z.input<typeof newAddress>;
export type CalendarJson = z.infer<typeof calendar>;
export type UndeliveredJson = z.infer<typeof undelivered>;
export type StandInJson = z.infer<typeof standIn>;

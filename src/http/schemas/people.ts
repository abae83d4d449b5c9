import { z } from 'zod';
import { id, instant, text } from './common.js';

export const role = z.enum(['owner', 'dispatcher', 'technician', 'installer', 'client']);

export const units = z.object({
  volume: z.enum(['L', 'US_gal']),
  length: z.enum(['mm', 'in']),
  temperature: z.enum(['Cel', 'degF']),
});

export const language = z.enum(['en', 'es']);

export const person = z
  .object({
    id,
    name: z.string(),
    login: z.string(),
    role,
    accountId: id.nullable().meta({ description: 'The one account that a client sees; null for the crew' }),
    language,
    units,
    disabledAt: instant.nullable(),
  })
  .meta({ id: 'Person' });

const login = z
  .string()
  .trim()
  .toLowerCase()
  .regex(/^[a-z0-9._@+-]{2,100}$/, 'takes 2 to 100 of a-z 0-9 . _ @ + -');

// Lengths as NIST SP 800-63B-4 asks of a password that stands alone: at least 15 is its figure for single-factor use;
// 12 is ours, since log-in is throttled. Long ones are cut nowhere, so an upper end only keeps hashing cheap.
const password = z.string().min(12, 'is shorter than 12 characters').max(200, 'is longer than 200 characters');

export const newPerson = z.object({
  id: id.optional().meta({ description: 'Made by the server where it is left out' }),
  name: text(200),
  login,
  role,
  accountId: id.nullable().default(null),
  language: language.default('en'),
  units: units.default({ volume: 'L', length: 'mm', temperature: 'Cel' }),
  password: password.optional().meta({ description: 'Made by the server, and shown once, where it is left out' }),
  invite: z
    .boolean()
    .default(false)
    .meta({ description: 'Instead of a password: a link with which the person sets one' }),
});

export const personChange = z.object({
  name: text(200),
  login,
  role,
  accountId: id.nullable(),
  language,
  units,
  disabled: z.boolean(),
});

const purpose = z.enum(['welcome', 'recovery']);

export const openInvitation = z.object({
  token: z.string().meta({ description: 'Cannot be shown again' }),
  link: z.string().meta({ description: 'The page with which the person sets a password; works once' }),
  purpose,
  expiresAt: instant,
});

export const addedPerson = z.object({
  invitation: openInvitation.nullable(),
  person,
  password: z.string().nullable().meta({ description: 'The password that the server made; it cannot be shown again' }),
});

export const passwordChange = z.object({ password: password.optional() });

export const newPassword = z.object({ password: z.string().nullable() });

const code = z.string().max(40, 'is longer than 40 characters');
const typedPassword = z.string().min(1, 'is empty').max(200, 'is longer than 200 characters');
const linkToken = z.string().max(100, 'is longer than 100 characters');

export const invitationLook = z.object({ token: linkToken });

export const invitationShown = z.object({ name: z.string(), login: z.string(), purpose, expiresAt: instant });

export const invitationAccept = z.object({ token: linkToken, password });

export const ownPassword = z.object({ current: typedPassword, password });

export const secondFactorState = z
  .object({
    on: z.boolean(),
    required: z.boolean().meta({ description: 'The firm asks it of this role' }),
    recoveryCodesLeft: z.number().int(),
  })
  .meta({ id: 'SecondFactor' });

export const personDoors = z.object({ personId: id, secondFactor: z.boolean() }).meta({ id: 'PersonDoors' });

export const secondFactorBegin = z.object({ password: typedPassword });

export const secondFactorBegun = z.object({
  secret: z.string().meta({ description: 'Base32, for apps that cannot scan; cannot be shown again' }),
  uri: z.string().meta({ description: 'otpauth:, for the app on the phone' }),
  qrSvg: z.string().meta({ description: 'The same as a QR code' }),
});

export const secondFactorConfirm = z.object({ code });

export const recoveryCodes = z.object({
  recoveryCodes: z.array(z.string()).meta({ description: 'Each works once in place of a code; cannot be shown again' }),
});

export const secondFactorDrop = z.object({ password: typedPassword, code });

export const logIn = z.object({
  login: z.string().min(1, 'is empty').max(200, 'is longer than 200 characters'),
  password: typedPassword,
  code: code.optional().meta({ description: 'Of the app on the phone, or a recovery code, where there is one' }),
});

export const me = z
  .object({
    person,
    sessionExpiresAt: instant,
    /** What this person may do: each action with its reach. */
    permissions: z.record(z.string(), z.enum(['all', 'account', 'self', 'none'])),
    now: z.object({
      business: instant.meta({ description: 'What the business clock shows; forecasts and alarms follow it' }),
      process: instant.meta({ description: 'What the server’s own clock shows' }),
      speed: z.number().meta({ description: 'Business seconds in one real second; 1 but in the demo' }),
    }),
    demo: z.boolean(),
    mapTiles: z
      .object({ template: z.string(), attribution: z.string() })
      .nullable()
      .meta({ description: 'Where the page fetches map tiles; null: it draws a plain plot' }),
    mustEnrol: z.boolean().meta({ description: 'A second factor has to be set up before anything else' }),
  })
  .meta({ id: 'Me' });

export const preferences = z.object({ language, units });

export type OpenInvitationJson = z.infer<typeof openInvitation>;
export type InvitationShown = z.infer<typeof invitationShown>;
export type PersonDoorsJson = z.infer<typeof personDoors>;
export type SecondFactorJson = z.infer<typeof secondFactorState>;
export type SecondFactorBegun = z.infer<typeof secondFactorBegun>;
export type RecoveryCodesJson = z.infer<typeof recoveryCodes>;
export type PersonJson = z.infer<typeof person>;
export type Me = z.infer<typeof me>;
export type LogInBody = z.input<typeof logIn>;
export type Preferences = z.infer<typeof preferences>;
export type NewPersonBody = z.input<typeof newPerson>;
export type PersonChangeBody = z.input<typeof personChange>;
export type AddedPerson = z.infer<typeof addedPerson>;

import { z } from 'zod';
import { type Action, PERMISSIONS } from '../../domain/access.js';
import { id, instant, list, text } from './common.js';

const ACTIONS = Object.keys(PERMISSIONS) as [Action, ...Action[]];
const action = z.enum(ACTIONS, { error: 'is no action of the permission matrix' });

export const apiToken = z
  .object({
    id,
    personId: id,
    name: z.string(),
    actions: list(z.string()),
    createdAt: instant,
    expiresAt: instant,
    revokedAt: instant.nullable(),
    lastUsedAt: instant.nullable().meta({ description: 'To the hour' }),
  })
  .meta({ id: 'ApiToken' });

export const newApiToken = z.object({
  name: text(100).meta({ description: 'What it is for, so that it is known later' }),
  actions: z.array(action).min(1, 'names no action').max(100, 'has more than 100 actions').readonly(),
  days: z
    .number()
    .int('is not a whole number')
    .min(1, 'is below 1')
    .max(366, 'is above 366')
    .default(90)
    .meta({ description: 'How long it works' }),
});

export const madeApiToken = z.object({
  token: z.string().meta({ description: 'For `Authorization: Bearer`; cannot be shown again' }),
  apiToken,
});

export type ApiTokenJson = z.infer<typeof apiToken>;
export type NewApiTokenBody = z.input<typeof newApiToken>;
export type MadeApiToken = z.infer<typeof madeApiToken>;

import { z } from 'zod';
import { siteAccess } from './access.js';
import { instant, list } from './common.js';
import { person } from './people.js';
import { account, container, site } from './registry.js';
import { visit } from './work.js';

export const personalData = z
  .object({
    exportedAt: instant,
    account,
    sites: list(site),
    access: list(siteAccess),
    containers: list(container),
    people: list(person),
    addresses: list(
      z.object({
        id: z.string(),
        personId: z.string().nullable(),
        channel: z.string(),
        target: z.string(),
        createdAt: instant,
        endedAt: instant.nullable(),
      }),
    ),
    visits: list(visit),
  })
  .meta({ id: 'PersonalData' });

export const erasure = z.object({
  confirm: z.literal('erase', { error: 'is not “erase”: this cannot be undone, so it has to be said' }),
});

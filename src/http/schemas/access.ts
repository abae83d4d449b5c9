import { z } from 'zod';
import { id, instant, list, longId, note, text } from './common.js';

export const siteContact = z.object({
  name: text(200),
  phone: text(50).nullable(),
  email: text(200).nullable(),
});

export const siteAccess = z
  .object({
    siteId: id,
    notes: note.nullable().meta({ description: 'Gate codes, keys, the dog: how to get in' }),
    contacts: list(siteContact).meta({ description: 'Whom to call there' }),
  })
  .meta({ id: 'SiteAccess', description: 'Kept encrypted; each look is recorded' });

export const siteAccessChange = z.object({
  notes: note.nullable(),
  contacts: z.array(siteContact).max(20, 'has more than 20 contacts').readonly(),
});

export const accessLook = z
  .object({ at: instant, personId: id, siteId: id, stopId: longId.nullable() })
  .meta({ id: 'AccessLook' });

export type SiteAccessJson = z.infer<typeof siteAccess>;
export type SiteAccessBody = z.input<typeof siteAccessChange>;
export type AccessLookJson = z.infer<typeof accessLook>;

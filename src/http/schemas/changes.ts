import { z } from 'zod';
import { instant, pageQuery } from './common.js';

/** What stands in the `data` of a server-sent event `change`; the event’s id is the `seq`. */
export const change = z
  .object({
    seq: z.number().int(),
    at: instant,
    kind: z.string().meta({ description: 'What changed: status, reading, finding, alarm, task, round_stop, visit, …' }),
    key: z
      .string()
      .meta({ description: 'Id of what changed: the container for what is derived, the node for readings' }),
    siteId: z.string().nullable(),
    containerId: z.string().nullable(),
    from: instant.nullable(),
    to: instant.nullable(),
  })
  .meta({ id: 'Change' });

export const auditEntry = change
  .extend({ actor: z.object({ kind: z.enum(['person', 'principal', 'stage', 'command']), id: z.string() }) })
  .meta({ id: 'AuditEntry' });

export const auditQuery = pageQuery;

const columns = z.record(z.string(), z.unknown()).nullable();

export const edit = z
  .object({
    seq: z.number().int(),
    at: instant,
    actor: z.object({ kind: z.enum(['person', 'command', 'principal', 'stage']), id: z.string() }),
    kind: z.string().meta({ description: 'What was changed: site, person, container, …' }),
    key: z.string().meta({ description: 'Its id' }),
    before: columns.meta({ description: 'The values that differ, as they were; null where it was new or was erased' }),
    after: columns.meta({ description: 'As they are since; null where it was removed or was erased' }),
    erasedAt: instant.nullable().meta({ description: 'When a person’s data was taken out of the entry' }),
  })
  .meta({ id: 'Edit', description: 'Secrets show as •' });

export const editsQuery = pageQuery.extend({
  key: z.string().max(220).optional().meta({ description: 'Only what bears this id' }),
});

/** What stands in the `data` of an event `hello` (first of each stream), `reset` or `goodbye`. */
export interface StreamNotice {
  /** Where the stream stands. */
  readonly seq: number;
  /** `reset`: too much was missed to list it; load everything anew. `goodbye`: the stream ends; connect again. */
  readonly detail: string;
}

export type ChangeJson = z.infer<typeof change>;
export type EditJson = z.infer<typeof edit>;
export type AuditEntry = z.infer<typeof auditEntry>;

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

/** What stands in the `data` of an event `hello` (first of each stream), `reset` or `goodbye`. */
export interface StreamNotice {
  /** Where the stream stands. */
  readonly seq: number;
  /** `reset`: too much was missed to list it; load everything anew. `goodbye`: the stream ends; connect again. */
  readonly detail: string;
}

export type ChangeJson = z.infer<typeof change>;
export type AuditEntry = z.infer<typeof auditEntry>;

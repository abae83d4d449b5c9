import { z } from 'zod';
import { siteAccess } from './access.js';
import { alarmKind, alarmView } from './alarms.js';
import { flag, id, instant, instantIn, list, localDay, longId, message, note, number } from './common.js';
import { publishedVisit } from './plan.js';
import { knowledge, quantiles } from './pots.js';

export const glance = z
  .object({
    containerId: id,
    name: z.string(),
    place: z.string().nullable(),
    siteId: id,
    siteName: z.string(),
    accountId: id,
    accountName: z.string(),
    knowledge,
    levelMm: z.number().nullable(),
    litres: z.number().nullable(),
    capacityLitres: z.number(),
    fillFraction: z.number().nullable(),
    rateLitresPerDay: z.number().nullable(),
    dry: quantiles.nullable(),
    lastReadingAt: instant.nullable(),
    alarms: list(alarmKind),
  })
  .meta({ id: 'PotGlance', description: 'One pot on one line of a list' });

export const taskKind = z.enum([
  'refill',
  'rewet_from_above',
  'find_leak',
  'clear_overflow',
  'retest_wick',
  'repack_wick',
  'drain',
  'check_sensor',
  'replace_battery',
  'recover_node',
  'feed',
  'flush_salts',
  'replant',
  'commission',
  'inspect',
]);

export const taskState = z.enum(['proposed', 'planned', 'on_the_way', 'done', 'verified', 'reopened', 'cancelled']);

export const taskView = z
  .object({
    id: longId,
    kind: taskKind,
    siteId: id,
    containerId: id,
    state: taskState,
    origin: z.enum(['forecast', 'finding', 'verification', 'person']),
    reason: list(message),
    findingId: z.string().nullable(),
    litres: z.number().nullable(),
    minutes: z.number(),
    dueFrom: instant,
    dueBy: instant,
    cautions: list(z.string()),
    createdAt: instant,
    changedAt: instant,
    verification: message.nullable(),
    pot: glance,
    bring: list(message),
    expect: message.nullable(),
  })
  .meta({ id: 'TaskView' });

export const taskHistory = taskView
  .extend({
    transitions: list(
      z.object({
        taskId: longId,
        at: instant,
        from: taskState.nullable(),
        to: taskState,
        actor: z.string(),
        reason: message,
      }),
    ),
  })
  .meta({ id: 'TaskHistory' });

export const tasksQuery = z.object({
  openOnly: flag.default(true),
  siteId: id.optional(),
  containerId: id.optional(),
});

export const newTask = z.object({
  containerId: id,
  kind: taskKind,
  note: note.meta({ description: 'Who asked and why, in their words' }),
  litres: number(0, 50_000).nullable().default(null),
  dueBy: instantIn.nullable().default(null),
});

export const cancelTask = z.object({ reason: note });

export const stopState = z.enum(['planned', 'on_the_way', 'done', 'cancelled']);

export const stopPlan = z
  .object({
    stopId: longId,
    technicianId: id,
    technicianName: z.string(),
    day: localDay,
    position: z.number().int(),
    state: stopState,
  })
  .meta({ id: 'StopPlan' });

export const stopView = z
  .object({
    siteId: id,
    siteName: z.string(),
    accountId: id,
    accountName: z.string(),
    latitude: z.number(),
    longitude: z.number(),
    timeZone: z.string(),
    tap: z.boolean(),
    litres: z.number(),
    minutes: z.number(),
    dueFrom: instant,
    dueBy: instant,
    why: list(message),
    tasks: list(taskView),
    cautions: list(z.string()),
    plan: stopPlan.nullable().meta({ description: 'Null: not planned' }),
  })
  .meta({ id: 'StopView', description: 'The open tasks of one site, done in one coming' });

export const roundStop = z
  .object({
    id: longId,
    technicianId: id,
    day: localDay,
    siteId: id,
    position: z.number().int(),
    state: stopState,
  })
  .meta({ id: 'RoundStop' });

export const workDone = z.enum([
  'refill',
  'drain',
  'wet_from_above',
  'repack_wick',
  'replant',
  'clear_overflow',
  'other',
]);

const visitId = z
  .string()
  .regex(/^[A-Za-z0-9._-]{8,64}$/, 'takes 8 to 64 letters, digits, dots, hyphens or underscores; make it at random')
  .meta({ description: 'Made by the client at random, for instance a UUID' });

export const visitException = z.enum(['no_access', 'not_needed', 'no_water', 'damaged', 'other']);

export const visitAction = z.object({
  containerId: id,
  taskId: longId.nullable(),
  work: workDone,
  litres: number(0, 50_000).nullable(),
  exception: visitException.nullable(),
  note: note.nullable(),
});

export const visit = z
  .object({
    id: visitId,
    siteId: id,
    technicianId: id,
    startedAt: instant,
    happenedAt: instant,
    recordedAt: instant,
    actions: list(visitAction),
    note: z.string().nullable(),
  })
  .meta({ id: 'Visit' });

export const visitBody = z.object({
  siteId: id,
  technicianId: id.optional().meta({ description: 'Whose visit it was; your own where it is left out' }),
  startedAt: instantIn.optional().meta({ description: '`happenedAt` where it is left out' }),
  happenedAt: instantIn.meta({ description: 'When the work was done, which may be hours before it is sent' }),
  actions: z
    .array(
      visitAction.extend({
        taskId: longId.nullable().default(null),
        litres: number(0, 50_000).nullable().default(null),
        exception: visitException.nullable().default(null),
        note: note.nullable().default(null),
      }),
    )
    .max(500, 'names more than 500 pieces of work')
    .readonly(),
  note: note.nullable().default(null),
});

export const visitView = z
  .object({
    visit,
    technicianName: z.string(),
    siteName: z.string(),
    verifications: list(
      z.object({
        visitId,
        containerId: id,
        outcome: z.enum(['confirmed', 'contradicted', 'no_data']),
        measuredLitres: z.number().nullable(),
        at: instant,
        message,
      }),
    ),
  })
  .meta({ id: 'VisitView' });

export const visitReceipt = z
  .object({
    view: visitView,
    recorded: z.boolean().meta({ description: 'False where this id had been recorded before' }),
  })
  .meta({ id: 'VisitReceipt' });

export const visitParams = z.object({ id: visitId });

export const visitsQuery = z.object({
  from: instantIn,
  to: instantIn,
  containerId: id.optional(),
  siteId: id.optional(),
});

export const roundStopView = z
  .object({
    stop: roundStop,
    site: stopView.omit({ tasks: true, plan: true, why: true }),
    access: siteAccess.omit({ siteId: true }).nullable().meta({
      description: 'How to get in: on the day, to the technician whose stop it is; null for all others',
    }),
    tasks: list(taskView),
    visit: visit.nullable(),
    planned: publishedVisit
      .nullable()
      .meta({ description: 'Times, litres by pot and the tank as planned; null for a stop that a person put there' }),
  })
  .meta({ id: 'RoundStopView' });

export const roundView = z
  .object({
    technicianId: id,
    technicianName: z.string(),
    day: localDay,
    stops: list(roundStopView),
    litres: z.number(),
    minutes: z.number(),
    cautions: list(z.string()),
    nextRound: z
      .object({ day: localDay, stops: z.number().int(), firstSiteName: z.string() })
      .nullable()
      .meta({ description: 'The next day with stops, within the two weeks that are planned' }),
  })
  .meta({ id: 'RoundView' });

export const roundsQuery = z.object({
  day: localDay.optional().meta({ description: 'Today where it is left out' }),
  technicianId: id.optional().meta({ description: 'A technician sees the own round only' }),
});

export const planStop = z.object({
  siteId: id,
  technicianId: id,
  day: localDay,
  position: z.number().int().min(0).max(1_000).nullable().default(null).meta({ description: 'Null: last' }),
});

export const moveStop = z.object({
  technicianId: id.nullable().default(null),
  day: localDay.nullable().default(null),
  position: z.number().int().min(0).max(1_000).nullable().default(null),
});

export const alert = z
  .object({
    id: longId,
    personId: id,
    topic: z.string(),
    revision: z.number().int(),
    message: list(message),
    siteId: id.nullable(),
    containerIds: list(id),
    createdAt: instant,
    changedAt: instant,
    readAt: instant.nullable(),
    withdrawnAt: instant.nullable(),
  })
  .meta({ id: 'Alert' });

export const alertsQuery = z.object({ includeWithdrawn: flag.default(false) });

export const today = z
  .object({
    asOf: instant,
    day: localDay,
    timeZone: z.string(),
    counts: z.object({
      containers: z.number().int(),
      needVisit: z.number().int(),
      canWait: z.number().int(),
      unknown: z.number().int(),
      stops: z.number().int(),
      stopsNotPlanned: z.number().int(),
      litres: z.number(),
      minutes: z.number(),
      alarms: z.number().int(),
      alarmsUnacknowledged: z.number().int(),
    }),
    overnightSince: instant,
    overnight: list(
      z.object({
        at: instant,
        tone: z.enum(['bad', 'good', 'plain']),
        siteId: id,
        containerId: id.nullable(),
        message,
      }),
    ),
    stops: list(stopView),
    waiting: list(z.object({ pot: glance, until: instant.nullable() })),
    unknown: list(z.object({ pot: glance, why: message, visitBy: instant.nullable() })),
    alarms: list(alarmView),
  })
  .meta({ id: 'Today' });

export type PotGlance = z.infer<typeof glance>;
export type TaskKindJson = z.infer<typeof taskKind>;
export type TaskView = z.infer<typeof taskView>;
export type TaskHistory = z.infer<typeof taskHistory>;
export type NewTaskBody = z.input<typeof newTask>;
export type StopPlan = z.infer<typeof stopPlan>;
export type StopView = z.infer<typeof stopView>;
export type RoundStop = z.infer<typeof roundStop>;
export type RoundStopView = z.infer<typeof roundStopView>;
export type RoundView = z.infer<typeof roundView>;
export type PlanStopBody = z.input<typeof planStop>;
export type MoveStopBody = z.input<typeof moveStop>;
export type WorkDoneJson = z.infer<typeof workDone>;
export type VisitJson = z.infer<typeof visit>;
export type VisitBody = z.input<typeof visitBody>;
export type VisitView = z.infer<typeof visitView>;
export type VisitReceipt = z.infer<typeof visitReceipt>;
export type AlertJson = z.infer<typeof alert>;
export type Today = z.infer<typeof today>;

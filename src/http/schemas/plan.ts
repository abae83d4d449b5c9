import { z } from 'zod';
import {
  DAY_SPAN_FAULT,
  daySpanQuery,
  id,
  instant,
  isDaySpan,
  list,
  localDay,
  longId,
  message,
  number,
} from './common.js';
import { absence } from './crew.js';

const minute = (what: string) => z.number().meta({ description: `${what}, minutes of the local day` });
const cause = z.enum(['night', 'asked', 'event', 'change', 'undo']);

export const refillStop = z
  .object({ kind: z.enum(['depot', 'site']), id })
  .meta({ id: 'RefillStop', description: 'Where the tank is filled: a depot, or a site with a tap' });

const plannedVisit = {
  arrivalMinute: minute('Arrival'),
  startMinute: minute('Start of work'),
  endMinute: minute('End of work'),
  driveMinutes: z.number(),
  km: z.number(),
  litres: z.number(),
  fills: list(z.object({ containerId: id, litres: z.number() })),
  tankLitres: z.number().meta({ description: 'Left in the tank after the stop; below zero: it runs dry' }),
  refillBefore: refillStop.nullable().meta({ description: 'Fill of the tank before the first stop of a round' }),
  refillAfter: refillStop.nullable().meta({ description: 'Fill of the tank right after the stop' }),
  missesWindow: z.boolean(),
  reason: z.enum(['locked', 'alarm', 'client_call', 'must', 'agreement', 'carry_over', 'care', 'top_up', 'frozen']),
  why: message,
};

export const publishedVisit = z
  .object({ ...plannedVisit, stopId: longId, publishedAt: instant })
  .meta({ id: 'PublishedVisit', description: 'What was planned for a stop when it was published' });

export const planWish = z
  .discriminatedUnion('kind', [
    z.object({
      kind: z.literal('lock'),
      siteId: id,
      day: localDay,
      personId: id.nullable(),
      position: z.enum(['first', 'last']).nullable(),
    }),
    z.object({ kind: z.literal('forbid'), siteId: id, personId: id }),
    z.object({ kind: z.literal('not_before'), siteId: id, day: localDay }),
    z.object({ kind: z.literal('pin'), personId: id, day: localDay }),
  ])
  .meta({ id: 'PlanWish', description: 'What the dispatcher wants of every plan, until it is taken back' });

export const draftStop = z.object({ ...plannedVisit, siteId: id, locked: z.boolean() }).meta({ id: 'DraftStop' });

export const draftRound = z
  .object({
    personId: id,
    day: localDay,
    startMinute: minute('Start'),
    finishMinute: minute('Back'),
    driveMinutes: z.number(),
    km: z.number(),
    litres: z.number(),
    overtimeMinutes: z.number(),
    exceedsShift: z.boolean(),
    runsDry: z.boolean(),
    stops: list(draftStop),
  })
  .meta({ id: 'DraftRound' });

export const riskNotKept = z
  .object({
    siteId: id,
    containerId: id,
    visitDay: localDay.nullable(),
    lastSafeDay: localDay,
    chanceDryFraction: z.number(),
    why: message,
  })
  .meta({ id: 'RiskNotKept', description: 'A pot whose accepted risk the plan does not keep, and why' });

export const planTotals = z
  .object({
    truckDays: z.number().int(),
    stops: z.number().int(),
    km: z.number(),
    driveMinutes: z.number(),
    workMinutes: z.number(),
    overtimeMinutes: z.number(),
    litres: z.number(),
    cost: z.number().meta({ description: 'Less the worth of water that lasts past the plan; may be below zero' }),
  })
  .meta({ id: 'PlanTotals' });

const content = {
  asOf: instant,
  firstDay: localDay,
  dayCount: z.number().int(),
  timeZone: z.string(),
  wishes: list(planWish),
  rounds: list(draftRound),
  risks: list(riskNotKept),
  totals: planTotals,
  brokenWishes: list(planWish),
  assumptions: list(message).meta({ description: 'What was taken for granted where nothing is entered' }),
};

const toldStop = z.object({ siteId: id, personId: id, day: localDay, startMinute: minute('Start') });

export const planChange = z
  .object({
    kind: z.enum(['added', 'dropped', 'other_day', 'other_technician', 'other_time']),
    siteId: id,
    from: toldStop.nullable(),
    to: toldStop.nullable(),
  })
  .meta({ id: 'PlanChange' });

export const plan = z
  .object({
    asOf: instant,
    firstDay: localDay,
    dayCount: z.number().int(),
    timeZone: z.string(),
    state: z.object({
      running: cause.nullable().meta({ description: 'What asked for the run that is at work; null: none is' }),
      runningSince: instant.nullable(),
      lastRunAt: instant.nullable(),
      lastCause: cause.nullable(),
      trouble: z.string().nullable().meta({ description: 'Why the last run failed' }),
      publish: z.enum(['nightly', 'by_hand']),
      automatic: z.boolean(),
    }),
    draft: z
      .object({
        ...content,
        seq: z.number().int().meta({ description: 'Version; send it along with changes and with publishing' }),
        madeAt: instant,
        madeBy: z.string(),
        cause,
        canUndo: z.boolean(),
      })
      .nullable(),
    published: list(
      z.object({
        technicianId: id,
        day: localDay,
        stops: list(
          z.object({
            id: longId,
            technicianId: id,
            day: localDay,
            siteId: id,
            position: z.number().int(),
            state: z.enum(['planned', 'on_the_way', 'done', 'cancelled']),
            plan: publishedVisit.nullable(),
          }),
        ),
      }),
    ),
    changes: list(planChange).meta({ description: 'From what is published to the draft' }),
    nervousnessFraction: z.number().meta({ description: 'How much the draft upsets what people were told, 0-1' }),
    absences: list(absence),
    people: list(z.object({ id, name: z.string() })),
    sites: list(
      z.object({
        id,
        name: z.string(),
        accountName: z.string(),
        latitude: z.number(),
        longitude: z.number(),
        tap: z.boolean(),
      }),
    ),
  })
  .meta({ id: 'Plan', description: 'Draft and published rounds of the coming days' });

const position = z.number().int().min(0, 'is below 0').max(500, 'is above 500').nullable().default(null);

export const planEdit = z
  .discriminatedUnion('kind', [
    z.object({
      kind: z.literal('move'),
      siteId: id,
      fromDay: localDay,
      toDay: localDay,
      personId: id,
      position: position.meta({ description: 'Index in the round; null: where it costs least' }),
    }),
    z.object({ kind: z.literal('add'), siteId: id, day: localDay, personId: id, position }),
    z.object({ kind: z.literal('drop'), siteId: id, day: localDay }),
    z.object({
      kind: z.literal('lock'),
      siteId: id,
      day: localDay,
      personId: id.nullable().default(null),
      position: z.enum(['first', 'last']).nullable().default(null),
    }),
    z.object({ kind: z.literal('unlock'), siteId: id, day: localDay.nullable().default(null) }),
    z.object({ kind: z.literal('forbid'), siteId: id, personId: id }),
    z.object({ kind: z.literal('permit'), siteId: id, personId: id }),
    z.object({ kind: z.literal('not_before'), siteId: id, day: localDay }),
    z.object({ kind: z.literal('any_day'), siteId: id }),
    z.object({ kind: z.literal('pin'), personId: id, day: localDay }),
    z.object({ kind: z.literal('release'), personId: id, day: localDay }),
  ])
  .meta({
    id: 'PlanEdit',
    description:
      'A change by hand. What is moved or added is locked where it was put; what is dropped is not put back before the next day.',
  });

const seq = z.number().int().nullable().default(null).meta({
  description: 'Version of the draft that was looked at; refused where it has moved on. Null: whatever it is',
});

export const changePlan = z.object({
  edits: z.array(planEdit).min(1, 'is empty').max(100, 'holds more than 100'),
  dryRun: z.boolean().default(false).meta({ description: 'Only say what it would bring' }),
  seq,
});

export const planEffect = z
  .object({
    severity: z.enum(['broken', 'note']),
    siteId: id.nullable(),
    personId: id.nullable(),
    day: localDay.nullable(),
    message,
  })
  .meta({ id: 'PlanEffect' });

export const planConsequences = z
  .object({
    done: z.boolean().meta({ description: 'False for a dry run, and where something was refused' }),
    seq: z.number().int().nullable(),
    refused: list(message).meta({ description: 'What has no meaning, and why; then nothing was done' }),
    effects: list(planEffect).meta({ description: 'What is wrong or worth knowing that was not so before' }),
    changes: list(planChange).meta({ description: 'Against the draft before' }),
    extraCost: z.number(),
    extraDriveMinutes: z.number(),
    rounds: list(draftRound).meta({ description: 'The rounds that differ, as they would be' }),
    totals: planTotals,
  })
  .meta({ id: 'PlanConsequences' });

export const publishPlan = z.object({ seq });
export const published = z
  .object({ changed: z.number().int(), stops: z.number().int() })
  .meta({ id: 'PublishedPlan', description: 'Stops that changed, and all that are planned' });

export const supposition = z.object({
  hotterByC: number(0, 20).nullable().default(null),
  withoutPersonId: id.nullable().default(null),
  days: z.array(localDay).max(14, 'holds more than 14').nullable().default(null).meta({
    description: 'Days on which the person is away; null: all of them',
  }),
  dryRiskFraction: number(0.001, 0.5).nullable().default(null),
});

export const supposed = z
  .object({
    asIs: planTotals,
    supposed: planTotals,
    risksAsIs: list(riskNotKept),
    risksSupposed: list(riskNotKept),
  })
  .meta({ id: 'Supposed', description: 'The plan as it is and under the supposition, searched with the same effort' });

export const siteStory = z
  .object({
    visits: list(
      z.object({
        day: localDay,
        personId: id,
        litres: z.number(),
        reason: z.enum([
          'locked',
          'alarm',
          'client_call',
          'must',
          'agreement',
          'carry_over',
          'care',
          'top_up',
          'frozen',
        ]),
        why: message,
      }),
    ),
    whyNotToday: message.nullable().meta({ description: 'Null: it is visited today' }),
    lastSafeDay: localDay.nullable().meta({ description: 'Null: past the plan' }),
    riskByDay: list(z.object({ day: localDay, chanceAnyFraction: z.number() })),
    lockCost: message.nullable().meta({ description: 'Null: no locks' }),
  })
  .meta({ id: 'SiteStory' });

export const askOffers = z.object({ siteId: id });

export const offer = z
  .object({
    personId: id,
    day: localDay,
    position: z.number().int(),
    arrivalMinute: minute('Arrival'),
    extraMinutes: z.number(),
    overtimeMinutes: z.number(),
    extraCost: z.number(),
    later: list(z.object({ siteId: id, minutes: z.number() })),
    missed: list(id),
    exceedsShift: z.boolean(),
    runsDry: z.boolean(),
    riskBeforeFraction: z.number(),
    riskAfterFraction: z.number(),
    riskMovedPots: z.number().meta({ description: 'Expected dry pots more, at the sites that are reached later' }),
    order: list(id),
  })
  .meta({ id: 'Offer', description: 'One way to reach an urgent site today' });

export const acceptOffer = z.object({ siteId: id, personId: id });
export const accepted = z.object({
  refused: list(message).meta({ description: 'Empty: it is on the round' }),
});

const comparison = {
  visits: z.number().int().meta({ description: 'Visits for which a plan was published' }),
  plannedMinutes: z.number(),
  actualMinutes: z.number(),
  plannedLitres: z.number(),
  actualLitres: z.number(),
  plannedKm: z.number(),
  drivenKm: z.number().meta({ description: 'Between visits in the order they were made, by the estimate' }),
};

export const lookbackQuery = z.object(daySpanQuery).refine(isDaySpan, DAY_SPAN_FAULT);

export const planLookback = z
  .object({
    fromDay: localDay,
    toDay: localDay,
    total: z.object(comparison),
    byTechnician: list(z.object({ ...comparison, technicianId: id })),
    timing: list(
      z.object({
        visitId: z.string(),
        siteId: id,
        technicianId: id,
        day: localDay,
        verdict: z.enum(['early', 'late', 'in_time', 'unknown']),
        fillFractions: list(z.object({ containerId: id, fillFraction: z.number() })),
      }),
    ),
    early: z.number().int().meta({ description: 'Every pot that was filled was still more than 60 % full' }),
    late: z.number().int().meta({ description: 'A pot was dry' }),
    inTime: z.number().int(),
    unknown: z.number().int().meta({ description: 'No sensor saw the refill' }),
    pace: z
      .object({
        learnedAt: instant,
        visits: z.number().int(),
        legs: z.number().int(),
        minutesPerStop: z.number().nullable(),
        minutesPerPot: z.number().nullable(),
        pumpLitresPerMinute: z.number().nullable(),
        travelFactor: z.number().nullable().meta({ description: 'Actual over estimated driving minutes' }),
      })
      .nullable()
      .meta({ description: 'What visits have taught the planner; null: too few so far' }),
    samplesNeeded: z.number().int(),
  })
  .meta({ id: 'PlanLookback', description: 'Planned against actual, and visits that came too early or too late' });

export type PlanLookbackJson = z.infer<typeof planLookback>;
export type PlanJson = z.infer<typeof plan>;
export type DraftRoundJson = z.infer<typeof draftRound>;
export type DraftStopJson = z.infer<typeof draftStop>;
export type PlanEditBody = z.input<typeof planEdit>;
export type PlanConsequencesJson = z.infer<typeof planConsequences>;
export type PlanChangeJson = z.infer<typeof planChange>;
export type PlanEffectJson = z.infer<typeof planEffect>;
export type PlanTotalsJson = z.infer<typeof planTotals>;
export type RiskNotKeptJson = z.infer<typeof riskNotKept>;
export type OfferJson = z.infer<typeof offer>;
export type SiteStoryJson = z.infer<typeof siteStory>;
export type SupposedJson = z.infer<typeof supposed>;
export type SuppositionBody = z.input<typeof supposition>;
export type PublishedVisitJson = z.infer<typeof publishedVisit>;

import { z } from 'zod';
import type { LearnedPace, PlanContent, PublishedVisit } from '../domain/plan.js';
import { messageJson } from './json.js';

const number = z.number();
const text = z.string();

const refillStop = z.object({ kind: z.enum(['depot', 'site']), id: text }).nullable();

const visitFields = {
  arrivalMinute: number,
  startMinute: number,
  endMinute: number,
  driveMinutes: number,
  km: number,
  litres: number,
  fills: z.array(z.object({ containerId: text, litres: number })),
  tankLitres: number,
  refillBefore: refillStop,
  refillAfter: refillStop,
  missesWindow: z.boolean(),
  reason: z.enum(['locked', 'alarm', 'client_call', 'must', 'agreement', 'carry_over', 'care', 'top_up', 'frozen']),
  why: messageJson,
};

export const publishedVisitJson: z.ZodType<PublishedVisit> = z.object({
  ...visitFields,
  stopId: text,
  publishedMs: number,
});

const wish = z.discriminatedUnion('kind', [
  z.object({
    kind: z.literal('lock'),
    siteId: text,
    day: text,
    personId: text.nullable(),
    position: z.enum(['first', 'last']).nullable(),
  }),
  z.object({ kind: z.literal('forbid'), siteId: text, personId: text }),
  z.object({ kind: z.literal('not_before'), siteId: text, day: text }),
  z.object({ kind: z.literal('pin'), personId: text, day: text }),
]);

export const planContentJson: z.ZodType<PlanContent> = z.object({
  asOfMs: number,
  firstDay: text,
  dayCount: number,
  timeZone: text,
  wishes: z.array(wish),
  rounds: z.array(
    z.object({
      personId: text,
      day: text,
      startMinute: number,
      finishMinute: number,
      driveMinutes: number,
      km: number,
      litres: number,
      overtimeMinutes: number,
      exceedsShift: z.boolean(),
      runsDry: z.boolean(),
      stops: z.array(z.object({ ...visitFields, siteId: text, locked: z.boolean() })),
    }),
  ),
  risks: z.array(
    z.object({
      siteId: text,
      containerId: text,
      visitDay: text.nullable(),
      lastSafeDay: text,
      chanceDryFraction: number,
      why: messageJson,
    }),
  ),
  totals: z.object({
    truckDays: number,
    stops: number,
    km: number,
    driveMinutes: number,
    workMinutes: number,
    overtimeMinutes: number,
    litres: number,
    cost: number,
  }),
  brokenWishes: z.array(wish),
  assumptions: z.array(messageJson),
});

export const learnedPaceJson: z.ZodType<LearnedPace> = z.object({
  learnedMs: number,
  visits: number,
  legs: number,
  minutesPerStop: number.nullable(),
  minutesPerPot: number.nullable(),
  pumpLitresPerMinute: number.nullable(),
  travelFactor: number.nullable(),
});

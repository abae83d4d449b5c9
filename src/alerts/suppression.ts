import type { Alarm } from '../domain/alarm.js';
import type { Message } from '../domain/message.js';

/** Rules that suppress an alarm by design. */
export const SUPPRESSED_BY = {
  /** Somebody is working at the pot. */
  visit: 'rule:visit',
  outage: 'rule:outage',
  /** One of many that the crew has no room for, which are one alarm. */
  crewFull: 'rule:crew_full',
  newPlanting: 'rule:new_planting',
  /** A visit in time is on a round: the response has been given. */
  planned: 'rule:planned',
  /** The work was done, and what the sensor says of it is still to come. */
  awaitingProof: 'rule:awaiting_proof',
} as const;

const WHY = {
  [SUPPRESSED_BY.visit]: 'alarm.suppressed.visit',
  [SUPPRESSED_BY.outage]: 'alarm.suppressed.outage',
  [SUPPRESSED_BY.crewFull]: 'alarm.suppressed.crew_full',
  [SUPPRESSED_BY.newPlanting]: 'alarm.suppressed.new_planting',
  [SUPPRESSED_BY.planned]: 'alarm.suppressed.planned',
  [SUPPRESSED_BY.awaitingProof]: 'alarm.suppressed.awaiting_proof',
} as const;

const isRule = (heldBy: string): heldBy is keyof typeof WHY => heldBy in WHY;

/** Which rule hides an alarm that is suppressed by design; null where none does, or a person's word. */
export function whySuppressed({ state, heldBy }: Alarm): Message | null {
  if (state !== 'suppressed_by_design' || heldBy === null || !isRule(heldBy)) return null;
  return { code: WHY[heldBy], params: {} };
}

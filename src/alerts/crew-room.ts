import type { Alarm, AlarmTransition } from '../domain/alarm.js';
import type { Write } from '../domain/change-set.js';
import type { ContainerId, EpochMs, PersonId } from '../domain/ids.js';
import type { Message } from '../domain/message.js';
import type { Alert } from '../domain/work.js';
import { isHeld, step } from './alarm-life.js';
import { reconcileAlerts, type WantedAlert } from './alert-rules.js';
import { CATALOGUE } from './catalogue.js';
import { dryDecision } from './conditions.js';
import { compare, type SiteSituation } from './situation.js';

export const CREW_ALARM_ID = 'crew_full';
export const CREW_TOPIC = 'crew_full';

/** From so many pots on it is the crew that has no room, and not the pots that are forgotten; five standing alarms are the most that the standards would see for more than a day. */
const FULL_FROM_POTS = 5;
/** Fewer than this are called one by one again. */
const FULL_UNTIL_POTS = 3;

/** A pot that may be dry before anybody comes. */
export interface UndecidedPot {
  readonly containerId: ContainerId;
  readonly pot: string;
  readonly site: string;
  readonly soonestMs: EpochMs;
}

/** The pots of a site that may be dry before the crew's next chance, and that no round has in time. */
export function undecidedPots(situation: SiteSituation): readonly UndecidedPot[] {
  return situation.pots.flatMap((pot) => {
    const soonestMs = dryDecision(situation, pot);
    if (soonestMs === null) return [];
    return [{ containerId: pot.container.id, pot: pot.container.name, site: situation.site.name, soonestMs }];
  });
}

export interface CrewRoom {
  /** Pots that may be dry are not called one by one now. */
  readonly isFull: boolean;
  readonly writes: readonly Write[];
}

/**
 * One alarm for what has one cause and one answer: more pots fall due than the crew can reach in time. While it stands it
 * holds the alarms of low priority back; a pot that is dry and whose soil may not last calls by itself all the same.
 * @param alarm as it stands; null: it never did
 * @param standing alerts about it that were not withdrawn
 */
export function reconcileCrew(
  undecided: readonly UndecidedPot[],
  alarm: Alarm | null,
  standing: readonly Alert[],
  dispatchers: readonly PersonId[],
  nowMs: EpochMs,
): CrewRoom {
  const pots = [...undecided].sort((a, b) => a.soonestMs - b.soonestMs || compare(a.containerId, b.containerId));
  const isFull = pots.length >= (alarm?.conditionActive === true ? FULL_UNTIL_POTS : FULL_FROM_POTS);
  const before = alarm ?? (isFull ? newAlarm(pots, nowMs) : null);
  if (before === null) return { isFull, writes: [] };
  const result = step(
    before,
    {
      kind: 'condition',
      active: isFull,
      sinceMs: nowMs,
      readingMs: nowMs,
      endedByDecision: true,
      priority: CATALOGUE.crew_full.priority,
      message: isFull ? messageOf(pots) : before.message,
    },
    nowMs,
    CATALOGUE.crew_full.settings,
  );
  // Whoever holds the alarm wants to hear of the pots one by one; a pot that joins after it was seen is news all the same.
  const stands = isFull && !isHeld(result.alarm.state);
  const wanted = stands ? dispatchers.map((id) => wantedFor(id, result.alarm, pots)) : [];
  return {
    isFull: stands,
    writes: [
      ...(result.alarm === alarm ? [] : [{ kind: 'alarm', row: result.alarm } as const]),
      ...result.transitions.map((row: AlarmTransition): Write => ({ kind: 'alarm_transition', row })),
      ...reconcileAlerts(CREW_TOPIC, null, standing, wanted, nowMs).map((row): Write => ({ kind: 'alert', row })),
    ],
  };
}

function messageOf(pots: readonly UndecidedPot[]): Message {
  return { code: 'alarm.crew_full.found', params: { pots: pots.length, dryP10Ms: pots[0]?.soonestMs ?? null } };
}

function wantedFor(personId: PersonId, alarm: Alarm, pots: readonly UndecidedPot[]): WantedAlert {
  return {
    personId,
    message: [
      alarm.message,
      ...pots.map(({ pot, site, soonestMs }): Message => {
        return { code: 'alert.crew_full.pot', params: { pot, site, dryP10Ms: soonestMs } };
      }),
    ],
    containerIds: pots.map(({ containerId }) => containerId).sort(compare),
  };
}

function newAlarm(pots: readonly UndecidedPot[], nowMs: EpochMs): Alarm {
  return {
    id: CREW_ALARM_ID,
    kind: 'crew_full',
    siteId: null,
    containerId: null,
    nodeId: null,
    gatewayId: null,
    priority: CATALOGUE.crew_full.priority,
    state: 'normal',
    beneath: 'normal',
    conditionActive: false,
    conditionSinceMs: nowMs,
    raisedMs: null,
    acknowledgedMs: null,
    acknowledgedBy: null,
    shelvedUntilMs: null,
    heldReason: null,
    heldBy: null,
    message: messageOf(pots),
  };
}

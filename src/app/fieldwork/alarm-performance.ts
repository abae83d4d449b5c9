import {
  type AlarmPerformance,
  annunciationsOf,
  type BadActor,
  performanceOf,
} from '../../alerts/alarm-performance.js';
import type { Principal } from '../../domain/access.js';
import { DomainError } from '../../domain/errors.js';
import type { ContainerId, EpochMs, SiteId } from '../../domain/ids.js';
import { DAY_MS } from '../../domain/local-day.js';
import { type App, allowed } from '../context.js';

export type { AlarmPerformance } from '../../alerts/alarm-performance.js';
export { PERFORMANCE_TARGETS } from '../../alerts/alarm-performance.js';

/** An alarm that stood before the period may be stale in it; older ones are looked for this far back. */
const LOOK_BACK_MS = 60 * DAY_MS;
const LONGEST_PERIOD_MS = 400 * DAY_MS;

/** An alarm that misbehaves, with the place where it does. */
export interface PlacedActor extends BadActor {
  /** Null: about the crew as a whole. */
  readonly siteId: SiteId | null;
  readonly siteName: string | null;
  readonly containerId: ContainerId | null;
  readonly containerName: string | null;
}

type ActorList = 'chattering' | 'fleeting' | 'stale' | 'topTen';

export type PlacedPerformance = Omit<AlarmPerformance, ActorList> & Readonly<Record<ActorList, readonly PlacedActor[]>>;

/**
 * How the alarms did in a period, against the figures of the standard: rates by dispatcher, floods, and the alarms that
 * chatter, are fleeting, stale or more frequent than others, each with the setting that would cure it.
 */
export async function alarmPerformance(
  app: App,
  who: Principal,
  query: { readonly fromMs: EpochMs; readonly toMs: EpochMs },
): Promise<PlacedPerformance> {
  const scope = allowed(who, 'alarms.act');
  const { fromMs, toMs } = query;
  if (!(toMs > fromMs) || toMs - fromMs > LONGEST_PERIOD_MS) {
    throw new DomainError('invalid_input', 'The period has to end after it begins, and within 400 days.', {
      faults: [{ pointer: '?to', detail: 'expected an instant after from, at most 400 days later' }],
    });
  }
  const [alarms, transitions, people, sites, containers] = await Promise.all([
    app.store.work.alarms(scope, { includeNormal: true, siteId: null }),
    app.store.work.alarmTransitionsBetween(scope, fromMs - LOOK_BACK_MS, toMs),
    app.store.people.people(),
    app.store.registry.sites(scope),
    app.store.registry.containers(scope),
  ]);
  const byId = new Map(alarms.map((alarm) => [alarm.id, alarm]));
  const annunciations = annunciationsOf(transitions, (alarmId) => byId.get(alarmId) ?? null);
  const operators = people.filter((person) => person.role === 'dispatcher' && person.disabledAtMs === null).length;
  const performance = performanceOf(annunciations, fromMs, toMs, Math.max(1, operators));
  const siteNames = new Map(sites.map(({ id, name }) => [id, name]));
  const containerNames = new Map(containers.map(({ id, name }) => [id, name]));
  const placed = (actors: readonly BadActor[]): readonly PlacedActor[] =>
    actors.flatMap((actor) => {
      const alarm = byId.get(actor.alarmId);
      if (alarm === undefined) return [];
      const { siteId, containerId } = alarm;
      const containerName = containerId === null ? null : (containerNames.get(containerId) ?? containerId);
      return [
        {
          ...actor,
          siteId,
          siteName: siteId === null ? null : (siteNames.get(siteId) ?? siteId),
          containerId,
          containerName,
        },
      ];
    });
  return {
    ...performance,
    chattering: placed(performance.chattering),
    fleeting: placed(performance.fleeting),
    stale: placed(performance.stale),
    topTen: placed(performance.topTen),
  };
}

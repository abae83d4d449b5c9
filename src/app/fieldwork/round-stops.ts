import { step } from '../../alerts/alarm-life.js';
import { CATALOGUE } from '../../alerts/catalogue.js';
import { WHOLE_FLEET } from '../../domain/access.js';
import type { Write } from '../../domain/change-set.js';
import type { EpochMs, LocalDay, PersonId, SiteId } from '../../domain/ids.js';
import type { RoundStop } from '../../domain/work.js';
import type { App } from '../context.js';

export function isActive(stop: RoundStop): boolean {
  return stop.state === 'planned' || stop.state === 'on_the_way';
}

/** A second stop at a site on one day, after the first was done, gets a number. */
export function freeStopId(
  ofDay: readonly RoundStop[],
  to: { siteId: SiteId; technicianId: PersonId; day: LocalDay },
): string {
  const plain = `${to.technicianId}:${to.day}:${to.siteId}`;
  const taken = new Set(ofDay.filter((stop) => stop.state === 'done').map((stop) => stop.id));
  let id = plain;
  for (let number = 2; taken.has(id); number += 1) id = `${plain}:${number}`;
  return id;
}

/** Who plans a stop has seen why: the dry alarms of its pots are acknowledged by it. */
export async function acknowledgeDry(
  app: App,
  personId: PersonId,
  siteId: SiteId,
  nowMs: EpochMs,
): Promise<readonly Write[]> {
  const standing = await app.store.work.alarms(WHOLE_FLEET, { includeNormal: false, siteId });
  return standing
    .filter((alarm) => alarm.kind === 'dry')
    .flatMap((alarm): Write[] => {
      const result = step(
        alarm,
        { kind: 'acknowledge', by: personId, note: null },
        nowMs,
        CATALOGUE[alarm.kind].settings,
      );
      if (result.refused !== null) return [];
      return [
        { kind: 'alarm', row: result.alarm },
        ...result.transitions.map((row): Write => ({ kind: 'alarm_transition', row })),
      ];
    });
}

import type { ContainerId, EpochMs, PersonId } from '../../domain/ids.js';
import type { EventCorrection } from '../../domain/pot.js';
import { eventStartMs } from '../analysis/pot-inputs.js';
import type { App } from '../context.js';

/** A word on an event with the name of who said it. */
export type NamedCorrection = EventCorrection & { readonly actorName: string };

/** Words that bear on events since `fromMs`, newest first. */
export async function namedCorrections(
  app: App,
  id: ContainerId,
  fromMs: EpochMs,
): Promise<readonly NamedCorrection[]> {
  const corrections = await app.store.pots.eventCorrections(id);
  if (corrections.length === 0) return [];
  const names = new Map<PersonId, string>((await app.store.people.people()).map((person) => [person.id, person.name]));
  return corrections
    .filter(({ eventId, startMs }) => (startMs ?? eventStartMs(eventId)) >= fromMs)
    .map((correction) => ({ ...correction, actorName: names.get(correction.actorId) ?? correction.actorId }))
    .reverse();
}

import type { Principal } from '../domain/access.js';
import { DomainError } from '../domain/errors.js';
import type { ContainerId } from '../domain/ids.js';
import { HOUR_MS } from '../domain/local-day.js';
import type { EventKind } from '../domain/pot.js';
import { type App, allowed } from './context.js';
import { eventStartMs } from './pot-inputs.js';

/**
 * A person says what an event really was (`none`: nothing happened); what follows from it is computed anew.
 * @throws DomainError `not_found` where the pot has no such event
 */
export async function correctEvent(
  app: App,
  who: Principal,
  input: {
    readonly containerId: ContainerId;
    readonly eventId: string;
    readonly correctedKind: EventKind | 'none';
    readonly litres: number | null;
  },
): Promise<void> {
  const scope = allowed(who, 'events.correct');
  const { containerId, eventId, correctedKind, litres } = input;
  if ((await app.store.registry.container(scope, containerId)) === null) {
    throw new DomainError('not_found', `There is no container ${containerId}.`);
  }
  if (litres !== null && !(litres >= 0 && litres <= MOST_LITRES)) {
    throw new DomainError('invalid_input', `Litres of an event lie between 0 and ${MOST_LITRES}.`, {
      faults: [{ pointer: '/litres', detail: `expected 0 to ${MOST_LITRES}, found ${litres}` }],
    });
  }
  if (!(await isKnown(app, input))) {
    throw new DomainError(
      'not_found',
      `Container ${containerId} has no event ${eventId}; it may have been computed anew. Load its events again.`,
    );
  }
  await app.store.commit({
    atMs: app.clock.nowMs(),
    actor: { kind: 'person', id: who.personId },
    writes: [{ kind: 'event_correction', containerId, eventId, correctedKind, litres }],
    cursor: null,
  });
}

/** No reservoir of a pot is larger. */
const MOST_LITRES = 50_000;

/** An event that stands, or one that was corrected before: `none` makes it vanish, and it may be brought back. */
async function isKnown(app: App, input: { containerId: ContainerId; eventId: string }): Promise<boolean> {
  const corrections = await app.store.pots.eventCorrections(input.containerId);
  if (corrections.some((correction) => correction.eventId === input.eventId)) return true;
  if (!/\d+$/.test(input.eventId)) return false;
  const startMs = eventStartMs(input.eventId);
  const around = await app.store.pots.events(
    { kind: 'all' },
    input.containerId,
    startMs - HOUR_MS,
    startMs + 24 * HOUR_MS,
  );
  return around.some((event) => event.id === input.eventId);
}

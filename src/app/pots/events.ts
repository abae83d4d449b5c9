import type { Principal } from '../../domain/access.js';
import { DomainError, type InputFault } from '../../domain/errors.js';
import type { ContainerId, EpochMs } from '../../domain/ids.js';
import { DAY_MS, HOUR_MS } from '../../domain/local-day.js';
import type { CorrectedKind, EventKind, PotEvent } from '../../domain/pot.js';
import { addedEventId, eventStartMs, isAdded } from '../analysis/pot-inputs.js';
import { type App, allowed } from '../context.js';
import { containerOf } from './containers.js';
import { type NamedCorrection, namedCorrections } from './named-corrections.js';

/** No reservoir of a pot is larger. */
const MOST_LITRES = 50_000;
/** The levels show when it happened; what lies farther away is another event. */
const MOVED_AT_MOST_MS = 12 * HOUR_MS;

export interface CorrectionInput {
  readonly containerId: ContainerId;
  readonly eventId: string;
  readonly correctedKind: CorrectedKind;
  readonly litres: number | null;
  readonly startMs: EpochMs | null;
}

/**
 * A person says what an event really was (`none`: nothing happened; `as_found`: what the levels show counts again), how
 * much it was, or when; what follows from it is computed anew.
 * @throws DomainError `not_found` where the pot has no such event, `invalid_input`
 */
export async function correctEvent(app: App, who: Principal, input: CorrectionInput): Promise<void> {
  allowed(who, 'events.correct');
  await containerOf(app, who, input.containerId);
  const standing = await standingEvent(app, input);
  refuse([...litresFaults(input.litres), ...instantFaults(app, input)], 'The correction cannot be taken.');
  await say(app, who, input, standing);
}

/**
 * A person tells of something that nobody saw.
 * @returns the event's id, under which it may be corrected or taken back
 * @throws DomainError `not_found`, `invalid_input`
 */
export async function addEvent(
  app: App,
  who: Principal,
  input: {
    readonly containerId: ContainerId;
    readonly kind: EventKind;
    readonly litres: number;
    readonly startMs: EpochMs;
  },
): Promise<string> {
  allowed(who, 'events.correct');
  await containerOf(app, who, input.containerId);
  const { containerId, kind, litres, startMs } = input;
  refuse([...litresFaults(litres), ...aheadFaults(app, startMs)], 'The event cannot be added.');
  const eventId = addedEventId(containerId, startMs);
  await say(app, who, { containerId, eventId, correctedKind: kind, litres, startMs: null }, null);
  return eventId;
}

/** Everything that people said on the events of a container, newest first. */
export async function eventCorrections(app: App, who: Principal, id: ContainerId): Promise<readonly NamedCorrection[]> {
  await containerOf(app, who, id);
  return namedCorrections(app, id, 0);
}

async function say(app: App, who: Principal, input: CorrectionInput, standing: PotEvent | null): Promise<void> {
  const before = standing === null ? null : { kind: standing.kind, litres: standing.litres, startMs: standing.startMs };
  await app.store.commit({
    atMs: app.clock.nowMs(),
    actor: { kind: 'person', id: who.personId },
    writes: [{ kind: 'event_correction', ...input, before }],
    cursor: null,
  });
}

/**
 * The event as it stands; null for one that was taken out before: `none` makes it vanish, and it may be brought back.
 * @throws DomainError `not_found` where there never was one
 */
async function standingEvent(app: App, input: CorrectionInput): Promise<PotEvent | null> {
  const { containerId, eventId } = input;
  const corrections = await app.store.pots.eventCorrections(containerId);
  const said = corrections.some((correction) => correction.eventId === eventId);
  const startMs = /\d+$/.test(eventId) ? eventStartMs(eventId) : null;
  const around =
    startMs === null
      ? []
      : await app.store.pots.events({ kind: 'all' }, containerId, startMs - DAY_MS, startMs + 2 * DAY_MS);
  const standing = around.find((event) => event.id === eventId) ?? null;
  if (standing === null && !said) {
    throw new DomainError(
      'not_found',
      `Container ${containerId} has no event ${eventId}; it may have been computed anew. Load its events again.`,
    );
  }
  return standing;
}

function litresFaults(litres: number | null): readonly InputFault[] {
  if (litres === null || (litres >= 0 && litres <= MOST_LITRES)) return [];
  return [{ pointer: '/litres', detail: `expected 0 to ${MOST_LITRES}, found ${litres}` }];
}

function aheadFaults(app: App, startMs: EpochMs): readonly InputFault[] {
  return startMs <= app.clock.nowMs() ? [] : [{ pointer: '/startAt', detail: 'lies in the future' }];
}

function instantFaults(app: App, { eventId, startMs }: CorrectionInput): readonly InputFault[] {
  if (startMs === null) return [];
  if (isAdded(eventId)) {
    return [{ pointer: '/startAt', detail: 'an event that was added is taken out and added again at another time' }];
  }
  if (Math.abs(startMs - eventStartMs(eventId)) > MOVED_AT_MOST_MS) {
    const hours = MOVED_AT_MOST_MS / HOUR_MS;
    return [{ pointer: '/startAt', detail: `lies more than ${hours} hours from when the levels show it` }];
  }
  return aheadFaults(app, startMs);
}

function refuse(faults: readonly InputFault[], detail: string): void {
  if (faults.length > 0) throw new DomainError('invalid_input', `${detail} Nothing was changed.`, { faults });
}

import { WHOLE_FLEET } from '../../domain/access.js';
import type { PotContext, PotInput } from '../../domain/analysis.js';
import type { ContainerId, EpochMs } from '../../domain/ids.js';
import { addDays } from '../../domain/local-day.js';
import type { Store } from '../../domain/ports/store.js';
import type { Assignment } from '../../domain/registry.js';
import type { Visit } from '../../domain/work.js';
import { localDaysOf } from '../fleet-view.js';
import { observedOrShared } from '../weather/weather-observations.js';
import { compareInputs } from './pot-driver.js';

/** Where a pot's dated inputs are looked up. */
export interface InputSources {
  readonly store: Store;
  readonly assignments: readonly Assignment[];
}

/** Beyond any date that a program sees; the store takes it as an open end. */
const FOR_EVER_MS = 8.64e15;

/**
 * Everything that is known of a pot from an instant on, in the order of the fold.
 * @param knownAtMs only what was dated and received by then
 */
export async function allInputs(
  sources: InputSources,
  ctx: PotContext,
  fromMs: EpochMs,
  knownAtMs: EpochMs = FOR_EVER_MS,
): Promise<PotInput[]> {
  const inputs = (
    await Promise.all([
      readingInputs(sources.store, ctx.container.id, fromMs, Math.min(FOR_EVER_MS, knownAtMs + 1)),
      weatherInputs(sources.store, ctx, fromMs, Math.min(FOR_EVER_MS, knownAtMs + 1)),
      workInputs(sources.store, ctx.container.id, fromMs, Math.min(FOR_EVER_MS, knownAtMs + 1), knownAtMs),
      correctionInputs(sources.store, ctx.container.id, knownAtMs),
    ])
  ).flat();
  inputs.push(...assignmentInputs(sources.assignments, ctx.container.id));
  return inputs
    .filter(
      (input) =>
        input.timeMs >= fromMs &&
        input.timeMs <= knownAtMs &&
        (input.kind !== 'reading' || input.reading.receivedMs <= knownAtMs),
    )
    .sort(compareInputs);
}

/** Readings in [fromMs, toMs). */
export async function readingInputs(
  store: Store,
  containerId: ContainerId,
  fromMs: EpochMs,
  toMs: EpochMs,
): Promise<readonly PotInput[]> {
  const readings = await store.readings.ofContainer(WHOLE_FLEET, containerId, fromMs, toMs);
  return readings.map((reading): PotInput => ({ kind: 'reading', timeMs: reading.timeMs, reading }));
}

/** Observed days that ended in [fromMs, toMs): a day is known when it is over. */
export async function weatherInputs(
  store: Store,
  ctx: PotContext,
  fromMs: EpochMs,
  toMs: EpochMs,
): Promise<readonly PotInput[]> {
  const days = localDaysOf(ctx.site.timeZone);
  const fromDay = addDays(days.dayOf(Math.max(0, fromMs)), -1);
  const toDay = toMs >= FOR_EVER_MS ? '9999-12-31' : days.dayOf(toMs);
  const observed = await observedOrShared(store, ctx.site, fromDay, toDay);
  return observed
    .map((day): PotInput => ({ kind: 'weather', timeMs: days.endMs(day.day), day }))
    .filter((input) => input.timeMs >= fromMs && input.timeMs < toMs);
}

/** What crews reported to have done in [fromMs, toMs). What could not be done is no work. */
export async function workInputs(
  store: Store,
  containerId: ContainerId,
  fromMs: EpochMs,
  toMs: EpochMs,
  knownAtMs: EpochMs = FOR_EVER_MS,
): Promise<readonly PotInput[]> {
  const visits = await store.work.visits(WHOLE_FLEET, { containerId, siteId: null, fromMs, toMs });
  return visits.filter((visit) => visit.recordedMs <= knownAtMs).flatMap((visit) => workOfVisit(visit, containerId));
}

function workOfVisit(visit: Visit, containerId: ContainerId): readonly PotInput[] {
  return visit.actions
    .filter((action) => action.containerId === containerId && action.exception === null)
    .map((action): PotInput => ({ kind: 'work', timeMs: visit.happenedMs, work: action.work, litres: action.litres }));
}

/** The last word on each event; where that was to let it stand as it was found, there is none. */
async function correctionInputs(
  store: Store,
  containerId: ContainerId,
  knownAtMs: EpochMs,
): Promise<readonly PotInput[]> {
  const corrections = (await store.pots.eventCorrections(containerId)).filter((one) => one.atMs <= knownAtMs);
  const last = new Map(corrections.map((correction) => [correction.eventId, correction]));
  return [...last.values()].flatMap(({ eventId, correctedKind, litres, startMs }): PotInput[] => {
    if (correctedKind === 'as_found') return [];
    const timeMs = correctionMs(eventId, startMs);
    return [{ kind: 'correction', timeMs, eventId, correctedKind, litres, startMs, added: isAdded(eventId) }];
  });
}

/** The first instant that a person's word on an event bears on. */
export function correctionMs(eventId: string, startMs: EpochMs | null): EpochMs {
  const seenMs = eventStartMs(eventId);
  return Math.min(seenMs, startMs ?? seenMs);
}

const ADDED = 'said';

/** The id of an event that a person tells of and nobody saw. */
export function addedEventId(containerId: ContainerId, startMs: EpochMs): string {
  return `${containerId}.${ADDED}.${startMs}`;
}

export function isAdded(eventId: string): boolean {
  return new RegExp(`\\.${ADDED}\\.\\d+$`).test(eventId);
}

/**
 * An event's id ends in the instant at which it began, so that a correction keeps its place after the event is gone.
 * @throws Error for an id that analytics did not make
 */
export function eventStartMs(eventId: string): EpochMs {
  const digits = /(\d+)$/.exec(eventId)?.[1];
  if (digits === undefined) throw new Error(`event id ${eventId} does not end in an instant`);
  return Number(digits);
}

/**
 * Each node put on the pot, and the ends after which no other follows at once. The promised interval is left out: the
 * registry knows only the present one, which says nothing of the past and is no reason to fold a season again.
 */
export function assignmentInputs(assignments: readonly Assignment[], containerId: ContainerId): readonly PotInput[] {
  const own = assignments.filter((assignment) => assignment.containerId === containerId);
  return own.flatMap((assignment): PotInput[] => {
    const { nodeId, fromMs, toMs } = assignment;
    const begins: PotInput = { kind: 'assignment', timeMs: fromMs, nodeId, promisedIntervalS: null };
    const followed = own.some((other) => toMs !== null && other.fromMs <= toMs && (other.toMs ?? Infinity) > toMs);
    if (toMs === null || followed) return [begins];
    return [begins, { kind: 'assignment', timeMs: toMs, nodeId: null, promisedIntervalS: null }];
  });
}

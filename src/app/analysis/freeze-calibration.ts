import { type Outcome, type ResolvedForecast, resolve, updateCalibration } from '../../analytics/calibration.js';
import { makeStrapping, type Strapping } from '../../analytics/strapping.js';
import { WHOLE_FLEET } from '../../domain/access.js';
import type { EpochMs } from '../../domain/ids.js';
import { DAY_MS, HOUR_MS } from '../../domain/local-day.js';
import type { Store } from '../../domain/ports/store.js';
import type { Forecast, HourRollup } from '../../domain/pot.js';
import type { Container } from '../../domain/registry.js';
import type { App } from '../context.js';
import { breathe } from '../turns.js';

/** No forecast reaches further, so that none waits longer for its outcome. */
const HORIZON_MS = 60 * DAY_MS;
/** An event may still be merged or taken back for half a day; its outcome is learnt from the night after. */
const SETTLES_MS = 12 * HOUR_MS;

/**
 * Learns over the whole fleet from the forecasts whose outcome became known since the last freeze, and freezes the
 * factors for the day to come: an input like any other, so that a forecast can be made again as it was.
 * @returns how many forecasts spoke
 */
export async function freezeCalibration(app: App): Promise<number> {
  const { store, clock } = app;
  const nowMs = clock.nowMs();
  const before = await store.pots.calibration();
  const sinceMs = (before?.frozenMs ?? Number.NEGATIVE_INFINITY) - SETTLES_MS;
  const untilMs = nowMs - SETTLES_MS;
  const resolved: ResolvedForecast[] = [];
  for (const container of await store.registry.containers(WHOLE_FLEET)) {
    resolved.push(...(await resolvedOf(store, container, sinceMs, untilMs)));
    await breathe();
  }
  if (resolved.length === 0) return 0;
  await store.commit({
    atMs: nowMs,
    actor: { kind: 'stage', id: 'calibration' },
    writes: [{ kind: 'calibration', row: updateCalibration(before, resolved, nowMs) }],
    cursor: null,
  });
  return resolved.length;
}

/** Forecasts of one pot whose outcome came in (sinceMs, untilMs]; each waits for the first outcome after its origin. */
async function resolvedOf(
  store: Store,
  container: Container,
  sinceMs: EpochMs,
  untilMs: EpochMs,
): Promise<readonly ResolvedForecast[]> {
  const strapping = makeStrapping(container.reservoir);
  const pot = { covered: container.covered, deadLitres: strapping.deadLitres };
  const outcomes = await outcomesOf(
    store,
    container,
    strapping,
    Math.max(sinceMs, untilMs - HORIZON_MS) - HORIZON_MS,
    untilMs,
  );
  const resolved: ResolvedForecast[] = [];
  for (const [index, outcome] of outcomes.entries()) {
    if (outcome.atMs <= sinceMs) continue;
    const previousMs = outcomes[index - 1]?.atMs ?? outcome.atMs - HORIZON_MS;
    const forecasts = await store.pots.forecasts(WHOLE_FLEET, container.id, previousMs, outcome.atMs);
    resolved.push(...forecasts.filter(speaks).map((forecast) => resolve(pot, forecast, outcome)));
  }
  return resolved;
}

/** Of a pot that nobody hears the interval is wide on purpose. */
function speaks(forecast: Forecast): boolean {
  return forecast.dry !== null && (forecast.knowledge === 'known' || forecast.knowledge === 'learning');
}

async function outcomesOf(
  store: Store,
  container: Container,
  strapping: Strapping,
  fromMs: EpochMs,
  untilMs: EpochMs,
): Promise<readonly Outcome[]> {
  const startMs = Math.max(0, fromMs);
  const [events, hours] = await Promise.all([
    store.pots.events(WHOLE_FLEET, container.id, startMs, untilMs),
    store.pots.hourRollups(WHOLE_FLEET, container.id, startMs, untilMs),
  ]);
  const refills = events
    .filter((event) => event.kind === 'refill')
    .map(
      (event): Outcome => ({
        kind: 'refilled',
        atMs: event.startMs,
        litres: Math.max(0, strapping.litresAt(event.startLevelMm)),
      }),
    );
  return [...refills, ...dryings(hours, container.reservoir.wickFootMm)].sort((a, b) => a.atMs - b.atMs);
}

/** The hours in which the level came down to the wick foot. */
function dryings(hours: readonly HourRollup[], wickFootMm: number): readonly Outcome[] {
  const outcomes: Outcome[] = [];
  let dry = true;
  for (const hour of hours) {
    if (hour.levelMinMm === null) continue;
    const nowDry = hour.levelMinMm <= wickFootMm;
    if (nowDry && !dry) outcomes.push({ kind: 'dry', atMs: hour.hourMs + HOUR_MS / 2, litres: null });
    dry = nowDry;
  }
  return outcomes;
}

import { releaseDaysAt } from '../../alerts/care-rules.js';
import type { CareFacts } from '../../alerts/situation.js';
import { WHOLE_FLEET } from '../../domain/access.js';
import type { ContainerId, EpochMs, LocalDay } from '../../domain/ids.js';
import { addDays, daysBetween } from '../../domain/local-day.js';
import type { DoneTask, Store } from '../../domain/ports/store.js';
import type { Container, Site } from '../../domain/registry.js';
import type { WeatherDay } from '../../domain/weather.js';
import type { TaskKind } from '../../domain/work.js';
import type { FleetView } from '../fleet-view.js';

/** Care on record bears on what is due for so long; beyond it everything is due anyhow. */
const LONGEST_DAYS = 400;
/** Nobody commissions a pot that has stood and drunk for so long. */
const COMMISSION_WITHIN_DAYS = 30;
/** Gaps in the record of temperatures are bridged where they are short against the span. */
const LEAST_COVERAGE = 0.5;

/** The first reading comes soon after the assignment, or the record does not begin there. */
const RECORD_BEGINS_WITHIN_DAYS = 7;

interface Known {
  readonly key: string;
  readonly facts: ReadonlyMap<ContainerId, CareFacts>;
}

/** Weather of half a year is read once a day for each site, and again when some care was done. */
const known = new WeakMap<object, Map<string, Known>>();

/**
 * What the record says of the care of a site's pots; those without a beginning on record are left out.
 * @param done when each kind of task was last done at each of them
 */
export async function careFacts(
  store: Store,
  fleet: FleetView,
  site: Site,
  containers: readonly Container[],
  done: readonly DoneTask[],
  nowMs: EpochMs,
): Promise<ReadonlyMap<ContainerId, CareFacts>> {
  const days = fleet.daysOf(site);
  const today = days.dayOf(nowMs);
  const since = containers.map((container) => fleet.measuredSinceMs.get(container.id) ?? 0);
  const key = JSON.stringify([today, done, containers, since]);
  const sites = known.get(store) ?? new Map<string, Known>();
  known.set(store, sites);
  const before = sites.get(site.id);
  if (before?.key === key) return before.facts;
  const doneDay = (containerId: ContainerId, kinds: readonly TaskKind[]): LocalDay | null => {
    const times = done.filter((one) => one.containerId === containerId && kinds.includes(one.kind));
    return times.length === 0 ? null : days.dayOf(Math.max(...times.map(({ atMs }) => atMs)));
  };
  const begins = new Map<ContainerId, { readonly fedDay: LocalDay; readonly flushedDay: LocalDay }>();
  for (const container of containers) {
    const measuredMs = fleet.measuredSinceMs.get(container.id);
    if (measuredMs === undefined) continue;
    const planted = container.plants.flatMap(({ plantedOn }) => (plantedOn === null ? [] : [plantedOn]));
    const oldest = addDays(today, -LONGEST_DAYS);
    const first = latest([
      oldest,
      days.dayOf(measuredMs),
      container.installedOn,
      ...planted.filter((day) => day <= today),
    ]);
    const begin = {
      fedDay: latest([first, doneDay(container.id, ['feed', 'replant']) ?? first]),
      flushedDay: latest([first, doneDay(container.id, ['flush_salts', 'replant']) ?? first]),
    };
    if (await isMeasuredFrom(store, container.id, begin.fedDay)) begins.set(container.id, begin);
  }
  const oldest = [...begins.values()].flatMap(({ fedDay, flushedDay }) => [fedDay, flushedDay]).sort()[0];
  const weather = oldest === undefined ? [] : await store.weather.observedDays(site.id, oldest, today);
  const facts = new Map<ContainerId, CareFacts>();
  for (const container of containers) {
    const begin = begins.get(container.id);
    if (begin === undefined) continue;
    facts.set(container.id, {
      ...begin,
      releaseDays: releaseDaysSince(weather, begin.fedDay, today),
      rainedLitres: rainedSince(container, weather, begin.flushedDay, today),
      isCommissioned:
        doneDay(container.id, ['commission']) !== null ||
        daysBetween(container.installedOn, today) > COMMISSION_WITHIN_DAYS,
    });
  }
  sites.set(site.id, { key, facts });
  return facts;
}

/** Whether readings reach back to a day: an assignment alone says nothing of what a pot went through. */
async function isMeasuredFrom(store: Store, containerId: ContainerId, day: LocalDay): Promise<boolean> {
  const rows = await store.pots.dayRollups(WHOLE_FLEET, containerId, day, addDays(day, RECORD_BEGINS_WITHIN_DAYS));
  return rows.length > 0;
}

/** Days without a record count as the mean of those with one. */
function releaseDaysSince(weather: readonly WeatherDay[], from: LocalDay, today: LocalDay): number | null {
  const means = weather.flatMap(({ day, tminC, tmaxC }) =>
    day >= from && day < today && tminC !== null && tmaxC !== null ? [(tminC + tmaxC) / 2] : [],
  );
  const span = daysBetween(from, today);
  if (span <= 0 || means.length < LEAST_COVERAGE * span) return null;
  const sum = means.reduce((total, meanC) => total + releaseDaysAt(meanC), 0);
  return (sum / means.length) * span;
}

function rainedSince(
  container: Container,
  weather: readonly WeatherDay[],
  from: LocalDay,
  today: LocalDay,
): number | null {
  if (container.covered) return 0;
  if (container.soil === null) return null;
  const rain = weather.flatMap(({ day, rainMm }) => (day >= from && day < today && rainMm !== null ? [rainMm] : []));
  const span = daysBetween(from, today);
  if (span <= 0 || rain.length < LEAST_COVERAGE * span) return null;
  return rain.reduce((total, mm) => total + mm, 0) * container.soil.surfaceM2;
}

function latest(days: readonly LocalDay[]): LocalDay {
  return [...days].sort().at(-1)!;
}

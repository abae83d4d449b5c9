import { type ProofDay, proveWick, type WickProof } from '../../analytics/wick-proof.js';
import type { Scope } from '../../domain/access.js';
import type { EpochMs, LocalDay } from '../../domain/ids.js';
import { addDays, HOUR_MS } from '../../domain/local-day.js';
import type { Store } from '../../domain/ports/store.js';
import type { HourRollup } from '../../domain/pot.js';
import type { Container, Site } from '../../domain/registry.js';
import { localDaysOf } from '../fleet-view.js';
import { observedOrShared } from '../weather/weather-observations.js';

/** Where a wick stands, and since when it has had the chance to prove itself. */
export interface WickState {
  readonly sinceMs: EpochMs;
  readonly proof: WickProof;
}

/** Days that are looked at; a wick that did not prove itself in them is tried on the latest ones. */
const MOST_DAYS = 120;
/** Rain that reaches the soil of an uncovered pot. As the analysis takes it. */
const WETTING_RAIN_MM = 1;
/** Before the sun draws on the soil: hours of the site's day. */
const DAWN = { fromHour: 4, toHour: 7 } as const;

const WICK_WORK: ReadonlySet<string> = new Set(['repack_wick', 'replant']);

/** Whether a pot's wick is proved, from its installation or the last work on the wick on. */
export async function wickOfPot(
  store: Store,
  scope: Scope,
  container: Container,
  site: Site,
  nowMs: EpochMs,
): Promise<WickState> {
  const days = localDaysOf(site.timeZone);
  const visits = await store.work.visits(scope, {
    containerId: container.id,
    siteId: null,
    fromMs: days.startMs(container.installedOn),
    toMs: nowMs,
  });
  const done = visits.flatMap((visit) =>
    visit.actions
      .filter((action) => action.containerId === container.id && action.exception === null)
      .map(({ work }) => ({ work, day: days.dayOf(visit.happenedMs), atMs: visit.happenedMs })),
  );
  const lastWork = done.filter(({ work }) => WICK_WORK.has(work)).at(-1);
  const fromDay = lastWork === undefined ? container.installedOn : addDays(lastWork.day, 1);
  const sinceMs = lastWork?.atMs ?? days.startMs(container.installedOn);
  const wetted = new Set(done.filter(({ work }) => work === 'wet_from_above').map(({ day }) => day));
  const today = days.dayOf(nowMs);
  const judge = async (from: LocalDay): Promise<WickProof> => {
    const last = addDays(from, MOST_DAYS - 1);
    const to = last < today ? last : addDays(today, -1);
    return proveWick(await proofDays(store, scope, container, site, from, to, wetted), container.soil?.litres ?? null);
  };
  const [first] = await store.pots.dayRollups(scope, container.id, fromDay, today);
  const early = await judge(first?.day ?? fromDay);
  const latest = addDays(today, -MOST_DAYS);
  return { sinceMs, proof: early.kind === 'not_yet_proved' && latest > fromDay ? await judge(latest) : early };
}

async function proofDays(
  store: Store,
  scope: Scope,
  container: Container,
  site: Site,
  fromDay: LocalDay,
  toDay: LocalDay,
  wetted: ReadonlySet<LocalDay>,
): Promise<readonly ProofDay[]> {
  if (toDay < fromDay) return [];
  const calendar = localDaysOf(site.timeZone);
  const [rollups, hours, ledger, weather] = await Promise.all([
    store.pots.dayRollups(scope, container.id, fromDay, toDay),
    store.pots.hourRollups(scope, container.id, calendar.startMs(fromDay), calendar.endMs(toDay)),
    store.pots.ledgerDays(scope, { containerId: container.id, fromDay, toDay }),
    container.covered ? [] : observedOrShared(store, site, fromDay, toDay),
  ]);
  const rollupOf = new Map(rollups.map((row) => [row.day, row]));
  const drawnOf = new Map(ledger.map((row) => [row.day, row.uptakeLitres]));
  const rainOf = new Map(weather.map((row) => [row.day, row.rainMm ?? 0]));
  const found: ProofDay[] = [];
  for (let day = fromDay; day <= toDay; day = addDays(day, 1)) {
    const startMs = calendar.startMs(day);
    found.push({
      endMs: calendar.endMs(day),
      moistureFraction: dawnMoisture(hours, startMs),
      drawnLitres: drawnOf.get(day) ?? null,
      wettedFromAbove: wetted.has(day) || (rainOf.get(day) ?? 0) >= WETTING_RAIN_MM,
      waterAtWick: (rollupOf.get(day)?.levelMinMm ?? 0) > container.reservoir.wickFootMm,
    });
  }
  return found;
}

function dawnMoisture(hours: readonly HourRollup[], startMs: EpochMs): number | null {
  const values = hours
    .filter(({ hourMs }) => hourMs >= startMs + DAWN.fromHour * HOUR_MS && hourMs < startMs + DAWN.toHour * HOUR_MS)
    .flatMap(({ moistureMean }) => (moistureMean === null ? [] : [moistureMean]));
  return values.length === 0 ? null : values.reduce((sum, value) => sum + value, 0) / values.length;
}

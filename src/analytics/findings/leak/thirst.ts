import { AT, type PackedDay } from '../../day-record.js';
import { nominalKappa } from '../../nominal-kappa.js';
import type { PotView } from '../../pot-view.js';
import { median } from '../../stats/order.js';
import type { DayThirst } from './rows.js';

/** Days that a full reservoir lasts in full growth at 4 mm of ET0: what a planting of the vessel's size may draw. */
const FULL_LASTS_DAYS = 12;
const FULL_LASTS_AT_ET0_MM = 4;
const WINDOW_DAYS = 92;
/** The coefficient of weeks before is the median of those of so many days before. */
const BASE_AGO_DAYS = [14, 28, 45] as const;
/** A leak that is looked for lifts the coefficient for so long at least before it is said. */
const FRESH_DAYS = 10;
/** Plantings grow by so much within the weeks of {@link BASE_AGO_DAYS}; what moves farther is no growth. */
const MOST_MOVED = 1;
const MOST_GROWTH_LOG = 2;
/** Roots near the wick go on drinking from it, however wet the soil. */
const MOST_RAIN_SHARE = 0.6;

/**
 * What the plants are held to use on each day of the window, against which a leak that began after `freezeDays` ago must
 * show. The coefficient follows the filter up to then, so that a planting that wakes in spring is no leak, and stands
 * still from then on, so that the leak cannot hide in it. Null: the coefficient of 10 to 60 days before each day, for
 * leaks that may be older than that.
 */
export function thirstByDay(view: PotView, freezeDays: number | null): ReadonlyMap<number, DayThirst> {
  const kappas = new Map<number, number>();
  for (const day of view.days) kappas.set(numberOf(day), day[AT.kappa] ?? 0);
  const today = numberOf(view.days[view.days.length - 1]);
  const frozen = freezeDays === null ? null : newestUpTo(kappas, today - freezeDays);
  const greatest = greatestKappa(view, today - Math.max(FRESH_DAYS, freezeDays ?? 0));
  const surfaceM2 = view.ctx.container.covered ? 0 : (view.ctx.container.soil?.surfaceM2 ?? 0);
  const thirst = new Map<number, DayThirst>();
  let rainBeforeMm = 0;
  for (const day of view.days.slice(-WINDOW_DAYS)) {
    const number = numberOf(day);
    const kappa = day[AT.kappa] ?? 0;
    const et0Mm = day[AT.et0Mm] ?? 0;
    const rainMm = day[AT.rainMm] ?? 0;
    const before = median(BASE_AGO_DAYS.map((ago) => kappas.get(number - ago)).filter((known) => known !== undefined));
    const own = nominalKappa(view.days, number, kappa);
    const followed = freezeDays === null ? own : heldKappa(kappas, number, today - freezeDays, frozen, kappa);
    // Rain or a cold week hides the use for a while: what was drawn in the weeks before still counts.
    const held = Math.max(own, followed);
    const base = freezeDays === null ? (before ?? own) : held;
    const room = Math.min(MOST_GROWTH_LOG, Math.max(0, greatest - base));
    const expected = day[AT.expectedLitres] ?? null;
    const dayUse = Math.exp(kappa) * et0Mm;
    const spared = surfaceM2 > 0 && expected !== null && dayUse > 0 ? 1 - expected / dayUse : 0;
    thirst.set(number, {
      scale: Math.exp(held - own),
      growth: Math.exp(room),
      moved: before === null ? 1 : Math.min(MOST_MOVED, Math.abs(Math.exp(kappa - before) - 1)),
      useLitresPerDay: Math.exp(held) * et0Mm,
      rainShare: Math.min(MOST_RAIN_SHARE, Math.max(0, spared)),
      rainLitres: surfaceM2 * (rainMm + rainBeforeMm),
    });
    rainBeforeMm = rainMm;
  }
  return thirst;
}

function numberOf(day: PackedDay | undefined): number {
  return day?.[AT.dayNumber] ?? 0;
}

/** The coefficient as it was before it saw the day, and no newer than the freeze. */
function heldKappa(
  kappas: ReadonlyMap<number, number>,
  dayNumber: number,
  freezeDay: number,
  frozen: number | null,
  own: number,
): number {
  if (dayNumber > freezeDay) return frozen ?? own;
  return kappas.get(dayNumber - 1) ?? own;
}

function newestUpTo(kappas: ReadonlyMap<number, number>, dayNumber: number): number | null {
  let found: number | null = null;
  for (const [number, kappa] of kappas) if (number <= dayNumber) found = kappa;
  return found;
}

/** The greatest coefficient up to a day, and at least what a planting of the vessel's size may come to. */
function greatestKappa(view: PotView, upToDay: number): number {
  const usable = Math.max(0.1, view.strapping.capacityLitres - view.strapping.deadLitres);
  let greatest = Math.log(usable / FULL_LASTS_DAYS / FULL_LASTS_AT_ET0_MM);
  for (const day of view.days) if (numberOf(day) <= upToDay) greatest = Math.max(greatest, day[AT.kappa] ?? 0);
  return greatest;
}

import type { EpochMs } from '../../domain/ids.js';
import type { FindingDraft } from '../../domain/pot.js';
import type { PotView } from '../pot-view.js';
import { changePoints } from '../stats/change-points.js';
import { median } from '../stats/order.js';
import { lastDays, type UseDay, useDay, usualKappa } from './baseline.js';
import { makeDraft, say } from './draft.js';

/** The planting draws far less than it used to in such weather: dying, cut back, or gone. */
export interface CollapseState {
  readonly open: Collapse | null;
  readonly against: number;
}

export interface Collapse {
  readonly onsetMs: EpochMs;
  readonly days: number;
  readonly usedLitresPerDay: number;
  readonly usualLitresPerDay: number;
  /** Null without a moisture sensor: then a failed wick would look the same. */
  readonly moistureTo: number | null;
}

export const NO_COLLAPSE: CollapseState = { open: null, against: 0 };

const COLLAPSED = 0.28;
const RECOVERED = 0.6;
const LEAST_DAYS = 7;
const WINDOW_DAYS = 10;
const LEAST_SCORE = 9;
/** Below this fall a day the level cannot tell a living planting from a dormant one. */
const LEAST_USE_MM_PER_DAY = 1.2;
/** Before the change the planting must have drawn at least this share: a season's decline is no collapse. */
const WELL_BEFORE = 0.6;
/** Mean of the day; set on simulated fleets, whose plantings rest in autumn before it freezes. */
const RESTING_C = 11;
/** A level that rises by more than this is fed from somewhere: such a day says nothing of the plants. */
const FED_SDS = 1.5;
/** A soil that dries by more than this is being drunk from. */
const DRIES = 0.02;

export function collapseOnDay(view: PotView, state: CollapseState): CollapseState {
  const days = lastDays(view, 90);
  const kappa = usualKappa(days, 60, WINDOW_DAYS + 3, 12);
  if (kappa === null) return state;
  const window = days
    .slice(-WINDOW_DAYS)
    .map((day) => useDay(view, day, kappa, 6))
    .filter((day) => day !== null)
    .filter((day) => day.usedLitres > -FED_SDS * day.sdLitres);
  if (window.length === 0 || days[days.length - 1] !== window[window.length - 1]!.day) return state;
  const used = total(window, (day) => day.usedLitres);
  const usual = total(window, (day) => day.usualLitres);
  if (state.open !== null) {
    const share = used / usual;
    if (share > RECOVERED) {
      const against = state.against + 1;
      return against >= 3 ? NO_COLLAPSE : { ...state, against };
    }
    return { open: { ...state.open, usedLitresPerDay: used / window.length }, against: 0 };
  }
  if (window.length < LEAST_DAYS) return state;
  const area = view.strapping.areaLitresPerMm(window[0]!.day.dawnLevelMm ?? 0);
  const score = total(window, (day) => (day.usualLitres - day.usedLitres) / day.sdLitres);
  if (used > COLLAPSED * usual || score < LEAST_SCORE || usual / area < LEAST_USE_MM_PER_DAY * window.length)
    return state;
  // The whole window may lie after the change; its newest half must be collapsed by itself.
  const half = window.slice(-Math.ceil(window.length / 2));
  if (total(half, (day) => day.usedLitres) > COLLAPSED * total(half, (day) => day.usualLitres)) return state;
  const before = days
    .slice(-(WINDOW_DAYS + 20), -(WINDOW_DAYS + 4))
    .map((day) => useDay(view, day, kappa, 6))
    .filter((day) => day !== null);
  const usedBefore = total(before, (day) => day.usedLitres);
  if (before.length < 4 || usedBefore < WELL_BEFORE * total(before, (day) => day.usualLitres)) return state;
  if (cold(window)) return state;
  const first = window[0]!.day.dawnMoisture;
  const last = window[window.length - 1]!.day.dawnMoisture;
  if (first !== null && last !== null && first - last > DRIES) return state;
  return {
    against: 0,
    open: {
      onsetMs: onsetOf(view, kappa),
      days: window.length,
      usedLitresPerDay: used / window.length,
      usualLitresPerDay: usual / window.length,
      moistureTo: last,
    },
  };
}

/** Plants rest in the cold: drawing little then is no news. */
function cold(window: readonly UseDay[]): boolean {
  const means = window
    .map(({ day }) =>
      day.temperatureMinC === null || day.temperatureMaxC === null
        ? null
        : (day.temperatureMinC + day.temperatureMaxC) / 2,
    )
    .filter((mean) => mean !== null);
  const middle = median(means);
  return middle !== null && middle < RESTING_C;
}

/** The last change of the share of the usual use within 45 days. */
function onsetOf(view: PotView, kappa: number): EpochMs {
  const days = lastDays(view, 45)
    .map((day) => useDay(view, day, kappa, 6))
    .filter((day) => day !== null);
  const shares = days.map((day) => Math.min(2, Math.max(-0.5, day.usedLitres / day.usualLitres)));
  const changes = changePoints(shares, 0.5, 3);
  const at = changes[changes.length - 1] ?? Math.max(0, days.length - WINDOW_DAYS);
  return days[at]?.day.startMs ?? view.atMs;
}

function total(days: readonly UseDay[], of: (day: UseDay) => number): number {
  return days.reduce((sum, day) => sum + of(day), 0);
}

export function demandCollapsed(view: PotView, state: CollapseState): FindingDraft | null {
  const { open } = state;
  if (open === null) return null;
  return makeDraft(view, 'demand_collapsed', {
    onsetMs: open.onsetMs,
    size: Math.max(0, open.usedLitresPerDay),
    unit: 'L/d',
    confidence: open.moistureTo === null ? 0.55 : 0.8,
    severity: 'medium',
    evidence: [
      say('finding.demand_collapsed.draws', {
        usedLitresPerDay: Math.max(0, open.usedLitresPerDay),
        usualLitresPerDay: open.usualLitresPerDay,
        onsetMs: open.onsetMs,
      }),
      open.moistureTo === null
        ? say('finding.demand_collapsed.no_moisture')
        : say('finding.demand_collapsed.soil_moist', { moistureFraction: open.moistureTo }),
    ],
    toConfirm: say('finding.demand_collapsed.confirm'),
  });
}

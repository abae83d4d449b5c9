import type { EpochMs } from '../../domain/ids.js';
import { DAY_MS } from '../../domain/local-day.js';
import type { FindingDraft } from '../../domain/pot.js';
import type { PotView } from '../pot-view.js';
import { lastDays, type UseDay, useDay, usualKappa } from './baseline.js';
import { makeDraft, say } from './draft.js';

/** Water stands in the reservoir and does not rise, while the soil dries. */
export interface WickState {
  readonly open: WickFailure | null;
  /** Days in a row that speak against an open failure. */
  readonly against: number;
}

export interface WickFailure {
  readonly onsetMs: EpochMs;
  readonly days: number;
  readonly usedLitresPerDay: number;
  readonly usualLitresPerDay: number;
  readonly moistureFrom: number;
  readonly moistureTo: number;
  readonly score: number;
}

export const NO_WICK_FAILURE: WickState = { open: null, against: 0 };

/** Under this share of the usual use nothing much comes up. */
const DRAWS_LITTLE = 0.3;
const DRAWS_AGAIN = 0.55;
const RISING_SHARE = -0.1;
const LEAST_DAYS = 3;
const LEAST_SCORE = 7;
/** Share of the missing litres that the soil must have lost: the plants went on drinking. */
const SOIL_SHARE = 0.3;
/** Where the soil's volume is not known, a fall of so much counts. */
const LEAST_FALL = 0.025;
const LEAST_DEFICIT = 0.03;
/** A soil that rain has wetted dries back by itself; only below where it settles does it dry for want of a wick. */
const OPEN_DEFICIT = 0.035;
const ABOVE_FOOT_MM = 8;
const WINDOW_DAYS = 14;
/** Below this fall a day the level cannot tell a failed wick from a dormant planting. */
const LEAST_USE_MM_PER_DAY = 1.1;

export function wickOnDay(view: PotView, state: WickState): WickState {
  const days = lastDays(view, 75);
  const kappa = usualKappa(days, 60, 6, 8) ?? usualKappa(days, 30, 2, 5);
  if (kappa === null) return state;
  const window = days.slice(-WINDOW_DAYS).map((day) => useDay(view, day, kappa, ABOVE_FOOT_MM));
  const last = window[window.length - 1];
  if (last === undefined || last === null) return state;
  const failing = failure(view, window);
  if (failing !== null) {
    const onsetMs = state.open === null ? failing.onsetMs : Math.min(failing.onsetMs, state.open.onsetMs);
    return { open: { ...failing, onsetMs }, against: 0 };
  }
  if (state.open === null) return state;
  const against = last.usedLitres > DRAWS_AGAIN * last.usualLitres ? state.against + 1 : state.against;
  return against >= 2 ? NO_WICK_FAILURE : { ...state, against };
}

/** The run of days up to the last on which little came up; null where it is too short or the soil does not dry. */
function failure(view: PotView, window: readonly (UseDay | null)[]): WickFailure | null {
  const run: UseDay[] = [];
  for (let i = window.length - 1; i >= 0; i--) {
    const day = window[i];
    if (day === undefined || day === null) {
      // A day that shows nothing does not break the run, but a run across many of them proves nothing.
      if (run.length > 0 && run.length < 2 && window.length - i > 5) break;
      continue;
    }
    if (day.usedLitres > DRAWS_LITTLE * day.usualLitres + 0.5 * day.sdLitres) break;
    run.unshift(day);
  }
  const used = sum(run, (day) => day.usedLitres);
  const usual = sum(run, (day) => day.usualLitres);
  // A level that rises by itself is fed from somewhere: rain through the soil, or a tap.
  if (used < RISING_SHARE * usual) return null;
  const score = sum(run, (day) => (day.usualLitres - day.usedLitres) / day.sdLitres);
  if (run.length < LEAST_DAYS || score < LEAST_SCORE || used > DRAWS_LITTLE * usual) return null;
  const area = view.strapping.areaLitresPerMm(run[0]!.day.dawnLevelMm ?? 0);
  if (usual / area < LEAST_USE_MM_PER_DAY * run.length) return null;
  const first = run[0]!.day;
  const last = run[run.length - 1]!.day;
  const before = moistureBefore(view, first.dayNumber) ?? first.dawnMoisture;
  if (before === null || last.dawnMoisture === null) return null;
  // Rain or a pour from above leaves the soil wetter than the wick does; its draining is no drying.
  const from = Math.min(before, last.moistureReference ?? before);
  if (!dries(view, from, last.dawnMoisture, usual - used, last.moistureReference)) return null;
  return {
    onsetMs: first.startMs,
    days: run.length,
    usedLitresPerDay: used / run.length,
    usualLitresPerDay: usual / run.length,
    moistureFrom: from,
    moistureTo: last.dawnMoisture,
    score,
  };
}

function dries(view: PotView, from: number, to: number, missingLitres: number, reference: number | null): boolean {
  const fall = from - to;
  const deficit = reference === null ? fall : reference - to;
  const { soil, covered } = view.ctx.container;
  if (!covered && deficit < OPEN_DEFICIT) return false;
  if (soil === null) return fall >= LEAST_FALL && deficit >= LEAST_DEFICIT;
  // Plants drink less from drying soil, so a long failure loses less than its missing litres.
  const enough = fall * soil.litres >= SOIL_SHARE * missingLitres;
  return (enough && fall >= LEAST_FALL / 1.5) || (deficit >= 0.1 && fall >= 0);
}

function moistureBefore(view: PotView, dayNumber: number): number | null {
  const before = lastDays(view, WINDOW_DAYS + 3).filter((day) => day.dayNumber < dayNumber);
  return before[before.length - 1]?.dawnMoisture ?? null;
}

function sum(days: readonly UseDay[], of: (day: UseDay) => number): number {
  return days.reduce((total, day) => total + of(day), 0);
}

export function wickFailed(view: PotView, state: WickState): FindingDraft | null {
  const { open } = state;
  if (open === null) return null;
  const runDays = Math.max(open.days, (view.atMs - open.onsetMs) / DAY_MS);
  return makeDraft(view, 'wick_failed', {
    onsetMs: open.onsetMs,
    size: open.usedLitresPerDay,
    unit: 'L/d',
    confidence: 0.75 + 0.02 * Math.min(10, open.score - LEAST_SCORE),
    severity: 'high',
    evidence: [
      say('finding.wick_failed.draws', {
        usedLitresPerDay: Math.max(0, open.usedLitresPerDay),
        usualLitresPerDay: open.usualLitresPerDay,
        runDays,
      }),
      say('finding.wick_failed.soil_dries', { fromFraction: open.moistureFrom, toFraction: open.moistureTo }),
      say('finding.wick_failed.water_stands', { levelMm: view.levelMm }),
    ],
    toConfirm: say('finding.wick_failed.confirm'),
  });
}

import type { FindingDraft } from '../../domain/pot.js';
import type { DayRecord } from '../day-record.js';
import type { PotView } from '../pot-view.js';
import { lastDays } from './baseline.js';
import { makeDraft, say } from './draft.js';

/** On hot days the soil dries above standing water, and recovers when it is cool: the wick lifts too little. */
export interface LimitedState {
  readonly open: { readonly days: number; readonly deficit: number; readonly et0Mm: number } | null;
}

export const NO_LIMIT: LimitedState = { open: null };

const WINDOW_DAYS = 12;
const LEAST_DAYS = 4;
/** Drier than the settled soil by so much of its volume. */
const DEFICIT = 0.03;
const ABOVE_FOOT_MM = 12;
/** After the reservoir ran dry the soil takes days to recover: that is no limit of the wick. */
const AFTER_DRY_DAYS = 6;
/** Mean ET0 of the dry days, mm: on cooler ones any wick lifts enough, and a dry soil has other reasons. */
const HOT_ET0_MM = 3;

/** @param recovering a failed wick or a faulty sensor was seen of late, and the soil is still on its way back */
export function limitedOnDay(view: PotView, state: LimitedState, recovering: boolean): LimitedState {
  if (recovering) return NO_LIMIT;
  const days = lastDays(view, WINDOW_DAYS + AFTER_DRY_DAYS);
  const footMm = view.ctx.container.reservoir.wickFootMm;
  let lastDry = Number.NEGATIVE_INFINITY;
  const hot: DayRecord[] = [];
  const cool: DayRecord[] = [];
  for (const day of days) {
    const low = day.levelMinMm !== null && day.levelMinMm < footMm + ABOVE_FOOT_MM / 2;
    if (day.hoursDry > 0 || low) lastDry = day.dayNumber;
    if (day.dayNumber - lastDry <= AFTER_DRY_DAYS || day.dayNumber <= days[days.length - 1]!.dayNumber - WINDOW_DAYS)
      continue;
    if (day.dawnMoisture === null || day.moistureReference === null || day.dawnLevelMm === null) continue;
    if (day.dawnLevelMm < footMm + ABOVE_FOOT_MM) continue;
    (day.moistureReference - day.dawnMoisture > DEFICIT ? hot : cool).push(day);
  }
  if (hot.length < LEAST_DAYS) return hot.length === 0 && cool.length >= 3 ? NO_LIMIT : state;
  const hotEt0 = mean(hot, (day) => day.et0Mm);
  // Dry soil on cool days as well is no limit on hot ones; the failed wick has a finding of its own.
  if (hotEt0 < HOT_ET0_MM) return state.open === null ? state : NO_LIMIT;
  if (cool.length > 0 && hotEt0 < mean(cool, (day) => day.et0Mm)) return state;
  return {
    open: {
      days: hot.length,
      deficit: mean(hot, (day) => (day.moistureReference ?? 0) - (day.dawnMoisture ?? 0)),
      et0Mm: hotEt0,
    },
  };
}

function mean(days: readonly DayRecord[], of: (day: DayRecord) => number): number {
  return days.reduce((sum, day) => sum + of(day), 0) / days.length;
}

export function wickLimited(view: PotView, state: LimitedState): FindingDraft | null {
  const { open } = state;
  if (open === null) return null;
  return makeDraft(view, 'wick_limited', {
    size: open.deficit,
    unit: '1',
    confidence: 0.6,
    severity: 'low',
    evidence: [
      say('finding.wick_limited.dries', { days: open.days, deficitFraction: open.deficit }),
      say('finding.wick_limited.water_stands', { levelMm: view.levelMm }),
    ],
    toConfirm: say('finding.wick_limited.confirm'),
  });
}

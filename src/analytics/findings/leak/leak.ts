import type { EpochMs } from '../../../domain/ids.js';
import { DAY_MS } from '../../../domain/local-day.js';
import type { FindingDraft, Severity } from '../../../domain/pot.js';
import { AT, type DayRecord } from '../../day-record.js';
import type { PotView } from '../../pot-view.js';
import { median } from '../../stats/order.js';
import { makeDraft, say } from '../draft.js';
import { type LeakFit, leakFits } from './glr.js';
import { type DayThirst, HEIGHT_SHARES, type LeakPot, type LeakRow, leakRow, meanOrificeShare } from './rows.js';
import { NO_SOIL_GAIN, type SoilGainState } from './soil-gain.js';

/** A leak as it is held now. */
export interface KnownLeak {
  /** With the water at the overflow invert. */
  readonly litresPerDay: number;
  readonly sd: number;
  readonly heightMm: number;
  readonly onsetMs: EpochMs;
  readonly openedMs: EpochMs;
  readonly confidence: number;
  readonly activeBlocks: number;
  readonly score: number;
  /** What a change of the plants' demand would explain of the same record. */
  readonly demandGain: number;
}

export interface LeakState {
  readonly open: KnownLeak | null;
  /** Best score as a share of its threshold on the last evaluated day; 1 is enough for one of two days. */
  readonly ratio: number;
  /** Evaluated days in a row at or over the threshold, and since the leak opened, days that speak against it. */
  readonly over: number;
  readonly against: number;
  readonly evaluatedDay: number;
  /** Day of the newest block that was judged. */
  readonly newestRow: number;
  readonly soil: SoilGainState;
}

export const NO_LEAK: LeakState = {
  open: null,
  ratio: 0,
  over: 0,
  against: 0,
  evaluatedDay: 0,
  newestRow: 0,
  soil: NO_SOIL_GAIN,
};

/**
 * Score from which a leak of each onset is said, after two evaluated days in a row. The longer the window, the more an
 * error of the demand model looks like a leak that was always there. Set on simulated pots that no reported figure comes
 * from: two false alarms in about 110 container-years without a leak, both in plantings that woke from winter.
 */
const THRESHOLDS = [16, 16, 14.5, 13.5, 14, 22, 36, 50, 90] as const;
const LEAST_LITRES_PER_DAY = 0.1;
/** A leak under this share of the plants' use is within what the demand model may be wrong by. */
const LEAST_SHARE_OF_USE = 0.25;
const DAYS_OVER = 2;
/** Days in a row without support before an open leak is taken back. */
const DAYS_AGAINST = 4;
const SUPPORT = 0.35;

/**
 * Judges the record at a dawn.
 * @param suspended another finding explains falls of the level just now: nothing new is said meanwhile
 */
export function leakOnDay(view: PotView, state: LeakState, day: DayRecord, suspended: boolean): LeakState {
  const invertMm = view.ctx.container.reservoir.overflowMm;
  const rows = leakRows(view, new Map(state.soil.gains));
  const newestRow = rows[rows.length - 1]?.dayNumber ?? 0;
  if (newestRow <= state.newestRow && newestRow < day.dayNumber) return state;
  const fits = leakFits(rows, day.dayNumber);
  if (fits === null) return { ...state, newestRow };
  const use = Math.max(0, view.demandLitresPerDay);
  const best = strongest(fits, use);
  const ratio = best === null ? 0 : best.score / THRESHOLDS[best.onsetIndex]!;
  const over = ratio >= 1 ? state.over + 1 : 0;
  const evaluated = { ratio, over, evaluatedDay: day.dayNumber, newestRow, soil: state.soil };
  if (state.open !== null) {
    const supported = ratio >= SUPPORT && !contradicted(rows, state.open, invertMm, day.dayNumber);
    const against = supported ? 0 : state.against + 1;
    if (against >= DAYS_AGAINST) return { ...evaluated, over: 0, open: null, against: 0 };
    const open = best !== null && ratio >= 1 ? knownLeak(view, best, day, state.open) : state.open;
    return { ...evaluated, open, against };
  }
  if (best === null || suspended || over < DAYS_OVER) return { ...evaluated, open: null, against: 0 };
  return { ...evaluated, open: knownLeak(view, best, day, null), against: 0 };
}

/** The blocks as rows of the regression, in order of their day. */
export function leakRows(view: PotView, soilGains: ReadonlyMap<EpochMs, number>): readonly LeakRow[] {
  const { reservoir, soil } = view.ctx.container;
  const pot: LeakPot = {
    invertMm: reservoir.overflowMm,
    footMm: reservoir.wickFootMm,
    soilLitres: soil?.litres ?? null,
    soilGains,
    thirst: thirstByDay(view),
  };
  const rows: LeakRow[] = [];
  for (const packed of view.blocks) {
    const row = leakRow(packed, pot);
    if (row !== null) rows.push(row);
  }
  return rows;
}

/** Days that a full reservoir lasts in full growth at 4 mm of ET0: what a planting of the vessel's size may draw. */
const FULL_LASTS_DAYS = 12;
const FULL_LASTS_AT_ET0_MM = 4;
const WINDOW_DAYS = 92;
/** The coefficient of weeks before is the median of those of so many days before. */
const BASE_AGO_DAYS = [14, 28, 45] as const;
const FRESH_DAYS = 10;
/** Plantings grow by so much within the weeks of {@link BASE_AGO_DAYS}; what moves farther is no growth. */
const MOST_MOVED = 1;
/** Roots near the wick go on drinking from it, however wet the soil. */
const MOST_RAIN_SHARE = 0.6;

function thirstByDay(view: PotView): ReadonlyMap<number, DayThirst> {
  const { capacityLitres, deadLitres } = view.strapping;
  const { covered, soil } = view.ctx.container;
  const surfaceM2 = covered || soil === null ? 0 : soil.surfaceM2;
  const usable = Math.max(0.1, capacityLitres - deadLitres);
  const today = view.days[view.days.length - 1]?.[AT.dayNumber] ?? 0;
  let greatest = Math.log(usable / FULL_LASTS_DAYS / FULL_LASTS_AT_ET0_MM);
  const kappas = new Map<number, number>();
  for (const day of view.days) {
    const kappa = day[AT.kappa] ?? 0;
    kappas.set(day[AT.dayNumber] ?? 0, kappa);
    // A leak of the last days lifts the coefficient; it must not pass for what the planting may draw.
    if ((day[AT.dayNumber] ?? 0) <= today - FRESH_DAYS) greatest = Math.max(greatest, kappa);
  }
  const thirst = new Map<number, DayThirst>();
  let rainBeforeMm = 0;
  for (const day of view.days.slice(-WINDOW_DAYS)) {
    const dayNumber = day[AT.dayNumber] ?? 0;
    const kappa = day[AT.kappa] ?? 0;
    const before = BASE_AGO_DAYS.map((ago) => kappas.get(dayNumber - ago)).filter((value) => value !== undefined);
    const base = median(before);
    const moved = base === null ? 1 : Math.min(MOST_MOVED, Math.abs(Math.exp(kappa - base) - 1));
    // Half of the way, in logs, from what it drew of late to what it may draw at most.
    const growth = Math.exp(Math.min(2.5, Math.max(0, greatest - (base ?? greatest))) / 2);
    const useLitresPerDay = Math.exp(base ?? kappa) * (day[AT.et0Mm] ?? 0);
    const rainMm = day[AT.rainMm] ?? 0;
    const expected = day[AT.expectedLitres] ?? null;
    const dayUse = Math.exp(kappa) * (day[AT.et0Mm] ?? 0);
    const spared = surfaceM2 > 0 && expected !== null && dayUse > 0 ? 1 - expected / dayUse : 0;
    thirst.set(dayNumber, {
      growth,
      moved,
      useLitresPerDay,
      rainShare: Math.min(MOST_RAIN_SHARE, Math.max(0, spared)),
      rainLitres: surfaceM2 * (rainMm + rainBeforeMm),
    });
    rainBeforeMm = rainMm;
  }
  return thirst;
}

/** The fit that exceeds its own threshold by most, among those large enough to matter. */
function strongest(fits: readonly LeakFit[], useLitresPerDay: number): LeakFit | null {
  let best: LeakFit | null = null;
  let bestRatio = 0;
  for (const fit of fits) {
    if (fit.litresPerDay < Math.max(LEAST_LITRES_PER_DAY, LEAST_SHARE_OF_USE * useLitresPerDay)) continue;
    const ratio = fit.score / THRESHOLDS[fit.onsetIndex]!;
    if (ratio > bestRatio) {
      best = fit;
      bestRatio = ratio;
    }
  }
  return best;
}

/** The blocks of the last days with water over the crack lose clearly less than the leak would take. */
function contradicted(rows: readonly LeakRow[], open: KnownLeak, invertMm: number, today: number): boolean {
  const index = Math.min(HEIGHT_SHARES.length - 1, Math.round(open.heightMm / invertMm / HEIGHT_SHARES[1]!));
  let numerator = 0;
  let denominator = 0;
  for (const row of rows) {
    if (row.dayNumber < today - 4) continue;
    const flow = row.flows[index]!;
    numerator += (flow * (row.loss - row.nominal)) / row.sd ** 2;
    denominator += flow ** 2 / row.sd ** 2;
  }
  if (denominator === 0) return false;
  const recent = numerator / denominator;
  return recent + 1.3 / Math.sqrt(denominator) < 0.4 * open.litresPerDay;
}

function knownLeak(view: PotView, fit: LeakFit, day: DayRecord, before: KnownLeak | null): KnownLeak {
  const invertMm = view.ctx.container.reservoir.overflowMm;
  const onsetMs = day.endMs - fit.onsetDays * DAY_MS;
  return {
    litresPerDay: fit.litresPerDay,
    sd: fit.sd,
    heightMm: fit.heightIndex * HEIGHT_SHARES[1]! * invertMm,
    // An onset once said only moves back when the evidence does.
    onsetMs: before === null ? onsetMs : Math.min(before.onsetMs, onsetMs),
    openedMs: before?.openedMs ?? day.endMs,
    confidence: Math.min(0.97, 0.75 + 0.05 * Math.log2(Math.max(1, fit.score / THRESHOLDS[fit.onsetIndex]!)) * 4),
    activeBlocks: fit.activeBlocks,
    score: fit.score,
    demandGain: fit.demandGain,
  };
}

/** Litres a day that a known leak takes at a level. */
export function leakFlowLitresPerDay(leak: KnownLeak, levelMm: number, invertMm: number): number {
  return leak.litresPerDay * meanOrificeShare(levelMm, levelMm, leak.heightMm, invertMm);
}

export function leakFinding(view: PotView, state: LeakState): FindingDraft | null {
  const { open } = state;
  if (open === null) return null;
  const invertMm = view.ctx.container.reservoir.overflowMm;
  const now = view.levelMm === null ? null : leakFlowLitresPerDay(open, view.levelMm, invertMm);
  const days = Math.max(
    0.2,
    (view.strapping.capacityLitres - view.strapping.litresAt(open.heightMm)) / open.litresPerDay,
  );
  return makeDraft(view, 'leak', {
    onsetMs: open.onsetMs,
    size: open.litresPerDay,
    unit: 'L/d',
    heightMm: open.heightMm,
    confidence: open.confidence,
    severity: severityOf(days),
    evidence: [
      say('finding.leak.size', {
        leakLitresPerDay: open.litresPerDay,
        leastLitresPerDay: Math.max(0, open.litresPerDay - 1.28 * open.sd),
        mostLitresPerDay: open.litresPerDay + 1.28 * open.sd,
      }),
      say('finding.leak.height', {
        crackMm: open.heightMm,
        stopsLitres: Math.max(0, view.strapping.litresAt(open.heightMm)),
      }),
      say('finding.leak.since', { onsetMs: open.onsetMs, blocks: open.activeBlocks }),
      say('finding.leak.not_demand', { leakScore: open.score + open.demandGain, demandScore: open.demandGain }),
      ...(now === null ? [] : [say('finding.leak.now', { nowLitresPerDay: now, levelMm: view.levelMm })]),
    ],
    toConfirm: say('finding.leak.confirm', { crackMm: open.heightMm }),
  });
}

/** By how long a full reservoir would last against the leak alone. */
function severityOf(days: number): Severity {
  if (days < 4) return 'high';
  return days < 12 ? 'medium' : 'low';
}

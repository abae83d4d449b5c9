import type { EpochMs } from '../../../domain/ids.js';
import { DAY_MS } from '../../../domain/local-day.js';
import type { FindingDraft, Severity } from '../../../domain/pot.js';
import type { DayRecord } from '../../day-record.js';
import type { PotView } from '../../pot-view.js';
import { makeDraft, say } from '../draft.js';
import { type LeakFit, leakFits } from './glr.js';
import { nearFootRows } from './near-foot.js';
import { type Fall, type RepeatedFalls, repeatedFalls } from './repeated-falls.js';
import {
  AS_NOMINAL,
  HEIGHT_SHARES,
  type LeakBlock,
  type LeakPot,
  type LeakRow,
  leakBlock,
  leakRow,
  meanOrificeShare,
} from './rows.js';
import { NO_SOIL_GAIN, type SoilGainState } from './soil-gain.js';
import { thirstByDay } from './thirst.js';

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
  /** Sudden falls to one height that it was told by; 0 where the slow record told it. */
  readonly falls: number;
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
  readonly falls: readonly Fall[];
}

export const NO_LEAK: LeakState = {
  open: null,
  ratio: 0,
  over: 0,
  against: 0,
  evaluatedDay: 0,
  newestRow: 0,
  soil: NO_SOIL_GAIN,
  falls: [],
};

/**
 * Score from which a leak of each onset is said, after two evaluated days in a row. The longer the window, the more an
 * error of the demand model looks like a leak that was always there. Set above what tight simulated pots reach, on
 * fleets that no reported figure comes from.
 */
const THRESHOLDS = [13.5, 12.5, 11.5, 12.5, 12.5, 13.2, 13, 12.8, 12, 18, 21, 30, 30, 26, 27, 90] as const;
/** Without a moisture sensor nothing tells what the soil took back or the rain spared: a leak must show so much better. */
const UNSEEN_SOIL_FACTOR = 1.4;
const LEAST_LITRES_PER_DAY = 0.1;
/** A leak under this share of the plants' use is within what the demand model may be wrong by. */
const LEAST_SHARE_OF_USE = 0.25;
/** A fall's rate is that of a falling level, between two readings. */
const FALLS_ERROR = 0.4;
const DAYS_OVER = 2;
/** The onset is known to about a third of a leak's age. */
const AGE_MARGIN = 1.35;
/** Days in a row without support before an open leak is taken back. */
const DAYS_AGAINST = 4;
const SUPPORT = 0.35;

/**
 * Judges the record at a dawn.
 * @param suspended another finding explains falls of the level just now: nothing new is said meanwhile
 */
export function leakOnDay(view: PotView, state: LeakState, day: DayRecord, suspended: boolean): LeakState {
  const bySlope = leakBySlope(view, state, day, suspended);
  const falls = repeatedFalls(state.falls, day.endMs);
  const told = bySlope.open !== null && bySlope.open.falls === 0;
  if (told || falls === null) return bySlope;
  return { ...bySlope, open: leakByFalls(falls, state.open, day), against: 0 };
}

function leakByFalls(falls: RepeatedFalls, before: KnownLeak | null, day: DayRecord): KnownLeak {
  return {
    litresPerDay: falls.litresPerDay,
    sd: FALLS_ERROR * falls.litresPerDay,
    heightMm: falls.heightMm,
    onsetMs: before?.onsetMs ?? falls.firstMs,
    openedMs: before?.openedMs ?? day.endMs,
    confidence: Math.min(0.97, 0.6 + 0.1 * falls.falls),
    activeBlocks: falls.falls,
    score: 0,
    demandGain: 0,
    falls: falls.falls,
  };
}

/** By the regression of the blocks. */
function leakBySlope(view: PotView, state: LeakState, day: DayRecord, suspended: boolean): LeakState {
  const invertMm = view.ctx.container.reservoir.overflowMm;
  const seen = leakBlocks(view, new Map(state.soil.gains));
  const newestRow = seen[seen.length - 1]?.block.dayNumber ?? 0;
  if (newestRow <= state.newestRow && newestRow < day.dayNumber) return state;
  const groups = fitLeaks(view, seen, day.dayNumber);
  if (groups === null) return { ...state, newestRow };
  const fits = groups.flatMap((group) => group.fits);
  const { rows } = groups[groups.length - 1]!;
  const use = Math.max(0, view.demandLitresPerDay);
  const best = strongest(fits, use);
  const sight = view.moistureReference === null ? UNSEEN_SOIL_FACTOR : 1;
  const ratio = best === null ? 0 : best.score / (sight * THRESHOLDS[best.onsetIndex]!);
  const over = ratio >= 1 ? state.over + 1 : 0;
  const evaluated = { ratio, over, evaluatedDay: day.dayNumber, newestRow, soil: state.soil, falls: state.falls };
  if (state.open !== null) {
    const supported = ratio >= SUPPORT && !contradicted(rows, state.open, invertMm, day.dayNumber);
    const against = supported ? 0 : state.against + 1;
    if (against >= DAYS_AGAINST) return { ...evaluated, over: 0, open: null, against: 0 };
    const fit = ratio >= 1 ? sinceOnset(groups, (day.endMs - state.open.onsetMs) / DAY_MS) : null;
    const open = fit === null ? state.open : knownLeak(view, fit, day, state.open);
    return { ...evaluated, open, against };
  }
  if (best === null || suspended || over < DAYS_OVER) return { ...evaluated, open: null, against: 0 };
  return { ...evaluated, open: knownLeak(view, best, day, null), against: 0 };
}

/** What the blocks show of a leak, in order of their day. */
export function leakBlocks(view: PotView, soilGains: ReadonlyMap<EpochMs, number>): readonly LeakBlock[] {
  const { reservoir, soil } = view.ctx.container;
  const pot: LeakPot = {
    invertMm: reservoir.overflowMm,
    footMm: reservoir.wickFootMm,
    soilLitres: soil?.litres ?? null,
    soilGains,
  };
  const seen: LeakBlock[] = [];
  for (const packed of view.blocks) {
    const block = leakBlock(packed, pot);
    if (block !== null) seen.push(block);
  }
  return seen;
}

/**
 * Onsets are looked at in groups: in each the plants' demand is followed up to just before the group's oldest onset.
 */
const GROUPS: readonly { readonly from: number; readonly to: number; readonly freezeDays: number | null }[] = [
  { from: 0, to: 6, freezeDays: 7 },
  { from: 6, to: 17, freezeDays: 18 },
  { from: 17, to: Number.POSITIVE_INFINITY, freezeDays: null },
];

/** A planting that drew less than this part of what it may draw was at rest; what it has drawn since is its waking. */
const RESTING_GROWTH = 3;
const LONG_DAYS = 17;

interface GroupFits {
  readonly rows: readonly LeakRow[];
  readonly fits: readonly LeakFit[];
}

/** The fits of all onsets, group by group; null where there are too few blocks. */
export function fitLeaks(view: PotView, seen: readonly LeakBlock[], today: number): readonly GroupFits[] | null {
  const groups: GroupFits[] = [];
  const nearFoot = nearFootRows(view);
  for (const { from, to, freezeDays } of GROUPS) {
    const thirst = thirstByDay(view, freezeDays);
    const ofBlocks = seen.map((block) => leakRow(block, thirst.get(block.block.dayNumber) ?? AS_NOMINAL));
    const rows = [...ofBlocks, ...nearFoot].sort((a, b) => a.dayNumber - b.dayNumber);
    const fits = leakFits(rows, today, from, to);
    if (fits === null) return null;
    const awake = (fit: LeakFit): boolean =>
      fit.onsetDays <= LONG_DAYS || (thirst.get(today - fit.onsetDays)?.growth ?? 1) < RESTING_GROWTH;
    groups.push({ rows, fits: fits.filter(awake) });
  }
  return groups;
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

/**
 * The strongest fit of the group that follows the demand up to before a leak of this age, without the windows that
 * reach far back before it.
 */
function sinceOnset(groups: readonly GroupFits[], ageDays: number): LeakFit | null {
  const index = GROUPS.findIndex(({ to }) => ageDays <= to);
  const fits = groups[index]?.fits.filter((fit) => fit.onsetDays <= AGE_MARGIN * ageDays + 1) ?? [];
  const fit = fits.reduce<LeakFit | null>((best, one) => (best !== null && best.score >= one.score ? best : one), null);
  return fit !== null && fit.score > 0 && fit.litresPerDay >= LEAST_LITRES_PER_DAY ? fit : null;
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
  return {
    litresPerDay: fit.litresPerDay,
    sd: fit.sd,
    heightMm: fit.heightIndex * HEIGHT_SHARES[1]! * invertMm,
    onsetMs: before?.onsetMs ?? day.endMs - fit.onsetDays * DAY_MS,
    openedMs: before?.openedMs ?? day.endMs,
    confidence: Math.min(0.97, 0.75 + 0.05 * Math.log2(Math.max(1, fit.score / THRESHOLDS[fit.onsetIndex]!)) * 4),
    activeBlocks: fit.activeBlocks,
    score: fit.score,
    demandGain: fit.demandGain,
    falls: 0,
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
      open.falls > 0
        ? say('finding.leak.same_height', { times: open.falls, crackMm: open.heightMm })
        : say('finding.leak.not_demand', { leakScore: open.score + open.demandGain, demandScore: open.demandGain }),
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

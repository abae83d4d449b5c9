import type { ContainerId, EpochMs, NodeId } from '../../domain/ids.js';
import { DAY_MS, HOUR_MS } from '../../domain/local-day.js';
import type { FindingDraft, PotEvent } from '../../domain/pot.js';
import { shorten } from '../block.js';
import type { PotView } from '../pot-view.js';
import { lastDays } from './baseline.js';
import { say } from './draft.js';

/**
 * What one pot's record says about the water that its node stands in, for comparison with the other pots of its site.
 * Noise, temperature coefficient and cell go with the node wherever it stands, so they say nothing here.
 */
export interface SwapSummary {
  readonly containerId: ContainerId;
  readonly name: string;
  readonly nodeId: NodeId;
  /** Daily values, oldest first; the same day numbers for all pots of a site where they are known. */
  readonly days: readonly SwapDay[];
  /** Sudden rises and falls of the last three months that the node now on it saw, oldest first. */
  readonly jumps: readonly SwapJump[];
}

export interface SwapDay {
  readonly dayNumber: number;
  readonly endMs: EpochMs;
  /** At the end of the day, or null. */
  readonly levelMm: number | null;
  readonly moisture: number | null;
  /** Fall of the level per mm of ET0. */
  readonly fallPerEt0: number | null;
  readonly refilled: boolean;
}

export interface SwapJump {
  readonly id: string;
  readonly endMs: EpochMs;
  readonly fromMm: number;
  readonly toMm: number;
}

const BEFORE_DAYS = 10;
const AFTER_DAYS = 3;
const LOOK_BACK_DAYS = 14;
/** Log-likelihood that the exchange must gain, in all; a chance of 1 in 20 000 by itself. */
const DECISION = 10;
/** The slow comparison must gain more: plantings that rest or wake change together. */
const SLOW_DECISION = 20;
/** What each of the two pots must gain at least: one pot that changed by itself is no exchange. */
const LEAST_GAIN = SLOW_DECISION / 4;
/** The zeros of two nodes differ by some millimetres, and a day passes between two dawns. */
const LEVEL_SD_MM = 8;
const DAILY_LEVEL_SD_MM = 10;
/** Moisture of a settled soil moves by this from week to week; a probe's own scale goes with the node. */
const MOISTURE_SD = 0.012;
/** Between two pots of a site, as one probe sees them. */
const MOISTURE_BETWEEN_SD = 0.04;
const MOISTURE_GAIN_SD = 0.3;
/** Of the log of the mean fall per mm of ET0: of a day, and what more days do not remove. */
const FALL_LOG_SD = { day: 0.5, mean: 0.22 } as const;
/** No single quantity decides: its misfit counts up to this much. */
const MOST_PER_QUANTITY = 8;
const KEPT_MS = 90 * DAY_MS;
const KEPT_JUMPS = 60;
const LEAST_JUMP_MM = 12;
/** Crossings closer together than this are one. */
const APART_MS = 6 * HOUR_MS;
/** A planting that draws less than this says nothing about whose it is, mm of level per mm of ET0. */
const LEAST_FALL_PER_ET0 = 0.5;
/** Two levels that cross within the time of one call: a loss and a rise together are rare, and rarer at these heights. */
const CROSSING = 13;
/** Added where the two soils stepped apart on that very day, each by more than a soil does of itself. */
const SOILS_STEPPED = 5;
const LEAST_SOIL_STEP = 0.04;
const CROSSING_MS = 3 * HOUR_MS;
const CROSSING_FULL_MM = 25;

/**
 * Pairs of pots of one site whose nodes seem to have been exchanged. Either both levels jumped at once, each to where
 * the other stood; or from some day on each record fits the other pot's past better than its own, by level, by the
 * opposite steps of the two soils' moisture and by thirst. Each pair gives one finding for each of the two pots.
 * Cost: pots² x days, and almost nothing for pots whose record goes on as it was.
 */
export function findSwaps(pots: readonly SwapSummary[]): readonly FindingDraft[] {
  const drafts: FindingDraft[] = [];
  const taken = new Set<ContainerId>();
  const parts = pots.map(partsByDay);
  const pairs: { readonly a: SwapSummary; readonly b: SwapSummary; readonly best: SwapScore }[] = [];
  for (let i = 0; i < pots.length; i++) {
    for (let j = i + 1; j < pots.length; j++) {
      const crossing = bestCrossing(pots[i]!, pots[j]!);
      const best = crossing ?? bestDay(pots[i]!, parts[i]!, pots[j]!, parts[j]!);
      if (best !== null) pairs.push({ a: pots[i]!, b: pots[j]!, best });
    }
  }
  pairs.sort((x, y) => y.best.score - x.best.score);
  for (const { a, b, best } of pairs) {
    if (taken.has(a.containerId) || taken.has(b.containerId)) continue;
    taken.add(a.containerId);
    taken.add(b.containerId);
    drafts.push(draftOf(a, b, best), draftOf(b, a, best));
  }
  return drafts;
}

interface SwapScore {
  readonly score: number;
  readonly sinceMs: EpochMs;
  readonly days: number;
}

/** Takes an event, also one that is judged anew under the same id. */
export function jumpOnEvent(jumps: readonly SwapJump[], event: PotEvent): readonly SwapJump[] {
  const others = jumps.filter((jump) => jump.id !== event.id);
  const sudden = event.kind === 'refill' || event.kind === 'sudden_loss' || event.kind === 'drained';
  if (!sudden || Math.abs(event.endLevelMm - event.startLevelMm) < LEAST_JUMP_MM) {
    return others.length === jumps.length ? jumps : others;
  }
  const jump = { id: event.id, endMs: event.endMs, fromMm: event.startLevelMm, toMm: event.endLevelMm };
  const kept = others.filter((one) => one.endMs > event.endMs - KEPT_MS);
  return [...kept, jump].sort((a, b) => a.endMs - b.endMs).slice(-KEPT_JUMPS);
}

/**
 * The newest of the times at which the two levels changed places; null where they did so an even number of times, for
 * then each node stands where it stood before.
 */
function bestCrossing(a: SwapSummary, b: SwapSummary): SwapScore | null {
  const lastMs = Math.max(a.days.at(-1)?.endMs ?? 0, b.days.at(-1)?.endMs ?? 0);
  const crossings: SwapScore[] = [];
  for (const one of a.jumps) {
    for (const other of b.jumps) {
      if (Math.abs(one.endMs - other.endMs) > CROSSING_MS) continue;
      const rise = one.toMm - one.fromMm;
      const fall = other.toMm - other.fromMm;
      if (rise * fall >= 0) continue;
      const strength = Math.min(1, Math.min(Math.abs(rise), Math.abs(fall)) / CROSSING_FULL_MM);
      const misfits =
        ((one.toMm - other.fromMm) / LEVEL_SD_MM) ** 2 / 2 + ((other.toMm - one.fromMm) / LEVEL_SD_MM) ** 2 / 2;
      const sinceMs = Math.min(one.endMs, other.endMs);
      const score = CROSSING * strength - misfits + (soilsSteppedApart(a, b, sinceMs) ? SOILS_STEPPED : 0);
      if (score < DECISION) continue;
      const before = crossings[crossings.length - 1];
      if (before !== undefined && sinceMs - before.sinceMs < APART_MS) continue;
      crossings.push({ score, sinceMs, days: Math.max(0, lastMs - sinceMs) / DAY_MS });
    }
  }
  return crossings.length % 2 === 1 ? crossings[crossings.length - 1]! : null;
}

function soilsSteppedApart(a: SwapSummary, b: SwapSummary, atMs: EpochMs): boolean {
  const [one, other] = [soilStep(a, atMs), soilStep(b, atMs)];
  return (
    one !== null && other !== null && one * other < 0 && Math.min(Math.abs(one), Math.abs(other)) > LEAST_SOIL_STEP
  );
}

/** Moisture at the first dawn after an instant less that of the last dawn before it; null where one is not known. */
function soilStep(pot: SwapSummary, atMs: EpochMs): number | null {
  const after = pot.days.findIndex((day) => day.endMs > atMs);
  const before = pot.days[after - 1]?.moisture ?? null;
  const moisture = pot.days[after]?.moisture ?? null;
  return before === null || moisture === null ? null : moisture - before;
}

/** The day of the last two weeks from which on an exchange explains most. */
function bestDay(
  a: SwapSummary,
  partsA: readonly (Parts | null)[],
  b: SwapSummary,
  partsB: readonly (Parts | null)[],
): SwapScore | null {
  const last = a.days[a.days.length - 1];
  if (last === undefined || last.dayNumber !== b.days[b.days.length - 1]?.dayNumber) return null;
  let best: SwapScore | null = null;
  for (let ago = AFTER_DAYS; ago <= LOOK_BACK_DAYS; ago++) {
    const partA = partsA[ago - AFTER_DAYS] ?? null;
    const partB = partsB[ago - AFTER_DAYS] ?? null;
    if (partA === null || partB === null) continue;
    const [moistA, moistB] = moistureGains(partA, partB);
    const gainA = quantityGain(partA, partB) + moistA;
    const gainB = quantityGain(partB, partA) + moistB;
    if (gainA < LEAST_GAIN || gainB < LEAST_GAIN) continue;
    const score = gainA + gainB;
    if (score < SLOW_DECISION) continue;
    if (best === null || score > best.score) best = { score, sinceMs: last.endMs - ago * DAY_MS, days: ago };
  }
  return best;
}

/** The record parted at each day that is looked at; null where it goes on as it was, or says nothing. */
function partsByDay(pot: SwapSummary): readonly (Parts | null)[] {
  const last = pot.days[pot.days.length - 1];
  if (last === undefined) return [];
  const parts: (Parts | null)[] = [];
  for (let ago = AFTER_DAYS; ago <= LOOK_BACK_DAYS; ago++) {
    const part = partsOf(pot, last.dayNumber - ago + 1);
    parts.push(part === null || ownMisfit(part) > -LEAST_GAIN ? null : part);
  }
  return parts;
}

/** How badly the record since the day fits its own past: nothing can be gained beyond this. */
function ownMisfit(part: Parts): number {
  const of = (after: number | null, before: number | null, sd: number): number =>
    after === null || before === null ? 0 : misfit(after - before, sd);
  return (
    of(part.levelAfterMm, part.levelBeforeMm, DAILY_LEVEL_SD_MM) +
    of(part.fallAfter, part.fallBefore, part.fallSd) +
    of(part.moistureAfter, part.moistureBefore, MOISTURE_SD)
  );
}

/** A record parted at a day: what it was before, and what it is since. */
interface Parts {
  readonly levelBeforeMm: number | null;
  /** Null too where a refill stands between. */
  readonly levelAfterMm: number | null;
  readonly moistureBefore: number | null;
  readonly moistureAfter: number | null;
  readonly fallBefore: number | null;
  readonly fallAfter: number | null;
  readonly fallSd: number;
}

function partsOf(pot: SwapSummary, fromDay: number): Parts | null {
  const past = pot.days.filter((day) => day.dayNumber < fromDay && day.dayNumber >= fromDay - BEFORE_DAYS);
  const now = pot.days.filter((day) => day.dayNumber >= fromDay);
  if (past.length < 5 || now.length < AFTER_DAYS - 1) return null;
  const first = now[0]!;
  const moisture = (day: SwapDay): number | null => day.moisture;
  const before = logFall(past);
  const after = logFall(now);
  return {
    levelBeforeMm: past[past.length - 1]!.levelMm,
    levelAfterMm: first.refilled ? null : first.levelMm,
    moistureBefore: mean(past, moisture),
    // The day of the exchange itself shows a little of both.
    moistureAfter: mean(now.slice(1), moisture),
    fallBefore: before.value,
    fallAfter: after.value,
    fallSd: Math.hypot(
      FALL_LOG_SD.day / Math.sqrt(Math.max(1, before.count)),
      FALL_LOG_SD.day / Math.sqrt(Math.max(1, after.count)),
      FALL_LOG_SD.mean,
    ),
  };
}

/** Log-likelihood that `mine` since the day gains under the other pot's past. */
function quantityGain(mine: Parts, other: Parts): number {
  return (
    gain(mine.levelAfterMm, mine.levelBeforeMm, other.levelBeforeMm, DAILY_LEVEL_SD_MM) +
    gain(mine.fallAfter, mine.fallBefore, other.fallBefore, Math.max(mine.fallSd, other.fallSd))
  );
}

function gain(after: number | null, own: number | null, other: number | null, sd: number): number {
  if (after === null || own === null || other === null) return 0;
  return misfit(after - other, sd) - misfit(after - own, sd);
}

/**
 * An exchange moves the two probes by opposite steps of about the same size. What the two pots gain by that against two
 * soils that stay as they are.
 */
function moistureGains(a: Parts, b: Parts): readonly [number, number] {
  if (a.moistureBefore === null || a.moistureAfter === null || b.moistureBefore === null || b.moistureAfter === null) {
    return [0, 0];
  }
  const stepA = a.moistureAfter - a.moistureBefore;
  const stepB = b.moistureAfter - b.moistureBefore;
  const size = (stepA - stepB) / 2;
  const apart = misfit(stepA + stepB, Math.hypot(MOISTURE_SD, MOISTURE_GAIN_SD * size));
  const spread = Math.log(MOISTURE_SD / MOISTURE_BETWEEN_SD);
  const exchanged = (misfit(size, MOISTURE_BETWEEN_SD) + spread + apart) / 2;
  return [exchanged - misfit(stepA, MOISTURE_SD), exchanged - misfit(stepB, MOISTURE_SD)];
}

function logFall(days: readonly SwapDay[]): { readonly value: number | null; readonly count: number } {
  const falls = days.map((day) => day.fallPerEt0).filter((fall) => fall !== null);
  if (falls.length < 2) return { value: null, count: falls.length };
  const middle = falls.reduce((sum, fall) => sum + fall, 0) / falls.length;
  return { value: Math.log(Math.max(LEAST_FALL_PER_ET0, middle)), count: falls.length };
}

function mean(days: readonly SwapDay[], of: (day: SwapDay) => number | null): number | null {
  const values = days.map(of).filter((value) => value !== null);
  return values.length === 0 ? null : values.reduce((sum, value) => sum + value, 0) / values.length;
}

function misfit(difference: number, sd: number): number {
  return -Math.min(MOST_PER_QUANTITY, (difference / sd) ** 2 / 2);
}

function draftOf(pot: SwapSummary, other: SwapSummary, best: SwapScore): FindingDraft {
  return {
    containerId: pot.containerId,
    nodeId: pot.nodeId,
    kind: 'nodes_swapped',
    onsetMs: best.sinceMs,
    size: null,
    unit: null,
    heightMm: null,
    confidence: Math.round(100 * Math.min(0.97, 0.7 + 0.01 * best.score)) / 100,
    severity: 'medium',
    evidence: [
      say('finding.nodes_swapped.fits', {
        sinceMs: best.sinceMs,
        otherContainer: other.name,
        thisContainer: pot.name,
      }),
      say('finding.nodes_swapped.score', { score: shorten(best.score), days: Math.round(best.days) }),
    ],
    toConfirm: say('finding.nodes_swapped.confirm'),
  };
}

/** The last weeks of a pot for {@link findSwaps}; null without a node. */
export function summariseForSwap(view: PotView, jumps: readonly SwapJump[]): SwapSummary | null {
  if (view.nodeId === null) return null;
  const days = lastDays(view, BEFORE_DAYS + LOOK_BACK_DAYS + 2).map((day) => ({
    dayNumber: day.dayNumber,
    endMs: day.endMs,
    levelMm: day.dawnLevelMm,
    moisture: day.dawnMoisture,
    fallPerEt0:
      day.netUseLitres === null || day.dawnLevelMm === null || day.hoursDry > 0 || day.et0Mm <= 0
        ? null
        : day.netUseLitres / view.strapping.areaLitresPerMm(day.dawnLevelMm) / day.et0Mm,
    refilled: day.refills > 0 || day.rainLitres > 0,
  }));
  const sinceMs = view.assignedMs ?? 0;
  return {
    containerId: view.ctx.container.id,
    name: view.ctx.container.name,
    nodeId: view.nodeId,
    days,
    jumps: jumps.filter((jump) => jump.endMs >= sinceMs),
  };
}

import { BLOCK_FLAGS } from '../../block.js';
import type { DayRecord } from '../../day-record.js';
import type { PotView } from '../../pot-view.js';
import { lastDays } from '../baseline.js';
import { HEIGHT_SHARES, type LeakRow, meanOrificeShare } from './rows.js';

const WINDOW_DAYS = 90;
/** A day is spent near the foot when at most so many hours of it were not. */
const LEAST_HOURS = 20;
/** The foot is known to some millimetres, and so is the level beside it: nothing is held against a crack so near. */
const CLEAR_MM = 6;
const NEAR_FOOT_MM = 8;
/** Of the level at one dawn; both dawns and a day's slow errors make the loss uncertain. */
const DAWN_ERROR_MM = 0.8;
const SLOW_MM = 0.3;
const DISTURBED = BLOCK_FLAGS.disturbed | BLOCK_FLAGS.rain | BLOCK_FLAGS.wetSoil;

/**
 * Days on which the level stood near the wick's foot. What was lost there may all have been drunk and is no sign of a
 * leak; but a level that stands still there says that no crack lies well below it, where a thirsty planting and a low
 * leak otherwise look the same.
 */
export function nearFootRows(view: PotView): readonly LeakRow[] {
  const days = lastDays(view, WINDOW_DAYS + 1);
  const rows: LeakRow[] = [];
  for (let i = 1; i < days.length; i++) {
    const row = nearFootRow(view, days[i - 1]!, days[i]!);
    if (row !== null) rows.push(row);
  }
  return rows;
}

function nearFootRow(view: PotView, before: DayRecord, day: DayRecord): LeakRow | null {
  const { overflowMm, wickFootMm } = view.ctx.container.reservoir;
  if (before.dayNumber !== day.dayNumber - 1 || before.dawnLevelMm === null || day.dawnLevelMm === null) return null;
  if (day.netUseLitres === null || day.refills > 0 || day.hoursDry < LEAST_HOURS) return null;
  if ((day.flags & DISTURBED) !== 0) return null;
  const levels = [before.dawnLevelMm, day.dawnLevelMm];
  if (levels.some((levelMm) => Math.abs(levelMm - wickFootMm) > NEAR_FOOT_MM)) return null;
  const area = view.strapping.areaLitresPerMm(day.dawnLevelMm);
  const noise = Math.hypot(Math.SQRT2 * DAWN_ERROR_MM, SLOW_MM) * area;
  const drunk = Math.max(0, day.netUseLitres);
  const sd = Math.hypot(noise, drunk);
  return {
    dayNumber: day.dayNumber,
    kind: 'day',
    loss: Math.min(0, day.netUseLitres),
    sd,
    sdBelow: sd,
    nominal: 0,
    potential: 0,
    temperature: 0,
    soilGain: 0,
    flows: HEIGHT_SHARES.map((share) =>
      meanOrificeShare(levels[0]! - CLEAR_MM, levels[1]! - CLEAR_MM, share * overflowMm, overflowMm),
    ),
  };
}

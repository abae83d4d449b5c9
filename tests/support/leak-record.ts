import type { Block } from '../../src/analytics/block.js';
import { DAY_MS, HOUR_MS } from '../../src/domain/local-day.js';
import { makeBlock, START_DAY } from './pot-view.js';

export interface LeakRecordSpec {
  readonly days: number;
  /** First day of the leak; beyond `days` there is none. */
  readonly leakFrom: number;
  readonly litresPerDayAtInvert: number;
  readonly crackMm: number;
  /** Factor on the plants' use from a day on. */
  readonly demandStepFrom: number;
  readonly demandStep: number;
  readonly refillEveryDays: number;
  readonly noiseMm: number;
  readonly rng: () => number;
}

const AREA = 0.15;
const OVERFLOW_MM = 200;
const DAY_HOURS = 17;
const NIGHT_HOURS = 7;

/** Blocks of a straight-sided pot of 0.15 m² that is filled up every few days, with or without a hole. */
export function leakRecord(spec: LeakRecordSpec): readonly Block[] {
  const gauss = (): number => Math.sqrt(-2 * Math.log(1 - spec.rng())) * Math.cos(2 * Math.PI * spec.rng());
  const blocks: Block[] = [];
  let level = OVERFLOW_MM;
  for (let day = 0; day < spec.days; day++) {
    if (day % spec.refillEveryDays === 0) level = OVERFLOW_MM - 2;
    const nominalDay = 1 + 0.3 * Math.sin(day / 5);
    const step = day >= spec.demandStepFrom ? spec.demandStep : 1;
    for (const kind of ['day', 'night'] as const) {
      const hours = kind === 'day' ? DAY_HOURS : NIGHT_HOURS;
      const nominal = (kind === 'day' ? 1.3 : 0.27) * nominalDay;
      const use = nominal * step * Math.exp((kind === 'day' ? 0.15 : 0.25) * gauss());
      const start = level;
      const parts = 24;
      for (let i = 0; i < parts; i++) {
        const head = Math.max(0, level - spec.crackMm) / (OVERFLOW_MM - spec.crackMm);
        const leak = day >= spec.leakFrom ? spec.litresPerDayAtInvert * Math.sqrt(head) : 0;
        level = Math.max(22, level - ((use + leak) * hours) / 24 / parts / AREA);
      }
      const readings = hours * 2;
      const sd = (AREA * spec.noiseMm * 24) / (hours * Math.sqrt(readings / 12));
      const startMs = (START_DAY + day) * DAY_MS + (kind === 'day' ? 5.5 : 22.5) * HOUR_MS;
      blocks.push(
        makeBlock({
          kind,
          dayNumber: START_DAY + day,
          startMs,
          endMs: startMs + hours * HOUR_MS,
          readings,
          lossLitresPerDay: ((start - level) * AREA * 24) / hours + sd * gauss(),
          lossVariance: sd ** 2,
          startLevelMm: start,
          endLevelMm: level,
          areaLitresPerMm: AREA,
          nominalLitresPerDay: nominal,
          noiseMm: spec.noiseMm,
          flags: level < 26 ? 2 : 0,
        }),
      );
    }
  }
  return blocks;
}

/** mulberry32: a small seeded generator, so that every run tests the same records. */
export function seeded(seed: number): () => number {
  let a = seed >>> 0;
  return () => {
    a = (a + 0x6d2b79f5) >>> 0;
    let t = a;
    t = Math.imul(t ^ (t >>> 15), t | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return ((t ^ (t >>> 14)) >>> 0) / 4_294_967_296;
  };
}

import type { PotContext, PotInput } from '../../src/domain/analysis.js';
import { addDays, LocalDays } from '../../src/domain/local-day.js';
import type { PotReading } from '../../src/domain/pot.js';
import type { WeatherDay } from '../../src/domain/weather.js';

/** A small repeatable generator (mulberry32), so that a failing case can be run again. */
export function seededRng(seed: number): () => number {
  let a = seed >>> 0;
  return () => {
    a = (a + 0x6d2b79f5) >>> 0;
    let t = a;
    t = Math.imul(t ^ (t >>> 15), t | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  };
}

export function gaussian(rng: () => number): number {
  return Math.sqrt(-2 * Math.log(1 - rng())) * Math.cos(2 * Math.PI * rng());
}

/** A straight-walled reservoir of 0.15 L/mm, 200 mm to the port, wick foot at 10 mm. */
export function potContext(overrides: Partial<PotContext['container']> = {}, timeZone = 'Europe/Madrid'): PotContext {
  return {
    container: {
      id: 'C1',
      siteId: 'S1',
      name: 'Bowl',
      place: null,
      covered: true,
      installedOn: '2026-03-01',
      removedOn: null,
      reservoir: {
        strapping: [
          [0, 0],
          [100, 15],
          [240, 36],
        ],
        overflowMm: 200,
        wickFootMm: 10,
      },
      soil: { litres: 60, surfaceM2: 0.25 },
      potKg: 30,
      plants: [],
      ...overrides,
    },
    site: {
      id: 'S1',
      accountId: 'A1',
      name: 'Terrace',
      latitude: 41.2,
      longitude: 2.1,
      elevationM: 10,
      timeZone,
      tap: true,
    },
    calibration: null,
  };
}

export function reading(timeMs: number, levelMm: number | null, more: Partial<PotReading> = {}): PotInput {
  return {
    kind: 'reading',
    timeMs,
    reading: {
      nodeId: 'N1',
      timeMs,
      receivedMs: timeMs,
      levelMm,
      moistureFraction: null,
      temperatureC: null,
      batteryV: null,
      batteryFraction: null,
      ...more,
    },
  };
}

export function weatherInput(ctx: PotContext, day: string, et0Mm: number, rainMm: number | null = 0): PotInput {
  const calendar = new LocalDays(ctx.site.timeZone);
  return { kind: 'weather', timeMs: calendar.endMs(day), day: weatherDay(day, et0Mm, rainMm) };
}

export function weatherDay(
  day: string,
  et0Mm: number | null,
  rainMm: number | null,
  issuedMs: number | null = null,
): WeatherDay {
  return {
    siteId: 'S1',
    day,
    tminC: null,
    tmaxC: null,
    humidityFraction: null,
    windMPerS: null,
    solarMjPerM2: null,
    rainMm,
    et0Mm,
    rainProbability: null,
    issuedMs,
  };
}

export interface SeriesOptions {
  readonly days: number;
  readonly litresPerMmEt0?: number;
  readonly noiseMm?: number;
  readonly quantumMm?: number;
  readonly intervalMinutes?: number;
  /** Refill to this level whenever the level falls under `refillBelowMm`. */
  readonly refillToMm?: number;
  readonly refillBelowMm?: number;
  readonly startMm?: number;
  readonly seed?: number;
  readonly startDay?: string;
  readonly et0Mm?: (index: number) => number;
  readonly weather?: boolean;
}

/** A covered pot that draws by day (a sine from 6 to 20 h UTC) with a tenth at night; refills in one step at 9 h UTC. */
export function potSeries(ctx: PotContext, options: SeriesOptions): readonly PotInput[] {
  const rng = seededRng(options.seed ?? 1);
  const startDay = options.startDay ?? '2026-06-01';
  const calendar = new LocalDays(ctx.site.timeZone);
  const inputs: PotInput[] = [];
  const intervalMs = (options.intervalMinutes ?? 30) * 60_000;
  const quantum = options.quantumMm ?? 0.1;
  let levelMm = options.startMm ?? 190;
  const area = 0.15;
  const et0 = options.et0Mm ?? ((index: number) => 4.5 + 1.5 * Math.sin(index * 1.7));
  const startMs = calendar.startMs(startDay);
  for (let index = 0; index < options.days; index++) {
    const day = addDays(startDay, index);
    const useLitres = (options.litresPerMmEt0 ?? 0.25) * et0(index);
    const from = startMs + index * 86_400_000;
    for (let ms = from; ms < from + 86_400_000; ms += intervalMs) {
      const hour = (ms / 3_600_000) % 24;
      const sine = hour > 6 && hour < 20 ? Math.sin(((hour - 6) / 14) * Math.PI) : 0;
      const perDay = 0.1 + 0.9 * sine * ((Math.PI / 2) * (24 / 14));
      levelMm = Math.max(5, levelMm - ((useLitres / area) * perDay * intervalMs) / 86_400_000);
      if (Math.floor(hour) === 9 && hour < 9.26 && levelMm < (options.refillBelowMm ?? 50)) {
        levelMm = options.refillToMm ?? 190;
      }
      const seen = levelMm + (options.noiseMm ?? 0.5) * gaussian(rng);
      inputs.push(reading(ms, Math.round(seen / quantum) * quantum));
    }
    if (options.weather !== false) inputs.push(weatherInput(ctx, day, et0(index)));
  }
  const order = (input: PotInput): number => input.timeMs;
  return inputs.sort((a, b) => order(a) - order(b) || (a.kind < b.kind ? -1 : a.kind > b.kind ? 1 : 0));
}

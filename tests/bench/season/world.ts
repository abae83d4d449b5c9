import { Calendar, monthly } from '../../../simulators/calendar.js';
import { planDemoFleet } from '../../../simulators/demo/demo-fleet.js';
import { DEMO_DEPOTS, DEMO_TRUCKS, TOWN } from '../../../simulators/demo/places.js';
import { Draw } from '../../../simulators/rng.js';
import { CLIMATES } from '../../../simulators/weather/climates.js';
import { summariseDay } from '../../../simulators/weather/daily.js';
import { issueForecast } from '../../../simulators/weather/forecast.js';
import { drawRegion } from '../../../simulators/weather/region.js';
import { estimateEt0Mm } from '../../../src/domain/formulas/fao56.js';

/** One pot of the benchmark: what it holds and how it draws. Days only, no hours: a season has to take minutes. */
export interface BenchPot {
  readonly id: string;
  readonly site: number;
  readonly drawableLitres: number;
  readonly deadLitres: number;
  /** Soil that rain reaches; 0 under a roof. */
  readonly surfaceM2: number;
  /** By day: true use where there is water. */
  readonly useLitres: Float64Array;
  readonly litresPerMm: Float64Array;
  /** By day: error of the logarithm of the pot's thirst as the forecast has it, and of its litres. */
  readonly thirstError: Float64Array;
  readonly litresError: Float64Array;
}

export interface BenchSite {
  readonly id: string;
  readonly latitude: number;
  readonly longitude: number;
  readonly tap: boolean;
  readonly dryRisk: number;
  readonly pots: readonly number[];
}

export interface BenchWorld {
  readonly name: string;
  readonly calendar: Calendar;
  readonly sites: readonly BenchSite[];
  readonly pots: readonly BenchPot[];
  readonly depot: { readonly latitude: number; readonly longitude: number };
  /** Tank litres of each technician. */
  readonly tanks: readonly number[];
  readonly et0Mm: Float64Array;
  readonly rainMm: Float64Array;
  /** Of the season alone. */
  readonly usualEt0Mm: Float64Array;
  /** By day of issue: expected ET0 of that day and those after it. */
  readonly et0Forecast: readonly (readonly number[])[];
  readonly rainForecast: readonly (readonly { readonly mm: number; readonly chance: number }[])[];
}

/** ET0 of a hot week on this coast, by which a pot's days of autonomy are meant. */
const SUMMER_ET0_MM = 5.5;
/** Thirst wanders with growth and pruning, and from day to day; ours, no source. */
export const THIRST_WANDER_SD = 0.12;
export const THIRST_WANDER_DAYS = 30;
const THIRST_DAY_SD = 0.08;
/** How wrong the forecast's thirst is, and for how long it stays wrong the same way. */
export const THIRST_ERROR_SD = 0.07;
const THIRST_ERROR_DAYS = 10;
const LITRES_ERROR_SHARE = 0.015;

/** What makes one world differ from another of the same kind: a seed of its own, and the Monday that it begins on. */
export interface WorldChoice {
  readonly seed: string;
  readonly firstDay: string;
}

/** The world that is reported: planners are tuned on other seeds. */
export const REPORTED: WorldChoice = { seed: 'season', firstDay: '2026-01-05' };

export function demoWorld(days: number, choice: WorldChoice = REPORTED): BenchWorld {
  const plan = planDemoFleet('tern-and-tide');
  const sites = plan.sites.map((site, s) => ({
    id: `S${s + 1}`,
    latitude: site.latitude,
    longitude: site.longitude,
    tap: site.tap,
    dryRisk: 0.05,
    potSpecs: site.pots.map((pot) => ({
      autonomyDays: pot.wishes.autonomyDays ?? 10,
      covered: pot.wishes.covered ?? true,
    })),
  }));
  // Two trucks for three technicians: the third goes where there is a tap.
  return worldOf('demo fleet', days, choice, sites, DEMO_DEPOTS[0], [
    ...DEMO_TRUCKS.map((truck) => truck.tankLitres),
    0,
  ]);
}

export function townWorld(
  siteCount: number,
  technicians: number,
  days: number,
  choice: WorldChoice = REPORTED,
): BenchWorld {
  const draw = new Draw(choice.seed, 'town', siteCount);
  const sites = Array.from({ length: siteCount }, (_, s) => ({
    id: `S${s + 1}`,
    latitude: TOWN.latitude + draw.normal(0, 0.05),
    longitude: TOWN.longitude + draw.normal(0, 0.07),
    tap: draw.chance(0.7),
    dryRisk: 0.05,
    potSpecs: Array.from({ length: draw.integer(2, 6) }, () => ({
      autonomyDays: Math.min(26, Math.max(6, 10.5 * draw.spread(0.35))),
      covered: draw.chance(0.5),
    })),
  }));
  const tanks = Array.from({ length: technicians }, () => 600);
  return worldOf(`${siteCount} sites`, days, choice, sites, DEMO_DEPOTS[0], tanks);
}

function worldOf(
  name: string,
  days: number,
  { seed, firstDay }: WorldChoice,
  planned: readonly (Omit<BenchSite, 'pots'> & {
    readonly potSpecs: readonly { readonly autonomyDays: number; readonly covered: boolean }[];
  })[],
  depot: { readonly latitude: number; readonly longitude: number },
  tanks: readonly number[],
): BenchWorld {
  const climate = CLIMATES.coast;
  // The weeks after the end are for the forecasts.
  const calendar = new Calendar(climate.timeZone, firstDay, days + 21);
  const region = drawRegion(climate, calendar, seed);
  const truth = calendar.days.map((_, d) => summariseDay(region, calendar, d));
  const et0Of = (
    day: { tminC: number; tmaxC: number; humidityPct: number; windMPerS: number; solarMj: number },
    d: number,
  ) =>
    Math.max(
      0.2,
      estimateEt0Mm({
        latitudeDeg: climate.latitude,
        elevationM: 10,
        dayOfYear: calendar.dayOfYear[d]!,
        tminC: day.tminC,
        tmaxC: day.tmaxC,
        humidityFraction: day.humidityPct / 100,
        windMPerS: day.windMPerS,
        solarMjPerM2: day.solarMj,
      }).et0Mm,
    );
  const et0Mm = Float64Array.from(truth, et0Of);
  const usualEt0Mm = Float64Array.from(calendar.days, (_, d) => {
    const position = calendar.monthPosition[d]!;
    const meanC = monthly(climate.meanC, position);
    const rangeC = monthly(climate.rangeC, position);
    const solarMj = monthly(climate.solarMjPerM2, position);
    const day = { tminC: meanC - rangeC / 2, tmaxC: meanC + rangeC / 2, humidityPct: 65, windMPerS: 1.8, solarMj };
    return et0Of(day, d);
  });
  const issued = calendar.days.slice(0, days).map((_, d) => issueForecast(truth, climate, calendar, seed, d));
  const pots: BenchPot[] = [];
  const sites = planned.map(({ potSpecs, ...site }, s): BenchSite => {
    const own = potSpecs.map((spec, p) => {
      pots.push(potOf(seed, `${site.id}-${p + 1}`, s, spec, calendar.days.length, et0Mm));
      return pots.length - 1;
    });
    return { ...site, pots: own };
  });
  return {
    name,
    calendar,
    sites,
    pots,
    depot: { latitude: depot.latitude, longitude: depot.longitude },
    tanks,
    et0Mm,
    rainMm: Float64Array.from(truth, (day) => day.rainMm),
    usualEt0Mm,
    et0Forecast: issued.map((forecast) => forecast.map((day) => et0Of(day, day.dayIndex))),
    rainForecast: issued.map((forecast) => forecast.map((day) => ({ mm: day.rainMm, chance: day.rainProbability }))),
  };
}

function potOf(
  seed: string,
  id: string,
  site: number,
  spec: { readonly autonomyDays: number; readonly covered: boolean },
  days: number,
  et0Mm: Float64Array,
): BenchPot {
  const draw = new Draw(seed, 'pot', id);
  const drawableLitres = draw.uniform(10, 45);
  const perMm = drawableLitres / (spec.autonomyDays * SUMMER_ET0_MM);
  const wander = wandering(draw, days, THIRST_WANDER_SD, THIRST_WANDER_DAYS);
  const litresPerMm = Float64Array.from(wander, (log) => perMm * Math.exp(log));
  return {
    id,
    site,
    drawableLitres,
    deadLitres: 0.1 * drawableLitres,
    surfaceM2: spec.covered ? 0 : draw.uniform(0.12, 0.4),
    litresPerMm,
    useLitres: Float64Array.from(litresPerMm, (k, d) => k * et0Mm[d]! * Math.exp(draw.normal(0, THIRST_DAY_SD))),
    thirstError: wandering(draw, days, THIRST_ERROR_SD, THIRST_ERROR_DAYS),
    litresError: Float64Array.from({ length: days }, () => draw.normal(0, LITRES_ERROR_SHARE * drawableLitres)),
  };
}

/** A first-order autoregressive walk around zero. */
function wandering(draw: Draw, days: number, sd: number, scaleDays: number): Float64Array {
  const keep = Math.exp(-1 / scaleDays);
  const out = new Float64Array(days);
  let value = draw.normal(0, sd);
  for (let d = 0; d < days; d++) {
    value = keep * value + Math.sqrt(1 - keep * keep) * draw.normal(0, sd);
    out[d] = value;
  }
  return out;
}

/** Of each day's rain the first millimetre wets leaves, and of the rest this share reaches the reservoir. */
export function rainLitres(surfaceM2: number, rainMm: number): number {
  return surfaceM2 * 0.85 * Math.max(0, rainMm - 1);
}

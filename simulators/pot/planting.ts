import { hourlyEt0Mm } from '../../src/domain/formulas/fao56.js';
import { saturationVapourPressureKPa } from '../../src/domain/formulas/vapour-pressure.js';
import { type Calendar, HOUR_MS } from '../calendar.js';
import type { Draw } from '../rng.js';
import { solarHourOf } from '../weather/region.js';
import type { SiteWeather } from '../weather/site.js';

export type PlantKind = 'annuals' | 'evergreen' | 'perennial' | 'grass' | 'fern' | 'succulent' | 'citrus';

/** How the sun, the wind and the walls treat one pot, against the open site. */
export interface Exposure {
  readonly name: 'open' | 'morning sun' | 'afternoon sun' | 'dappled' | 'porch' | 'roof' | 'pool deck';
  readonly morning: number;
  readonly midday: number;
  readonly afternoon: number;
  readonly wind: number;
  /** Extra warmth of walls and paving on a bright afternoon. */
  readonly wallC: number;
}

export const EXPOSURES: readonly Exposure[] = [
  { name: 'open', morning: 1, midday: 1, afternoon: 1, wind: 1, wallC: 0.5 },
  { name: 'morning sun', morning: 0.95, midday: 0.75, afternoon: 0.22, wind: 0.6, wallC: 0.3 },
  { name: 'afternoon sun', morning: 0.22, midday: 0.75, afternoon: 0.95, wind: 0.6, wallC: 2.5 },
  { name: 'dappled', morning: 0.5, midday: 0.45, afternoon: 0.5, wind: 0.6, wallC: 0 },
  { name: 'porch', morning: 0.45, midday: 0.25, afternoon: 0.4, wind: 0.45, wallC: 1 },
  { name: 'roof', morning: 1, midday: 1.05, afternoon: 1, wind: 1.5, wallC: 2 },
  { name: 'pool deck', morning: 1, midday: 1.1, afternoon: 1.05, wind: 1.1, wallC: 1.5 },
];

export interface Planting {
  readonly kind: PlantKind;
  readonly exposure: Exposure;
  /** Share of the day's use that is drawn at night; near 1 - share for plants that drink by night. */
  readonly nightShare: number;
  readonly cam: boolean;
  /** Day index on which it was planted; negative where before the span. */
  readonly plantedDay: number;
  /** Canopy area over soil surface when full grown. */
  readonly canopyRatio: number;
  /** Use of a unit of canopy against reference evapotranspiration of the pot's own place. */
  readonly plantFactor: number;
  readonly daySd: number;
  readonly dayPhi: number;
  /** Above this the stomata close step by step. */
  readonly closingC: number;
  /** Loses vigour in long heat. */
  readonly heatDormant: boolean;
  /** Share of the canopy that stays through the cold season. */
  readonly winterShare: number;
  readonly growthPerDay: number;
  readonly prunePerYear: number;
  /** Annuals change with the season: new small plants in spring and autumn. */
  readonly seasonal: boolean;
}

/** Factor on the demand over whole days: a planting that dies, a faulty part of the story. */
export interface DemandSpan {
  readonly fromDay: number;
  readonly toDay: number;
  readonly factor: number;
  /** Days until the factor is fully reached. */
  readonly rampDays: number;
}

/** A change that gardeners made to a planting, and that nobody told the product of. */
export interface PlantChange {
  readonly day: number;
  readonly kind: 'pruned' | 'replanted';
  /** Canopy after against before. */
  readonly factor: number;
}

export interface Growth {
  readonly factors: Float64Array;
  readonly changes: readonly PlantChange[];
}

/** Daily factors on the use of a planting: canopy, season, dormancy, unexplained day-to-day noise. */
export function growthByDay(planting: Planting, site: SiteWeather, calendar: Calendar, draw: Draw): Growth {
  const changes: PlantChange[] = [];
  const days = calendar.days.length;
  const factors = new Float64Array(days);
  let canopy = planting.plantedDay < -60 ? draw.uniform(0.7, 1) : draw.uniform(0.25, 0.4);
  let noise = draw.normal();
  let wander = 0;
  let warmth = site.region.days[0]!.meanC;
  let hot = 0;
  let leaf = warmth < 9 ? planting.winterShare : 1;
  for (let d = 0; d < days; d++) {
    const meanC = site.region.days[d]!.meanC;
    warmth += 0.08 * (meanC - warmth);
    hot += 0.12 * ((meanC > 26.5 ? 1 : 0) - hot);
    if (planting.seasonal) {
      const doy = calendar.dayOfYear[d]!;
      // Changed over in May and in October, on a day of this pot's own.
      if (
        doy === 128 + (Math.floor(planting.canopyRatio * 97) % 20) ||
        doy === 285 + (Math.floor(planting.canopyRatio * 53) % 20)
      ) {
        const fresh = draw.uniform(0.25, 0.4);
        changes.push({ day: d, kind: 'replanted', factor: fresh / canopy });
        canopy = fresh;
      }
    }
    const vigour = Math.min(1, Math.max(0, (warmth - 6) / 12));
    canopy += planting.growthPerDay * vigour * canopy * (1 - canopy);
    if (draw.chance((planting.prunePerYear * Math.max(0.2, vigour)) / 365)) {
      const left = draw.uniform(0.5, 0.75);
      changes.push({ day: d, kind: 'pruned', factor: left });
      canopy *= left;
    }
    const leafTarget = warmth < 9 ? planting.winterShare : 1;
    leaf += 0.05 * (leafTarget - leaf);
    noise = planting.dayPhi * noise + Math.sqrt(1 - planting.dayPhi ** 2) * draw.normal();
    wander = 0.985 * wander + 0.013 * draw.normal();
    const dormancy = planting.heatDormant ? 1 - 0.45 * hot : 1;
    // A young planting drinks from what was poured on top until its roots reach the wick.
    const age = d - planting.plantedDay;
    const rooted = age >= 45 ? 1 : 0.3 + 0.7 * Math.max(0, age / 45) ** 1.5;
    factors[d] = canopy * leaf * dormancy * rooted * Math.exp(planting.daySd * noise + wander);
  }
  return { factors, changes };
}

/** Reference evapotranspiration at the pot's own place, mm in each hour: own sun, own wind, own warmth. */
export function ownEt0MmPerHour(exposure: Exposure, site: SiteWeather, calendar: Calendar): Float32Array {
  const { climate } = site.region;
  const et0 = new Float32Array(calendar.hours);
  for (let h = 0; h < calendar.hours; h++) {
    const ms = calendar.startMs + h * HOUR_MS;
    const solarHour = solarHourOf(ms, climate.longitude) + 0.5;
    const sun = solarHour < 10.5 ? exposure.morning : solarHour < 14 ? exposure.midday : exposure.afternoon;
    const solar = site.solarMjPerM2[h]!;
    const warm = solarHour >= 12 && solarHour < 21 ? exposure.wallC * Math.min(1, solar / 1.8 + 0.2) : 0;
    const tempC = site.tempC[h]! + warm;
    const humidity = Math.min(1, saturationVapourPressureKPa(site.dewC[h]!) / saturationVapourPressureKPa(tempC));
    et0[h] = Math.max(
      0,
      hourlyEt0Mm({
        latitudeDeg: climate.latitude,
        longitudeDeg: climate.longitude,
        elevationM: climate.elevationM,
        dayOfYear: calendar.dayOfYear[calendar.dayIndex(ms)]!,
        midHourUtc: (ms / HOUR_MS + 0.5) % 24,
        temperatureC: tempC,
        humidityFraction: humidity,
        windAt2mMPerS: site.wind2mMPerS[h]! * exposure.wind,
        solarMjPerM2: solar * sun,
      }),
    );
  }
  return et0;
}

/**
 * What the planting would draw from moist soil, L in each hour of the span.
 * Day plants follow the hour's evapotranspiration with stomata closing in heat; a share of the day's use is moved into
 * the night; CAM plants draw most of theirs after dusk.
 */
export function demandByHour(
  planting: Planting,
  surfaceM2: number,
  site: SiteWeather,
  calendar: Calendar,
  /** From {@link ownEt0MmPerHour}. */
  et0: Float32Array,
  spans: readonly DemandSpan[],
  growth: Float64Array,
): Float32Array {
  const demand = new Float32Array(calendar.hours);
  const areaM2 = surfaceM2 * planting.canopyRatio * planting.plantFactor;
  for (let d = 0; d < calendar.days.length; d++) {
    const from = Math.round((calendar.dayStartMs[d]! - calendar.startMs) / HOUR_MS);
    const to = Math.round((calendar.dayStartMs[d + 1]! - calendar.startMs) / HOUR_MS);
    let factor = growth[d]! * areaM2;
    for (const span of spans) {
      if (d < span.fromDay || d >= span.toDay) continue;
      const share = span.rampDays > 0 ? Math.min(1, (d - span.fromDay + 1) / span.rampDays) : 1;
      factor *= 1 + (span.factor - 1) * share;
    }
    let dayLitres = 0;
    let nightWeight = 0;
    for (let h = from; h < to; h++) {
      const tempC = site.tempC[h]!;
      const closing = Math.max(0.45, 1 - 0.05 * Math.max(0, tempC - planting.closingC));
      const cold = tempC < -1 ? 0 : tempC < 4 ? 0.4 : 1;
      demand[h] = et0[h]! * factor * closing * cold;
      dayLitres += demand[h]!;
      if (site.solarMjPerM2[h]! < 0.02) nightWeight += cold;
    }
    const nightShare = planting.cam ? 1 - planting.nightShare : planting.nightShare;
    for (let h = from; h < to; h++) {
      const cold = site.tempC[h]! < -1 ? 0 : site.tempC[h]! < 4 ? 0.4 : 1;
      const dark = site.solarMjPerM2[h]! < 0.02 && nightWeight > 0;
      demand[h] = (1 - nightShare) * demand[h]! + (dark ? (nightShare * dayLitres * cold) / nightWeight : 0);
    }
  }
  return demand;
}

interface Traits {
  readonly factor: readonly [number, number];
  readonly winterShare: number;
  readonly growthPerDay: number;
  readonly prunePerYear: number;
}

const TRAITS: Record<PlantKind, Traits> = {
  annuals: { factor: [0.6, 1], winterShare: 0.5, growthPerDay: 0.064, prunePerYear: 0.6 },
  evergreen: { factor: [0.5, 0.8], winterShare: 0.9, growthPerDay: 0.024, prunePerYear: 0.9 },
  perennial: { factor: [0.5, 0.8], winterShare: 0.15, growthPerDay: 0.048, prunePerYear: 0.6 },
  grass: { factor: [0.6, 0.8], winterShare: 0.6, growthPerDay: 0.048, prunePerYear: 0.6 },
  fern: { factor: [0.4, 0.6], winterShare: 0.6, growthPerDay: 0.032, prunePerYear: 0.3 },
  succulent: { factor: [0.2, 0.35], winterShare: 1, growthPerDay: 0.016, prunePerYear: 0.12 },
  citrus: { factor: [0.6, 0.85], winterShare: 0.95, growthPerDay: 0.024, prunePerYear: 0.6 },
};

/** Draws a planting; `vigour` scales its thirst. */
export function drawPlanting(kind: PlantKind, exposure: Exposure, plantedDay: number, draw: Draw): Planting {
  const traits = TRAITS[kind];
  const cam = kind === 'succulent';
  return {
    kind,
    exposure,
    nightShare: cam ? draw.uniform(0.15, 0.3) : draw.uniform(0.02, 0.15),
    cam,
    plantedDay,
    canopyRatio: cam ? draw.uniform(0.8, 1.4) : draw.uniform(1.2, 2.6),
    plantFactor: draw.uniform(traits.factor[0], traits.factor[1]),
    daySd: draw.uniform(0.06, 0.14),
    dayPhi: draw.uniform(0.3, 0.7),
    closingC: draw.uniform(30, 36),
    heatDormant: draw.chance(0.15),
    winterShare: traits.winterShare,
    growthPerDay: traits.growthPerDay * draw.spread(0.25),
    prunePerYear: traits.prunePerYear,
    seasonal: kind === 'annuals',
  };
}

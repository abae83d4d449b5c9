import { Calendar } from '../../../simulators/calendar.js';
import { fleetFile } from '../../../simulators/files/fleet-json.js';
import { planSeasonFleet, type SeasonFleetOptions } from '../../../simulators/fleet/season-fleet.js';
import type { FleetPlan } from '../../../simulators/fleet/world.js';
import { LiveFleet } from '../../../simulators/live/live-fleet.js';
import { CLIMATES } from '../../../simulators/weather/climates.js';
import type { DayOfWeather } from '../../../simulators/weather/daily.js';
import { issueForecast } from '../../../simulators/weather/forecast.js';
import type { ContainerId, EpochMs } from '../../../src/domain/ids.js';
import { HOUR_MS } from '../../../src/domain/local-day.js';
import type { Reading } from '../../../src/domain/reading.js';
import type { WeatherDay } from '../../../src/domain/weather.js';

/** The service issues its forecast at about four in the morning. */
const ISSUED_AT_HOUR = 4;
/** Shorter dips to the foot of the wick are ended by the crew or by rain before they matter. */
const DRY_HOURS = 6;
const STEP_MS = HOUR_MS / 4;

/** A dry-out that really happened. */
export interface DryOut {
  readonly containerId: ContainerId;
  readonly atMs: EpochMs;
  /** When somebody tipped or siphoned the pot last within the day before; null: nobody did. */
  readonly emptiedMs: EpochMs | null;
}

/** What reached the outside in a stretch of time. */
export interface News {
  readonly readings: readonly Reading[];
  readonly weather: readonly WeatherDay[];
}

/** The simulated fleet, going on as people act on it; the program sees of it what nodes and weather services send. */
export class SeasonWorld {
  readonly plan: FleetPlan;
  readonly fleet: LiveFleet;
  readonly startMs: EpochMs;
  readonly endMs: EpochMs;
  #weatherDay = -1;

  constructor(options: SeasonFleetOptions) {
    this.plan = planSeasonFleet(options);
    const calendar = new Calendar(CLIMATES.coast.timeZone, options.firstDay, options.days);
    this.startMs = calendar.startMs;
    this.endMs = calendar.dayStartMs[options.days]!;
    this.fleet = new LiveFleet(this.plan, this.startMs, true);
  }

  fleetJson(): Buffer {
    return Buffer.from(JSON.stringify(fleetFile(this.plan, this.fleet.sites)));
  }

  advance(nowMs: EpochMs): News {
    const readings = this.fleet
      .advance(nowMs)
      .flatMap(({ readings }) =>
        readings.map((reading): Reading => ({ ...reading, receivedMs: nowMs, batteryFraction: null, signalDbm: null })),
      );
    return { readings, weather: this.#weather(nowMs) };
  }

  /** Each morning the day before as it was observed, and the forecast. */
  #weather(nowMs: EpochMs): readonly WeatherDay[] {
    const { calendar } = this.fleet.sites[0]!;
    const today = calendar.dayIndex(nowMs);
    const issuedMs = calendar.dayStartMs[today]! + ISSUED_AT_HOUR * HOUR_MS;
    if (this.#weatherDay >= today || nowMs < issuedMs) return [];
    this.#weatherDay = today;
    return this.fleet.sites.flatMap((site) => {
      const { climate } = site.weather.region;
      const row = (index: number, day: DayOfWeather, rainProbability: number | null): WeatherDay => ({
        siteId: site.plan.id,
        day: calendar.days[index]!,
        tminC: day.tminC,
        tmaxC: day.tmaxC,
        humidityFraction: site.plan.weatherColumns.has('humidity') ? day.humidityPct / 100 : null,
        windMPerS: site.plan.weatherColumns.has('wind') ? day.windMPerS : null,
        solarMjPerM2: site.plan.weatherColumns.has('solar') ? day.solarMj : null,
        rainMm: day.rainMm,
        et0Mm: null,
        rainProbability,
        issuedMs: rainProbability === null ? null : issuedMs,
      });
      const observed = today === 0 ? [] : [row(today - 1, site.observed[today - 1]!, null)];
      const forecast = issueForecast(site.observed, climate, calendar, this.plan.seed, today);
      return [...observed, ...forecast.map((day) => row(day.dayIndex, day, day.rainProbability))];
    });
  }

  /** When the water really came to stand at the wick foot, as the fleet file states it, for six hours and more. */
  dryOuts(fromMs: EpochMs, toMs: EpochMs): readonly DryOut[] {
    const outs: DryOut[] = [];
    for (const site of this.fleet.sites) {
      const first = Math.ceil((fromMs - this.startMs) / STEP_MS);
      const last = Math.floor((toMs - this.startMs) / STEP_MS);
      for (const run of site.simulation.runs) {
        const { id, statedFootMm } = run.spec;
        let wasWet = false;
        let dry = 0;
        for (let step = first; step < last; step += 1) {
          const isDry = run.levelMm[step]! <= statedFootMm;
          dry = isDry ? dry + 1 : 0;
          if (!isDry) wasWet = true;
          if (!wasWet || dry !== (DRY_HOURS * HOUR_MS) / STEP_MS) continue;
          wasWet = false;
          const atMs = this.startMs + (step - dry + 1) * STEP_MS;
          const emptied = run.events.findLast(
            (event) => event.kind === 'drained' && event.startMs <= atMs && event.startMs > atMs - 24 * HOUR_MS,
          );
          outs.push({ containerId: id, atMs, emptiedMs: emptied?.startMs ?? null });
        }
      }
    }
    return outs.sort((a, b) => a.atMs - b.atMs);
  }
}

import { mkdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { estimateEt0Mm } from '../../src/domain/formulas/fao56.js';
import { DAY_MS, HOUR_MS, isoSecond, STEP_MS } from '../calendar.js';
import { sampleNode } from '../fleet/sampling.js';
import { runDry } from '../fleet/site-simulation.js';
import { buildSite, type FleetPlan, Regions, type SiteWorld } from '../fleet/world.js';
import { Draw } from '../rng.js';
import type { DayOfWeather } from '../weather/daily.js';
import { type ForecastDay, issueForecast } from '../weather/forecast.js';
import { CsvFile, num } from './csv.js';
import { fleetFile, principalsOf } from './fleet-json.js';

export interface WriteOptions {
  /** Days between the origins of one pot; 0 for no origins. */
  readonly originEveryDays: number;
  /** Hourly truth, the largest file. */
  readonly hourlyTruth: boolean;
  /** What the plan was made from, so that live running can make it again. */
  readonly replan: unknown;
  readonly progress: (line: string) => void;
}

export interface WrittenFleet {
  readonly containers: number;
  readonly readings: number;
  readonly origins: number;
  readonly largestBalanceErrorLitres: number;
  readonly sites: readonly SiteWorld[];
}

/** Simulates a fleet and writes what the product may see into `dir`, the truth into `dir/truth`. */
export function writeFleet(plan: FleetPlan, dir: string, options: WriteOptions): WrittenFleet {
  const truthDir = join(dir, 'truth');
  mkdirSync(truthDir, { recursive: true });
  const regions = new Regions(plan);
  const files = {
    weather: new CsvFile(join(dir, 'weather.csv'), WEATHER_COLUMNS),
    origins: new CsvFile(join(dir, 'origins.csv'), ['time', 'container']),
    trueOrigins: new CsvFile(join(truthDir, 'origins.csv'), TRUE_ORIGIN_COLUMNS),
    events: new CsvFile(join(truthDir, 'events.csv'), [
      'container',
      'kind',
      'start',
      'end',
      'litres',
      'start_level_mm',
      'end_level_mm',
      'by',
    ]),
    visits: new CsvFile(join(truthDir, 'visits.csv'), ['container', 'time', 'by', 'work', 'litres', 'reported_litres']),
    faults: new CsvFile(join(truthDir, 'faults.csv'), FAULT_COLUMNS),
    balance: new CsvFile(join(truthDir, 'balance.csv'), BALANCE_COLUMNS),
    outages: new CsvFile(join(truthDir, 'outages.csv'), ['container', 'from', 'to']),
    plants: new CsvFile(join(truthDir, 'plants.csv'), ['container', 'date', 'kind', 'factor']),
    containers: new CsvFile(join(truthDir, 'containers.csv'), CONTAINER_COLUMNS),
    hourly: options.hourlyTruth
      ? new CsvFile(join(truthDir, 'hourly.csv'), ['container', 'time', 'level_mm', 'litres', 'soil_litres'])
      : null,
  };
  const readings: { receivedMs: number; line: string }[] = [];
  const worlds: SiteWorld[] = [];
  let worst = 0;
  for (const sitePlan of plan.sites) {
    const site = buildSite(sitePlan, plan, regions);
    worlds.push(site);
    const endMs = plan.endMs ?? site.calendar.dayStartMs[plan.historyDays]!;
    const endStep = Math.floor((endMs - site.calendar.startMs) / STEP_MS);
    const originSteps = drawOrigins(site, plan, options.originEveryDays, endStep);
    for (const [index, steps] of originSteps.entries()) {
      for (const step of steps) site.simulation.runs[index]!.snapshots.set(step, site.simulation.runs[index]!.state);
    }
    site.simulation.advanceTo(endStep);
    for (const [index, spec] of site.pots.entries()) {
      const run = site.simulation.runs[index]!;
      worst = Math.max(worst, Math.abs(run.balanceErrorLitres));
      for (const step of originSteps[index]!) writeOrigin(files, site, index, step);
      writePotTruth(files, site, index, endStep);
      for (const outage of site.outages) files.outages.row(spec.id, isoSecond(outage.fromMs), isoSecond(outage.toMs));
      for (const change of spec.plantChanges) {
        if (change.day >= plan.historyDays) continue;
        files.plants.row(spec.id, site.calendar.days[change.day]!, change.kind, num(change.factor, 2));
      }
      for (const fault of plan.faults)
        if (fault.containerId === spec.id) writeFault(files.faults, site, index, fault, endMs);
    }
    writeWeather(files.weather, site, plan, endMs);
    for (const node of site.nodes) {
      for (const { reading, receivedMs } of sampleNode(site, node, site.calendar.startMs, endMs)) {
        if (receivedMs > endMs) continue;
        readings.push({ receivedMs, line: readingLine(reading, receivedMs) });
      }
    }
    options.progress(`${worlds.length} of ${plan.sites.length} sites, ${readings.length} readings`);
  }
  writeReportedVisits(dir, plan, worlds);
  readings.sort((a, b) => a.receivedMs - b.receivedMs);
  const readingsFile = new CsvFile(join(dir, 'readings.csv'), [
    'node',
    'time',
    'level_mm',
    'moisture_pct',
    'temperature_c',
    'battery_v',
    'received',
  ]);
  for (const { line } of readings) readingsFile.line(line);
  readingsFile.close();
  for (const file of Object.values(files)) file?.close();
  writeFileSync(join(dir, 'fleet.json'), `${JSON.stringify(fleetFile(plan, worlds), null, 1)}\n`);
  writeFileSync(join(dir, 'principals.json'), `${JSON.stringify(principalsOf(plan), null, 1)}\n`);
  writeFileSync(
    join(truthDir, 'meta.json'),
    `${JSON.stringify({ seed: plan.seed, profile: plan.profile, firstDay: plan.firstDay, days: plan.historyDays, replan: options.replan }, null, 1)}\n`,
  );
  return {
    containers: worlds.reduce((sum, site) => sum + site.pots.length, 0),
    readings: readings.length,
    origins: files.origins.rows,
    largestBalanceErrorLitres: worst,
    sites: worlds,
  };
}

/** About when the cell cannot carry the radio any more. */
function cellEndMs(sensor: { readonly cellLifeDays: number; readonly cellAgeDays: number }, startMs: number): number {
  return startMs + (0.96 * sensor.cellLifeDays - sensor.cellAgeDays) * DAY_MS;
}

const WEATHER_COLUMNS = [
  'site',
  'date',
  'tmin_c',
  'tmax_c',
  'humidity_pct',
  'wind_ms',
  'solar_mj',
  'rain_mm',
  'et0_mm',
  'rain_probability',
  'issued',
];
const TRUE_ORIGIN_COLUMNS = [
  'container',
  'origin',
  'dry',
  'stress',
  'level_mm',
  'litres',
  'fill',
  'stated_foot_mm',
  'rate_l_per_day',
];
const FAULT_COLUMNS = [
  'container',
  'node',
  'kind',
  'from',
  'to',
  'size',
  'unit',
  'height_mm',
  'active_l_per_day',
  'active_days',
  'demand_l_7d',
  'level_mm',
];
const BALANCE_COLUMNS = [
  'container',
  'opening_l',
  'refill_l',
  'rain_l',
  'wick_l',
  'roots_l',
  'leak_l',
  'overflow_l',
  'drained_l',
  'closing_l',
  'error_l',
];
const CONTAINER_COLUMNS = [
  'container',
  'site',
  'climate',
  'covered',
  'cam',
  'plant',
  'exposure',
  'night_share',
  'wick_lag_h',
  'overflow_mm',
  'foot_mm',
  'area_m2',
  'usable_l',
  'noise_mm',
  'quantum_mm',
  'interval_s',
  'moisture',
  'lift_share',
  'cell_end',
  'start',
  'end',
];

type Files = {
  origins: CsvFile;
  trueOrigins: CsvFile;
  events: CsvFile;
  visits: CsvFile;
  balance: CsvFile;
  containers: CsvFile;
  hourly: CsvFile | null;
};

/** What the crew wrote down, where the fleet names its technicians: a report, with the meter's litres, not the truth. */
function writeReportedVisits(dir: string, plan: FleetPlan, worlds: readonly SiteWorld[]): void {
  const technicians = plan.technicianIds;
  if (technicians.length === 0) return;
  const file = new CsvFile(join(dir, 'visits.csv'), [
    'visit',
    'site',
    'technician',
    'time',
    'container',
    'work',
    'litres',
  ]);
  for (const [index, site] of worlds.entries()) {
    const rows = site.pots.flatMap((pot, potIndex) =>
      site.simulation.runs[potIndex]!.waterings.filter(({ by }) => by === 'crew').map((watering) => ({
        pot,
        watering,
      })),
    );
    rows.sort((a, b) => a.watering.atMs - b.watering.atMs);
    for (const { pot, watering } of rows) {
      const time = isoSecond(watering.atMs);
      file.row(
        `${site.plan.id}-${time.slice(0, 10)}`,
        site.plan.id,
        technicians[index % technicians.length]!,
        time,
        pot.id,
        watering.work,
        num(watering.reportedLitres, 1),
      );
    }
  }
  file.close();
}

function drawOrigins(site: SiteWorld, plan: FleetPlan, everyDays: number, endStep: number): number[][] {
  return site.pots.map((pot) => {
    if (everyDays <= 0) return [];
    const draw = new Draw(plan.seed, 'origins', pot.id);
    const steps: number[] = [];
    for (let day = 4; ; day += everyDays) {
      const step = Math.round((day + draw.uniform(0, everyDays)) * 96);
      if (step >= endStep) return steps;
      steps.push(step);
    }
  });
}

function writeOrigin(files: Files, site: SiteWorld, index: number, step: number): void {
  const spec = site.pots[index]!;
  const run = site.simulation.runs[index]!;
  const state = run.snapshots.get(step)!;
  const { dryMs, stressMs } = runDry(spec, site.calendar, step, state);
  const originMs = site.calendar.startMs + step * STEP_MS;
  const { curve, footMm, overflowMm } = spec.model;
  const foot = curve.litresAt(footMm);
  let nextDay = 0;
  const hour = Math.floor(step / 4);
  for (let h = hour; h < hour + 24; h++) nextDay += spec.model.demandLPerHour[h] ?? 0;
  files.origins.row(isoSecond(originMs), spec.id);
  files.trueOrigins.row(
    spec.id,
    isoSecond(originMs),
    dryMs === null ? '' : isoSecond(dryMs),
    stressMs === null ? '' : isoSecond(stressMs),
    num(state.levelMm, 1),
    num(state.litres, 3),
    num((state.litres - foot) / (curve.litresAt(overflowMm) - foot), 3),
    spec.statedFootMm,
    num(nextDay, 3),
  );
}

function writePotTruth(files: Files, site: SiteWorld, index: number, endStep: number): void {
  const spec = site.pots[index]!;
  const run = site.simulation.runs[index]!;
  run.finish();
  run.events.sort((a, b) => a.startMs - b.startMs);
  for (const e of run.events) {
    files.events.row(
      spec.id,
      e.kind,
      isoSecond(e.startMs),
      isoSecond(e.endMs),
      num(e.litres, 3),
      num(e.startLevelMm, 1),
      num(e.endLevelMm, 1),
      e.by,
    );
  }
  for (const w of run.waterings) {
    files.visits.row(spec.id, isoSecond(w.atMs), w.by, w.work, num(w.litres, 3), num(w.reportedLitres, 2));
  }
  const b = run.balance;
  files.balance.row(
    spec.id,
    ...[b.opening, b.refill, b.rain, b.wick, b.roots, b.leak, b.overflow, b.drained, run.state.litres].map((v) =>
      num(v, 6),
    ),
    run.balanceErrorLitres.toExponential(2),
  );
  const { model } = spec;
  const sensor = site.nodes.find((node) => node.plan.places[0]!.potIndex === index)?.plan.traits;
  files.containers.row(
    spec.id,
    site.plan.id,
    site.plan.climateId,
    spec.covered ? 1 : 0,
    spec.planting.cam ? 1 : 0,
    spec.planting.kind,
    spec.planting.exposure.name,
    num(spec.planting.nightShare, 3),
    num(model.wickLagHours, 2),
    model.overflowMm,
    num(model.footMm, 2),
    num(model.curve.areaLPerMm(model.overflowMm / 2), 4),
    num(model.curve.litresAt(model.overflowMm) - model.curve.litresAt(model.footMm), 3),
    num(sensor?.noiseMm ?? null, 2),
    num(sensor?.quantumMm ?? null, 2),
    sensor?.intervalS ?? null,
    sensor?.hasMoisture === true ? 1 : 0,
    num(spec.liftShare, 2),
    sensor === undefined ? '' : isoSecond(cellEndMs(sensor, site.calendar.startMs)),
    isoSecond(site.calendar.startMs),
    isoSecond(site.calendar.startMs + endStep * STEP_MS),
  );
  if (files.hourly !== null) {
    for (let step = 0; step <= endStep; step += 4) {
      const level = run.levelMm[step]!;
      files.hourly.row(
        spec.id,
        isoSecond(site.calendar.startMs + step * STEP_MS),
        num(level, 1),
        num(model.curve.litresAt(level), 3),
        num(run.soilLitres[step]!, 2),
      );
    }
  }
}

function writeFault(
  file: CsvFile,
  site: SiteWorld,
  index: number,
  fault: FleetPlan['faults'][number],
  endMs: number,
): void {
  const spec = site.pots[index]!;
  const run = site.simulation.runs[index]!;
  let litres = 0;
  let hours = 0;
  if (fault.kind === 'leak') {
    for (const day of run.leakByDay.values()) {
      litres += day.litres;
      hours += day.hours;
    }
  }
  const isLeak = fault.kind === 'leak';
  const fromHour = Math.max(0, Math.floor((fault.fromMs - site.calendar.startMs) / HOUR_MS));
  let demandLitres = 0;
  for (let h = fromHour; h < fromHour + 168; h++) demandLitres += spec.model.demandLPerHour[h] ?? 0;
  file.row(
    fault.containerId,
    fault.nodeId ?? '',
    fault.kind,
    isoSecond(fault.fromMs),
    fault.toMs === null || fault.toMs >= endMs ? '' : isoSecond(fault.toMs),
    num(fault.size, 4),
    fault.unit,
    isLeak && fault.heightMm !== null ? num(fault.heightMm * spec.model.overflowMm, 1) : '',
    isLeak && hours > 0 ? num((litres / hours) * 24, 3) : '',
    isLeak ? num(hours / 24, 2) : '',
    num(demandLitres, 3),
    num(run.levelAt(fault.fromMs), 1),
  );
}

/** Lines of one site's weather: what was observed, and each morning's forecast as issued. */
function writeWeather(file: CsvFile, site: SiteWorld, plan: FleetPlan, endMs: number): void {
  const { calendar, plan: sitePlan } = site;
  const { climate } = site.weather.region;
  const columns = sitePlan.weatherColumns;
  const line = (day: DayOfWeather, dayIndex: number, forecast: ForecastDay | null, issuedMs: number | null): void => {
    const et0 = columns.has('et0')
      ? estimateEt0Mm({
          latitudeDeg: climate.latitude,
          elevationM: climate.elevationM,
          dayOfYear: calendar.dayOfYear[dayIndex]!,
          tminC: day.tminC,
          tmaxC: day.tmaxC,
          humidityFraction: day.humidityPct / 100,
          windMPerS: day.windMPerS,
          solarMjPerM2: day.solarMj,
        }).et0Mm
      : null;
    file.row(
      sitePlan.id,
      calendar.days[dayIndex]!,
      num(day.tminC, 1),
      num(day.tmaxC, 1),
      columns.has('humidity') ? num(day.humidityPct, 0) : '',
      columns.has('wind') ? num(day.windMPerS, 1) : '',
      columns.has('solar') ? num(day.solarMj, 2) : '',
      num(day.rainMm, 1),
      num(et0, 2),
      forecast === null ? '' : num(forecast.rainProbability, 2),
      issuedMs === null ? '' : isoSecond(issuedMs),
    );
  };
  for (let d = 0; d < calendar.days.length && calendar.dayStartMs[d]! < endMs; d++) {
    const issuedMs = calendar.dayStartMs[d]! + ISSUED_AT_HOUR * HOUR_MS;
    if (issuedMs <= endMs) {
      for (const day of issueForecast(site.observed, climate, calendar, plan.seed, d)) {
        line(day, day.dayIndex, day, issuedMs);
      }
    }
    if (calendar.dayStartMs[d]! + DAY_MS <= endMs + HOUR_MS && calendar.dayStartMs[d + 1]! <= endMs) {
      line(site.observed[d]!, d, null, null);
    }
  }
}

/** The service issues its forecast at about four in the morning. */
const ISSUED_AT_HOUR = 4;

function readingLine(reading: ReturnType<typeof sampleNode>[number]['reading'], receivedMs: number): string {
  return [
    reading.nodeId,
    isoSecond(reading.timeMs),
    num(reading.levelMm, 1),
    reading.moistureFraction === null ? '' : num(reading.moistureFraction * 100, 1),
    num(reading.temperatureC, 1),
    num(reading.batteryV, 3),
    isoSecond(receivedMs),
  ].join(',');
}

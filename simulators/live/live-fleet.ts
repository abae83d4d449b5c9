import { saturationVapourPressureKPa } from '../../src/domain/formulas/vapour-pressure.js';
import { HOUR_MS, STEP_MS } from '../calendar.js';
import type { Watering } from '../crew/site-crew.js';
import { sampleNode } from '../fleet/sampling.js';
import type { PotRun } from '../fleet/site-simulation.js';
import { buildSite, type FleetPlan, type NodeWorld, placeOf, Regions, type SiteWorld } from '../fleet/world.js';
import type { NodeReading } from '../sensor/node.js';
import { type LiveFill, levelMmWhileFilling, overMs } from './live-fill.js';
import type { StationSample } from './senml-pack.js';

/** Readings of one node that have arrived since the last time. */
export interface Arrival {
  readonly site: SiteWorld;
  readonly node: NodeWorld;
  readonly readings: readonly NodeReading[];
}

/** Whoever fills with a hose stops just before the water shows at the port, and does not begin for less than this. */
const SPARED_LITRES = 0.3;
const LEAST_FILL_LITRES = 1;

interface Waiting {
  readonly site: SiteWorld;
  readonly node: NodeWorld;
  readonly reading: NodeReading;
  readonly receivedMs: number;
}

/**
 * The fleet going on from the end of its history: the same seed, the same physics, the same nodes in mid sentence.
 * From the start on, water comes by what people record in the product and by the rounds of simulated crews.
 */
export class LiveFleet {
  readonly sites: readonly SiteWorld[];
  readonly endMs: number;
  #sampledMs: number;
  #waiting: Waiting[] = [];
  readonly #work = new Map<SiteWorld, Watering[]>();
  readonly #scripted: FleetPlan['waterScript'];
  readonly #siteOf = new Map<string, { site: SiteWorld; potIndex: number }>();
  readonly #fastUntilMs = new Map<NodeWorld, number>();
  readonly #fills = new Map<PotRun, LiveFill>();
  readonly #withStrangers: boolean;

  /** @param withStrangers people of whom nobody knows go on pouring, tipping and watering as their habits say */
  constructor(plan: FleetPlan, startMs: number, withStrangers = false) {
    this.#withStrangers = withStrangers;
    const regions = new Regions(plan);
    this.#scripted = plan.waterScript.filter((entry) => entry.atMs >= startMs);
    this.sites = plan.sites.map((sitePlan) => {
      const site = buildSite(sitePlan, plan, regions);
      site.simulation.advanceTo(Math.ceil((startMs - site.calendar.startMs) / STEP_MS));
      for (const node of site.nodes) this.#sample(site, node, site.calendar.startMs, startMs, startMs);
      site.pots.forEach((pot, potIndex) => {
        this.#siteOf.set(pot.id, { site, potIndex });
      });
      return site;
    });
    this.#sampledMs = startMs;
    const { calendar } = this.sites[0]!;
    this.endMs = calendar.startMs + (calendar.hours - 24) * HOUR_MS;
  }

  #stepOf(site: SiteWorld, ms: number): number {
    return Math.floor((ms - site.calendar.startMs) / STEP_MS);
  }

  #sample(site: SiteWorld, node: NodeWorld, fromMs: number, toMs: number, afterMs: number): void {
    const live = {
      fastUntilMs: this.#fastUntilMs.get(node) ?? 0,
      levelMmAt: (potIndex: number, ms: number) => this.#levelMmAt(site.simulation.runs[potIndex]!, ms),
    };
    for (const { reading, receivedMs } of sampleNode(site, node, fromMs, toMs, live)) {
      if (receivedMs > afterMs) this.#waiting.push({ site, node, reading, receivedMs });
    }
  }

  #levelMmAt(run: PotRun, ms: number): number {
    const fill = this.#fills.get(run);
    return fill === undefined ? run.levelAt(ms) : levelMmWhileFilling(fill, ms);
  }

  /** A node was asked to report fast until then. @returns the pot that it stands in, null for a node that is none of ours */
  hurry(nodeId: string, untilMs: number): { readonly site: SiteWorld; readonly potIndex: number } | null {
    for (const site of this.sites) {
      const node = site.nodes.find((one) => one.plan.id === nodeId);
      if (node === undefined) continue;
      this.#fastUntilMs.set(node, untilMs);
      return { site, potIndex: placeOf(node.plan, untilMs).potIndex };
    }
    return null;
  }

  /** Fills a pot from `startMs` on as a hose does, for its node to see. @returns the litres that go in */
  fill(site: SiteWorld, potIndex: number, startMs: number): number {
    const run = site.simulation.runs[potIndex]!;
    const litres = Math.round((missingLitres(run) - SPARED_LITRES) * 10) / 10;
    if (litres < LEAST_FILL_LITRES || this.#fills.has(run)) return 0;
    const takenMs = site.calendar.startMs + site.simulation.step * STEP_MS;
    this.#fills.set(run, { run, litres, startMs, takenMs: Math.max(startMs, takenMs) });
    this.pour(site, { potIndex, atMs: takenMs, by: 'crew', work: 'refill', litres, reportedLitres: null });
    return litres;
  }

  potOf(containerId: string): { site: SiteWorld; potIndex: number } | null {
    return this.#siteOf.get(containerId) ?? null;
  }

  /** Water that goes in with the next step. */
  pour(site: SiteWorld, watering: Watering): void {
    const list = this.#work.get(site) ?? [];
    list.push(watering);
    this.#work.set(site, list);
  }

  /**
   * Runs the fleet to an instant, one step ahead of it so that samples within the step are known.
   * @returns what reached the outside by then, by node
   */
  advance(nowMs: number): Arrival[] {
    for (const site of this.sites) {
      site.simulation.advanceTo(this.#stepOf(site, nowMs) + 1, (ms, runs) => this.#workIn(site, ms, runs));
      for (const node of site.nodes) this.#sample(site, node, this.#sampledMs, nowMs, this.#sampledMs);
    }
    this.#sampledMs = Math.max(this.#sampledMs, nowMs);
    for (const [run, fill] of this.#fills) if (overMs(fill) < nowMs) this.#fills.delete(run);
    const arrived = this.#waiting.filter((w) => w.receivedMs <= nowMs);
    if (arrived.length === 0) return [];
    this.#waiting = this.#waiting.filter((w) => w.receivedMs > nowMs);
    const byNode = new Map<NodeWorld, { site: SiteWorld; readings: NodeReading[] }>();
    for (const { site, node, reading } of arrived) {
      const list = byNode.get(node);
      if (list === undefined) byNode.set(node, { site, readings: [reading] });
      else list.readings.push(reading);
    }
    return [...byNode].map(([node, { site, readings }]) => ({ site, node, readings }));
  }

  #workIn(site: SiteWorld, ms: number, runs: readonly PotRun[]): Watering[] {
    const work = (this.#work.get(site) ?? []).map((w) => ({
      ...w,
      atMs: Math.max(ms, Math.min(w.atMs, ms + STEP_MS - 1)),
    }));
    this.#work.delete(site);
    if (this.#withStrangers) {
      const states = runs.map((run) => run.state);
      work.push(...site.simulation.crew.workIn(ms, states).filter(({ by }) => by === 'unknown'));
    }
    for (const entry of this.#scripted) {
      if (entry.atMs < ms || entry.atMs >= ms + STEP_MS) continue;
      const potIndex = site.pots.findIndex((pot) => pot.id === entry.containerId);
      if (potIndex < 0) continue;
      const litres = missingLitres(runs[potIndex]!) * Math.min(1, entry.shareOfMissing);
      if (litres < 0.2) continue;
      work.push({ potIndex, atMs: entry.atMs, by: entry.by, work: 'refill', litres, reportedLitres: null });
    }
    return work;
  }

  /** What a weather station on the site would say now. */
  stationSample(site: SiteWorld, nowMs: number, sinceMs: number): StationSample {
    const { weather, calendar } = site;
    const hour = Math.min(calendar.hours - 1, Math.max(0, Math.floor((nowMs - calendar.startMs) / HOUR_MS)));
    const tempC = weather.tempC[hour]!;
    let rainMm = 0;
    const from = Math.ceil((sinceMs - calendar.startMs) / STEP_MS);
    const to = Math.floor((nowMs - calendar.startMs) / STEP_MS);
    for (let step = Math.max(0, from); step < to; step++) rainMm += weather.rainMmPerStep[step]!;
    return {
      timeMs: nowMs,
      temperatureC: tempC,
      humidityFraction: Math.min(
        1,
        saturationVapourPressureKPa(weather.dewC[hour]!) / saturationVapourPressureKPa(tempC),
      ),
      windMPerS: weather.wind2mMPerS[hour]!,
      solarWPerM2: (weather.solarMjPerM2[hour]! * 1e6) / 3600,
      rainMm,
    };
  }
}

export function missingLitres(run: PotRun): number {
  const { curve, overflowMm } = run.spec.model;
  return Math.max(0, curve.litresAt(overflowMm) - run.state.litres);
}

export function fillShare(run: PotRun): number {
  const { curve, overflowMm, footMm } = run.spec.model;
  const foot = curve.litresAt(footMm);
  return (run.state.litres - foot) / (curve.litresAt(overflowMm) - foot);
}

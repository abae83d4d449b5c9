import { HOUR_MS } from '../calendar.js';
import type { Delivered } from '../sensor/delivery.js';
import { type NodeWorld, placeOf, type SiteWorld } from './world.js';

/** Air temperature at the site, interpolated between hours. */
export function airAt(site: SiteWorld, ms: number): number {
  const position = Math.max(0, (ms - site.calendar.startMs) / HOUR_MS - 0.5);
  const hour = Math.min(site.weather.tempC.length - 2, Math.floor(position));
  const share = Math.min(1, position - hour);
  return site.weather.tempC[hour]! * (1 - share) + site.weather.tempC[hour + 1]! * share;
}

/** Samples one node over [fromMs, toMs); everything sampled must have been simulated. */
export function sampleNode(site: SiteWorld, world: NodeWorld, fromMs: number, toMs: number): Delivered[] {
  const delivered: Delivered[] = [];
  const stepMs = world.plan.traits.intervalS * 1000;
  for (let ms = world.node.firstSampleMs(Math.max(fromMs, world.plan.startMs)); ms < toMs; ms += stepMs) {
    const place = placeOf(world.plan, ms);
    const run = site.simulation.runs[place.potIndex]!;
    const reading = world.node.sample(ms, {
      levelMm: run.levelAt(ms) - place.zeroMm,
      moistureFraction: run.moistureAt(ms),
      airC: airAt(site, ms),
    });
    if (reading !== null) delivered.push(...world.delivery.deliver(reading, ms));
  }
  return delivered;
}

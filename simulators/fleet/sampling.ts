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

/** How a live node departs from its history: asked to hurry, or with somebody at its pot. */
export interface LiveSampling {
  /** Until when it reports every {@link FAST_MS}. */
  readonly fastUntilMs: number;
  readonly levelMmAt: (potIndex: number, ms: number) => number;
}

/** What a small node can send while it is asked to hurry; a judgement, no source. */
export const FAST_MS = 15_000;

/** Samples one node over [fromMs, toMs); everything sampled must have been simulated. */
export function sampleNode(
  site: SiteWorld,
  world: NodeWorld,
  fromMs: number,
  toMs: number,
  live: LiveSampling | null = null,
): Delivered[] {
  const delivered: Delivered[] = [];
  for (const ms of sampleTimes(world, Math.max(fromMs, world.plan.startMs), toMs, live?.fastUntilMs ?? 0)) {
    const place = placeOf(world.plan, ms);
    const run = site.simulation.runs[place.potIndex]!;
    const levelMm = live === null ? run.levelAt(ms) : live.levelMmAt(place.potIndex, ms);
    const reading = world.node.sample(ms, {
      levelMm: levelMm - place.zeroMm,
      moistureFraction: run.moistureAt(ms),
      airC: airAt(site, ms),
    });
    if (reading !== null) delivered.push(...world.delivery.deliver(reading, ms));
  }
  return delivered;
}

function* sampleTimes({ plan, node }: NodeWorld, fromMs: number, toMs: number, fastUntilMs: number): Generator<number> {
  const fastEndMs = Math.min(toMs, fastUntilMs);
  for (let ms = Math.ceil(fromMs / FAST_MS) * FAST_MS; ms < fastEndMs; ms += FAST_MS) yield ms;
  const stepMs = plan.traits.intervalS * 1000;
  for (let ms = node.firstSampleMs(Math.max(fromMs, fastEndMs)); ms < toMs; ms += stepMs) yield ms;
}

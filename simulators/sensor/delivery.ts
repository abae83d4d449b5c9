import { type Calendar, HOUR_MS } from '../calendar.js';
import { Draw } from '../rng.js';
import type { RegionWeather } from '../weather/region.js';
import type { NodeReading } from './node.js';

/** A time in which a gateway passes nothing on; what its nodes kept arrives after it. */
export interface Outage {
  readonly fromMs: number;
  readonly toMs: number;
}

export interface Delivered {
  readonly reading: NodeReading;
  readonly receivedMs: number;
}

/** Outages of one gateway: rare on quiet days, likelier in storms. */
export function drawOutages(region: RegionWeather, calendar: Calendar, seed: string, gatewayId: string): Outage[] {
  const draw = new Draw(seed, 'outage', gatewayId);
  const outages: Outage[] = [];
  for (let d = 0; d < calendar.days.length; d++) {
    const begins = draw.next();
    const hour = draw.uniform(0, 24);
    const hours = draw.exponential(5) + 0.3;
    if (begins < (region.days[d]!.storm ? 0.06 : 0.008)) {
      const fromMs = calendar.dayStartMs[d]! + hour * HOUR_MS;
      outages.push({ fromMs, toMs: fromMs + Math.min(30, hours) * HOUR_MS });
    }
  }
  return outages;
}

/** How one node's readings reach the server. */
export class Delivery {
  readonly #outages: readonly Outage[];
  readonly #draw: Draw;
  readonly #keepHours: number;
  readonly #repeatShare: number;

  /** @param keepHours how long a backlog the node holds; older samples of an outage are lost */
  constructor(outages: readonly Outage[], keepHours: number, repeatShare: number, seed: string, nodeId: string) {
    this.#outages = outages;
    this.#keepHours = keepHours;
    this.#repeatShare = repeatShare;
    this.#draw = new Draw(seed, 'delivery', nodeId);
  }

  /** When what was sampled at `sampledMs` arrives; null where it is lost. */
  arrivalMs(sampledMs: number): number | null {
    const latencyMs = Math.round(this.#draw.uniform(1, 25)) * 1000;
    const backlogMs = Math.round(this.#draw.uniform(20, 900)) * 1000;
    for (const outage of this.#outages) {
      if (sampledMs < outage.fromMs || sampledMs >= outage.toMs) continue;
      if ((outage.toMs - sampledMs) / HOUR_MS > this.#keepHours) return null;
      return Math.round(outage.toMs / 1000) * 1000 + backlogMs;
    }
    return sampledMs + latencyMs;
  }

  /** The arrivals of one reading: none, one, or two where the node repeats itself. */
  deliver(reading: NodeReading, sampledMs: number): Delivered[] {
    const receivedMs = this.arrivalMs(sampledMs);
    const repeats = this.#draw.chance(this.#repeatShare);
    if (receivedMs === null) return [];
    const first = { reading, receivedMs };
    if (!repeats) return [first];
    return [first, { reading, receivedMs: receivedMs + Math.round(this.#draw.uniform(5, 3600)) * 1000 }];
  }
}

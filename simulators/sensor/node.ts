import { HOUR_MS } from '../calendar.js';
import { Draw } from '../rng.js';

export type CellKind = 'alkaline' | 'lithium';

export interface SensorTraits {
  readonly intervalS: number;
  readonly phaseS: number;
  readonly noiseMm: number;
  /** Standard deviation of the slow part of the noise, AR(1) over about three hours. */
  readonly slowNoiseMm: number;
  readonly quantumMm: number;
  readonly mmPerKelvin: number;
  readonly tempLagHours: number;
  readonly zeroErrorMm: number;
  readonly outlierShare: number;
  readonly lostShare: number;
  readonly hasMoisture: boolean;
  readonly moistureGain: number;
  readonly moistureOffset: number;
  readonly cell: CellKind;
  /** Life of a fresh cell, days, and how old it is at the span's start. */
  readonly cellLifeDays: number;
  readonly cellAgeDays: number;
  readonly repeatShare: number;
  readonly clockErrorS: number;
  readonly sensorRangeMm: number;
}

export type SensorFaultKind = 'stuck' | 'drift' | 'unplugged' | 'fouled' | 'silent' | 'clock';

export interface SensorFault {
  readonly kind: SensorFaultKind;
  readonly fromMs: number;
  readonly toMs: number;
  /** drift: mm per day; clock: seconds; unplugged: value read in mm, or NaN for none. */
  readonly size: number;
}

/** What stands in front of the sensor at an instant. */
export interface TrueConditions {
  readonly levelMm: number;
  readonly moistureFraction: number;
  readonly airC: number;
}

export interface NodeReading {
  readonly nodeId: string;
  /** As the node's clock says. */
  readonly timeMs: number;
  readonly levelMm: number | null;
  readonly moistureFraction: number | null;
  readonly temperatureC: number | null;
  readonly batteryV: number | null;
}

/**
 * Voltage of a cell over its life. Alkaline pairs fall from 3.2 V in a long slope; a lithium cell stays near 3.6 V for
 * nine tenths of its life and then drops. Shapes from memory of cell data sheets.
 */
export function cellVolts(cell: CellKind, usedShare: number, tempC: number): number {
  const used = Math.min(1.05, Math.max(0, usedShare));
  if (cell === 'alkaline') {
    return 3.2 - 0.35 * Math.min(1, used / 0.08) ** 0.6 - 0.55 * used - 0.35 * used ** 6 + 0.003 * (tempC - 20);
  }
  const knee = used > 0.9 ? 1.1 * ((used - 0.9) / 0.1) ** 1.6 : 0;
  return 3.64 - 0.03 * used - knee + 0.0012 * (tempC - 20);
}

const DEAD_VOLTS = { alkaline: 2.05, lithium: 2.6 } as const;
const SLOW_NOISE_HOURS = 3;
const PROBE_LAG_HOURS = 2;

/** One node, sampled in order of time. Its state is its own; the same calls give the same readings. */
export class NodeSimulator {
  readonly id: string;
  readonly traits: SensorTraits;
  #faults: readonly SensorFault[];
  /** From when the cell's age counts, and how old it was then. */
  #cellSinceMs: number;
  #cellAgeDays: number;
  readonly #draw: Draw;
  #slow = 0;
  #elementC: number | null = null;
  #probe: number | null = null;
  #fouledLevel: number | null = null;
  #stuckValue: number | null = null;
  #lastMs = 0;

  constructor(id: string, traits: SensorTraits, faults: readonly SensorFault[], seed: string, startMs: number) {
    this.id = id;
    this.traits = traits;
    this.#faults = faults;
    this.#draw = new Draw(seed, 'node', id);
    this.#cellSinceMs = startMs;
    this.#cellAgeDays = traits.cellAgeDays;
  }

  /** The first instant of sampling at or after `ms`. */
  firstSampleMs(ms: number): number {
    const intervalMs = this.traits.intervalS * 1000;
    const phaseMs = this.traits.phaseS * 1000;
    return Math.ceil((ms - phaseMs) / intervalMs) * intervalMs + phaseMs;
  }

  #fault(kind: SensorFaultKind, ms: number): SensorFault | null {
    for (const fault of this.#faults) if (fault.kind === kind && ms >= fault.fromMs && ms < fault.toMs) return fault;
    return null;
  }

  /** Share of the cell's life that is gone. */
  usedShare(ms: number): number {
    return (this.#cellAgeDays + (ms - this.#cellSinceMs) / 86_400_000) / this.traits.cellLifeDays;
  }

  /** Somebody put a fresh cell in. */
  renewCell(ms: number): void {
    this.#cellSinceMs = ms;
    this.#cellAgeDays = 0;
  }

  /** Somebody mended or replaced what was wrong: faults of these kinds that had begun are over. */
  mend(kinds: readonly SensorFaultKind[], ms: number): void {
    this.#faults = this.#faults.map((fault) =>
      kinds.includes(fault.kind) && fault.fromMs <= ms && fault.toMs > ms ? { ...fault, toMs: ms } : fault,
    );
  }

  /** True once the cell cannot carry the radio. */
  isFlat(ms: number): boolean {
    return cellVolts(this.traits.cell, this.usedShare(ms), 20) < DEAD_VOLTS[this.traits.cell];
  }

  /** Null where the node is silent or the sample was lost. */
  sample(ms: number, truth: TrueConditions): NodeReading | null {
    const t = this.traits;
    const draw = this.#draw;
    const gapHours = this.#lastMs === 0 ? 1 : Math.min(48, (ms - this.#lastMs) / HOUR_MS);
    this.#lastMs = ms;
    // The same number of draws for every sample, so that one fault does not change the noise after it.
    const white = draw.normal();
    const slowStep = draw.normal();
    const outlier = draw.next();
    const outlierSize = draw.uniform(-1, 1);
    const lost = draw.next();
    const moistureNoise = draw.normal();
    const tempNoise = draw.normal();
    const voltNoise = draw.normal();

    const phi = Math.exp(-gapHours / SLOW_NOISE_HOURS);
    this.#slow = phi * this.#slow + Math.sqrt(1 - phi * phi) * slowStep;
    const pull = 1 - Math.exp(-gapHours / t.tempLagHours);
    this.#elementC = this.#elementC === null ? truth.airC : this.#elementC + pull * (truth.airC - this.#elementC);
    const probePull = 1 - Math.exp(-gapHours / PROBE_LAG_HOURS);
    this.#probe =
      this.#probe === null ? truth.moistureFraction : this.#probe + probePull * (truth.moistureFraction - this.#probe);

    const fouled = this.#fault('fouled', ms);
    if (fouled !== null && this.#fouledLevel !== null) {
      this.#fouledLevel += (1 - Math.exp(-gapHours / 3)) * (truth.levelMm - this.#fouledLevel);
    } else {
      this.#fouledLevel = truth.levelMm;
    }
    const drift = this.#fault('drift', ms);
    const noiseFactor = fouled === null ? 1 : 3;
    let level =
      this.#fouledLevel +
      t.zeroErrorMm +
      t.mmPerKelvin * (this.#elementC - 20) +
      noiseFactor * (t.noiseMm * white + t.slowNoiseMm * this.#slow) +
      (drift === null ? 0 : (drift.size * (ms - drift.fromMs)) / 86_400_000);
    if (outlier < t.outlierShare) level += Math.sign(outlierSize) * (15 + 130 * Math.abs(outlierSize));
    level = Math.min(t.sensorRangeMm, Math.max(0, Math.round(level / t.quantumMm) * t.quantumMm));
    const stuck = this.#fault('stuck', ms);
    if (stuck === null) this.#stuckValue = null;
    else level = this.#stuckValue ??= level;

    const unplugged = this.#fault('unplugged', ms);
    const levelMm = unplugged === null ? level : Number.isNaN(unplugged.size) ? null : unplugged.size;
    if (lost < t.lostShare || this.#fault('silent', ms) !== null || this.isFlat(ms)) return null;

    const probe = t.moistureGain * this.#probe + t.moistureOffset + 0.004 * moistureNoise;
    const clock = this.#fault('clock', ms);
    const volts = cellVolts(t.cell, this.usedShare(ms), truth.airC) + 0.006 * voltNoise;
    return {
      nodeId: this.id,
      timeMs: ms + Math.round(t.clockErrorS + (clock?.size ?? 0)) * 1000,
      levelMm: levelMm === null ? null : Math.round(levelMm * 10) / 10,
      moistureFraction: t.hasMoisture ? Math.round(Math.min(0.95, Math.max(0, probe)) * 1000) / 1000 : null,
      temperatureC: Math.round((this.#elementC + 0.15 * tempNoise) * 10) / 10,
      batteryV: Math.round(volts * 1000) / 1000,
    };
  }
}

export function drawSensor(
  draw: Draw,
  options: { readonly moistureShare: number; readonly rangeMm: number },
): SensorTraits {
  const intervalS = draw.pick([900, 900, 1800, 1800, 3600]);
  const cell: CellKind = draw.chance(0.5) ? 'alkaline' : 'lithium';
  return {
    intervalS,
    phaseS: Math.floor(draw.uniform(0, intervalS)),
    noiseMm: Math.exp(draw.uniform(Math.log(0.5), Math.log(3))),
    slowNoiseMm: draw.uniform(0.1, 0.6),
    quantumMm: draw.pick([0.5, 1, 1, 2]),
    mmPerKelvin: Math.max(-0.3, Math.min(0.3, draw.normal(0, 0.13))),
    tempLagHours: draw.uniform(0.5, 2.5),
    zeroErrorMm: draw.normal(0, 0.6),
    outlierShare: draw.uniform(0, 0.003),
    lostShare: draw.uniform(0.001, 0.015),
    hasMoisture: draw.chance(options.moistureShare),
    moistureGain: draw.uniform(0.8, 1.2),
    moistureOffset: draw.normal(0, 0.02),
    cell,
    cellLifeDays: draw.uniform(900, 1500),
    cellAgeDays: draw.uniform(0, 300),
    repeatShare: draw.uniform(0, 0.01),
    clockErrorS: Math.round(draw.normal(0, 4)),
    sensorRangeMm: options.rangeMm,
  };
}

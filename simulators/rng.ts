/**
 * Seeded random numbers of the simulators. Every stream is named by its labels, so that adding a draw to one part of
 * the world does not change any other part.
 */

function hash128(text: string): [number, number, number, number] {
  // cyrb128-style mixing: four 32-bit lanes over the characters, enough to separate streams named by short labels.
  let a = 1779033703;
  let b = 3144134277;
  let c = 1013904242;
  let d = 2773480762;
  for (let i = 0; i < text.length; i++) {
    const k = text.charCodeAt(i);
    a = b ^ Math.imul(a ^ k, 597399067);
    b = c ^ Math.imul(b ^ k, 2869860233);
    c = d ^ Math.imul(c ^ k, 951274213);
    d = a ^ Math.imul(d ^ k, 2716044179);
  }
  a = Math.imul(c ^ (a >>> 18), 597399067);
  b = Math.imul(d ^ (b >>> 22), 2869860233);
  c = Math.imul(a ^ (c >>> 17), 951274213);
  d = Math.imul(b ^ (d >>> 19), 2716044179);
  return [(a ^ b ^ c ^ d) >>> 0, (b ^ a) >>> 0, (c ^ a) >>> 0, (d ^ a) >>> 0];
}

/** A stream of draws. Generator: sfc32 (Doty-Humphrey, PractRand; from memory), 128 bits of state. */
export class Draw {
  #a: number;
  #b: number;
  #c: number;
  #counter: number;
  #spare: number | null = null;

  constructor(...labels: readonly (string | number)[]) {
    const [a, b, c, d] = hash128(labels.join('/'));
    this.#a = a;
    this.#b = b;
    this.#c = c;
    this.#counter = d;
    for (let i = 0; i < 15; i++) this.next();
  }

  /** Uniform in [0, 1). */
  next(): number {
    const t = (((this.#a + this.#b) | 0) + this.#counter) | 0;
    this.#counter = (this.#counter + 1) | 0;
    this.#a = this.#b ^ (this.#b >>> 9);
    this.#b = (this.#c + (this.#c << 3)) | 0;
    this.#c = ((this.#c << 21) | (this.#c >>> 11)) + t;
    this.#c |= 0;
    return (t >>> 0) / 4294967296;
  }

  uniform(low: number, high: number): number {
    return low + (high - low) * this.next();
  }

  /** Integer in [low, high], both included. */
  integer(low: number, high: number): number {
    return low + Math.floor(this.next() * (high - low + 1));
  }

  chance(probability: number): boolean {
    return this.next() < probability;
  }

  pick<T>(values: readonly T[]): T {
    return values[Math.floor(this.next() * values.length)]!;
  }

  /** Marsaglia's polar method. */
  normal(mean = 0, sd = 1): number {
    if (this.#spare !== null) {
      const kept = this.#spare;
      this.#spare = null;
      return mean + sd * kept;
    }
    for (;;) {
      const u = 2 * this.next() - 1;
      const v = 2 * this.next() - 1;
      const s = u * u + v * v;
      if (s > 0 && s < 1) {
        const factor = Math.sqrt((-2 * Math.log(s)) / s);
        this.#spare = v * factor;
        return mean + sd * u * factor;
      }
    }
  }

  /** Log-normal with median 1. */
  spread(sd: number): number {
    return Math.exp(this.normal(0, sd));
  }

  exponential(mean: number): number {
    return -mean * Math.log(1 - this.next());
  }

  /** Gamma by Marsaglia and Tsang (2000), boosted for shapes below 1. */
  gamma(shape: number, scale: number): number {
    if (shape < 1) return this.gamma(shape + 1, scale) * (1 - this.next()) ** (1 / shape);
    const d = shape - 1 / 3;
    const c = 1 / Math.sqrt(9 * d);
    for (;;) {
      const x = this.normal();
      const v = (1 + c * x) ** 3;
      if (v <= 0) continue;
      if (Math.log(1 - this.next()) < 0.5 * x * x + d - d * v + d * Math.log(v)) return d * v * scale;
    }
  }

  /** Index drawn with the given weights. */
  weighted(weights: readonly number[]): number {
    let left = this.next() * weights.reduce((sum, w) => sum + w, 0);
    for (let i = 0; i < weights.length; i++) {
      left -= weights[i]!;
      if (left < 0) return i;
    }
    return weights.length - 1;
  }
}

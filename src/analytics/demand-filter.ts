/**
 * Daily filter of a pot's water and thirst: an extended Kalman filter with two states, litres in the reservoir at dawn
 * and kappa, the log of litres drawn per mm of evaporative demand. O(1) a day.
 */
export interface DemandFilter {
  readonly litres: number;
  readonly kappa: number;
  readonly varLitres: number;
  readonly varKappa: number;
  readonly covariance: number;
  /** Days whose use the filter has seen. */
  readonly days: number;
  /** Standardised innovations of the last four used days, newest last. */
  readonly innovations: readonly number[];
  /** The filter has had at least one dawn. */
  readonly started: boolean;
}

export interface DemandDay {
  readonly et0Mm: number;
  /** Relative sd of the day's use about kappa times ET0. */
  readonly daySd: number;
  /** Random walk of kappa per day. */
  readonly walk: number;
  /** Net gain measured within the day (refills and rain rises less drains), litres, and its sd. */
  readonly gainLitres: number;
  readonly gainSdLitres: number;
  /** Part of the plants' use that rain water in the soil covered. */
  readonly rainUseLitres: number;
  /** Litres that went from the reservoir into the soil beyond the plants' use (positive), with sd. */
  readonly soilLitres: number;
  readonly soilSdLitres: number;
  /** Litres that a known leak took. */
  readonly leakLitres: number;
  /** The day says nothing about the plants' use: take the level, leave kappa. */
  readonly levelOnly: boolean;
}

export interface DawnLevel {
  readonly litres: number;
  readonly sd: number;
}

export interface DemandStep {
  readonly filter: DemandFilter;
  readonly expectedUseLitres: number;
  readonly innovation: number | null;
}

const KAPPA_SD_START = 0.7;
/** Beyond this squared standardised innovation a day counts less and less; beyond the second it is not believed. */
const DOUBT = 6;
const DISBELIEF = 25;
const STEP_MEAN = 1.8;
const STEP_SD = 0.25;
/** Kappa stays in a range of 10 mL to 50 L per mm: outside, exp() would only make noise of noise. */
const KAPPA_MIN = Math.log(0.01);
const KAPPA_MAX = Math.log(50);

export function startDemand(kappa: number): DemandFilter {
  return {
    litres: 0,
    kappa,
    varLitres: 0,
    varKappa: KAPPA_SD_START ** 2,
    covariance: 0,
    days: 0,
    innovations: [],
    started: false,
  };
}

/**
 * Takes one hydrological day. Without a dawn level the filter only predicts.
 * Days that do not fit are given less weight (Student-like), so that one odd day does not move the coefficient; four
 * of one sign in a row (pruning, a moved pot, a new planting) widen its variance, so that it follows quickly.
 */
export function stepDemand(filter: DemandFilter, day: DemandDay, dawn: DawnLevel | null): DemandStep {
  if (!filter.started) {
    if (dawn === null) return { filter, expectedUseLitres: 0, innovation: null };
    const started = { ...filter, litres: dawn.litres, varLitres: dawn.sd ** 2, started: true };
    return { filter: started, expectedUseLitres: 0, innovation: null };
  }
  const use = Math.exp(filter.kappa) * day.et0Mm;
  const drawn = Math.max(0, use - day.rainUseLitres);
  // d(drawn)/d(kappa): a soil that covers most of the use leaves little to learn from.
  const slope = drawn;
  const predicted = filter.litres - drawn - day.soilLitres - day.leakLitres + day.gainLitres;
  const noise = (day.daySd * use) ** 2 + (0.6 * day.rainUseLitres) ** 2 + day.gainSdLitres ** 2 + day.soilSdLitres ** 2;
  const varKappa = filter.varKappa + day.walk ** 2;
  const varLitres = filter.varLitres - 2 * slope * filter.covariance + slope ** 2 * varKappa + noise;
  const covariance = filter.covariance - slope * varKappa;
  if (dawn === null) {
    return {
      filter: { ...filter, litres: Math.max(0, predicted), varLitres, varKappa, covariance },
      expectedUseLitres: drawn,
      innovation: null,
    };
  }
  const r = dawn.sd ** 2;
  const residual = dawn.litres - predicted;
  const gate = residual ** 2 / (varLitres + r);
  if (day.levelOnly || gate > DISBELIEF) {
    const innovations = day.levelOnly ? filter.innovations : push(filter.innovations, clampSign(residual, gate));
    const jolted = !day.levelOnly && stepSeen(innovations);
    return {
      filter: {
        ...filter,
        litres: dawn.litres,
        varLitres: r,
        covariance: 0,
        varKappa: varKappa + (jolted ? STEP_SD ** 2 : 0),
        innovations: jolted ? [] : innovations,
      },
      expectedUseLitres: drawn,
      innovation: day.levelOnly ? null : -Math.sign(residual) * Math.sqrt(gate),
    };
  }
  const inflated = gate > DOUBT ? (varLitres + r) * (gate / DOUBT) : varLitres + r;
  const gainLitres = varLitres / inflated;
  const gainKappa = covariance / inflated;
  const innovations = push(filter.innovations, clampSign(residual, gate));
  const jolted = stepSeen(innovations);
  const kappa = Math.min(KAPPA_MAX, Math.max(KAPPA_MIN, filter.kappa + gainKappa * residual));
  return {
    filter: {
      litres: predicted + gainLitres * residual,
      kappa,
      varLitres: Math.max(1e-9, (1 - gainLitres) * varLitres),
      covariance: (1 - gainLitres) * covariance,
      varKappa: Math.max(1e-6, varKappa - gainKappa * covariance) + (jolted ? STEP_SD ** 2 : 0),
      days: filter.days + 1,
      innovations: jolted ? [] : innovations,
      started: true,
    },
    expectedUseLitres: drawn,
    // Positive: more was used than expected.
    innovation: -Math.sign(residual) * Math.sqrt(gate),
  };
}

function push(innovations: readonly number[], value: number): readonly number[] {
  return [...innovations.slice(-3), value];
}

function clampSign(residual: number, gate: number): number {
  return -Math.sign(residual) * Math.min(5, Math.sqrt(gate));
}

function stepSeen(innovations: readonly number[]): boolean {
  if (innovations.length < 4) return false;
  let sum = 0;
  for (const value of innovations) sum += value;
  return Math.abs(sum / 4) > STEP_MEAN;
}

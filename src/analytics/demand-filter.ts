/**
 * Daily filter of a pot's water and thirst: an extended Kalman filter with two states, litres in the reservoir at dawn
 * and kappa, the log of litres drawn per mm of evaporative demand. O(1) a day.
 */
export interface DemandFilter {
  readonly litres: number;
  /** What such a vessel's planting uses, litres per mm, as far as its size tells. */
  readonly litresPerMmScale: number;
  readonly kappa: number;
  readonly varLitres: number;
  readonly varKappa: number;
  readonly covariance: number;
  /** Days whose use the filter has seen. */
  readonly days: number;
  /** Standardised innovations of the last four used days, newest last. */
  readonly innovations: readonly number[];
  /** Litres per mm that each of the last four fit days showed by itself, newest last. */
  readonly shown: readonly number[];
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
/** Mean of the last four standardised innovations from which the coefficient is held to be changing ... */
const STEP_MEAN = 1.25;
/** ... and from which it is so far off that it is taken from those days themselves. */
const FAR_MEAN = 2.5;
const STEP_SD = 0.3;
const SHOWN_DAYS = 4;
/** Litres per mm stay in this range: outside, the log would only make noise of noise. */
const PER_MM_MIN = 0.003;
const PER_MM_MAX = 50;
/** A planting that seems to use next to nothing may still wake up: noise and walk are not under this of its scale. */
const LEAST_SHARE_OF_SCALE = 0.12;
/** At a tenth of the vessel's scale a filling lasts for months: less thirst makes no difference to anybody. */
const REST_SHARE_OF_SCALE = 0.1;
const VARIANCE_MAX = 1.5;

export function startDemand(kappa: number): DemandFilter {
  return {
    litresPerMmScale: Math.exp(kappa),
    litres: 0,
    kappa,
    varLitres: 0,
    varKappa: KAPPA_SD_START ** 2,
    covariance: 0,
    days: 0,
    innovations: [],
    shown: [],
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
  const perMm = Math.exp(filter.kappa);
  const use = perMm * day.et0Mm;
  const drawn = Math.max(0, use - day.rainUseLitres);
  // d(drawn)/d(perMm): a soil that covers most of the use leaves little to learn from.
  const slope = use > 0 ? drawn / perMm : 0;
  const predicted = filter.litres - drawn - day.soilLitres - day.leakLitres + day.gainLitres;
  const scale = Math.max(perMm, LEAST_SHARE_OF_SCALE * filter.litresPerMmScale);
  const noise =
    (day.daySd * scale * day.et0Mm) ** 2 +
    (0.6 * day.rainUseLitres) ** 2 +
    day.gainSdLitres ** 2 +
    day.soilSdLitres ** 2;
  // Updates are made in litres per mm, not in its log: from a small value the log would never find back up.
  const varPerMm = filter.varKappa * perMm ** 2 + (day.walk * scale) ** 2;
  const varKappa = varPerMm / perMm ** 2;
  const covPerMm = filter.covariance * perMm;
  const varLitres = filter.varLitres - 2 * slope * covPerMm + slope ** 2 * varPerMm + noise;
  const covariance = covPerMm - slope * varPerMm;
  if (dawn === null) {
    return {
      filter: {
        ...filter,
        litres: Math.max(0, predicted),
        varLitres,
        varKappa: capVariance(varKappa),
        covariance: covariance / perMm,
      },
      expectedUseLitres: drawn,
      innovation: null,
    };
  }
  const r = dawn.sd ** 2;
  const residual = dawn.litres - predicted;
  const gate = residual ** 2 / (varLitres + r);
  if (day.levelOnly || gate > DISBELIEF) {
    const kept: DemandFilter = {
      ...filter,
      litres: dawn.litres,
      varLitres: r,
      covariance: 0,
      varKappa: capVariance(varKappa),
    };
    return {
      filter: day.levelOnly ? kept : followStep(kept, day, filter.litres - dawn.litres, residual, gate),
      expectedUseLitres: drawn,
      innovation: day.levelOnly ? null : -Math.sign(residual) * Math.sqrt(gate),
    };
  }
  const inflated = gate > DOUBT ? (varLitres + r) * (gate / DOUBT) : varLitres + r;
  const gainLitres = varLitres / inflated;
  const gainPerMm = covariance / inflated;
  const updated = Math.min(PER_MM_MAX, Math.max(leastPerMm(filter), perMm + gainPerMm * residual));
  const variance = Math.max(1e-12, varPerMm - gainPerMm * covariance) / updated ** 2;
  return {
    filter: followStep(
      {
        ...filter,
        litres: predicted + gainLitres * residual,
        kappa: Math.log(updated),
        varLitres: Math.max(1e-9, (1 - gainLitres) * varLitres),
        covariance: ((1 - gainLitres) * covariance) / updated,
        varKappa: capVariance(variance),
        days: filter.days + 1,
      },
      day,
      filter.litres - dawn.litres,
      residual,
      gate,
    ),
    expectedUseLitres: drawn,
    // Positive: more was used than expected.
    innovation: -Math.sign(residual) * Math.sqrt(gate),
  };
}

/**
 * Keeps what the day showed by itself. Where the last four days together depart from the coefficient, its variance is
 * widened, so that the next days move it; where they depart far, it is taken from what they showed: a planting that was
 * pruned, moved, or woke up in spring is not reached by small corrections.
 * @param fallLitres level at the dawn before less level now
 */
function followStep(
  filter: DemandFilter,
  day: DemandDay,
  fallLitres: number,
  residual: number,
  gate: number,
): DemandFilter {
  const use = fallLitres + day.gainLitres - day.soilLitres - day.leakLitres + day.rainUseLitres;
  const innovations = [...filter.innovations.slice(1 - SHOWN_DAYS), clampSign(residual, gate)];
  const shown = [...filter.shown.slice(1 - SHOWN_DAYS), Math.round((use / day.et0Mm) * 1e5) / 1e5];
  const departure = Math.abs(meanOf(innovations));
  if (innovations.length < SHOWN_DAYS || departure <= STEP_MEAN) return { ...filter, innovations, shown };
  const varKappa = capVariance(filter.varKappa + STEP_SD ** 2);
  if (departure <= FAR_MEAN) return { ...filter, varKappa, innovations: [], shown };
  const sorted = [...shown].sort((a, b) => a - b);
  const perMm = Math.exp(filter.kappa);
  // Noise and rain can make a resting planting show less than nothing.
  const least = Math.max(leastPerMm(filter), 0.4 * perMm);
  const middle = Math.max((sorted[1]! + sorted[2]!) / 2, least);
  return {
    ...filter,
    kappa: Math.log(Math.min(PER_MM_MAX, middle)),
    varKappa,
    covariance: 0,
    innovations: [],
    shown,
  };
}

function clampSign(residual: number, gate: number): number {
  return -Math.sign(residual) * Math.min(5, Math.sqrt(gate));
}

function meanOf(values: readonly number[]): number {
  let sum = 0;
  for (const value of values) sum += value;
  return sum / values.length;
}

function leastPerMm(filter: DemandFilter): number {
  return Math.max(PER_MM_MIN, REST_SHARE_OF_SCALE * filter.litresPerMmScale);
}

function capVariance(variance: number): number {
  return Math.min(VARIANCE_MAX, Math.max(1e-6, variance));
}

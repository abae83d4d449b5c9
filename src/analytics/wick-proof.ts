import type { EpochMs } from '../domain/ids.js';
import { DAY_MS } from '../domain/local-day.js';

/** One day of a pot since its wick was to be proved. */
export interface ProofDay {
  readonly endMs: EpochMs;
  /** At dawn; null where it is not known. */
  readonly moistureFraction: number | null;
  /** Litres that the reservoir lost to the soil on the day; null where they are not known. */
  readonly drawnLitres: number | null;
  /** Somebody watered from above, or rain fell on the soil. */
  readonly wettedFromAbove: boolean;
  /** Water stood above the wick's foot all day. */
  readonly waterAtWick: boolean;
}

export type WickProof =
  | {
      readonly kind: 'proved';
      readonly days: number;
      readonly drawnLitres: number;
      readonly moistureFrom: number;
      readonly moistureTo: number;
      readonly atMs: EpochMs;
    }
  | {
      readonly kind: 'not_yet_proved';
      /** Longest run of days that counts so far. */
      readonly days: number;
      readonly missing: WickProofLack;
    }
  | { readonly kind: 'disproved'; readonly moistureFrom: number; readonly moistureTo: number; readonly atMs: EpochMs };

/** What still lacks, in the order in which it is worth telling. */
export type WickProofLack =
  | 'no_moisture_sensor'
  | 'no_level'
  | 'no_water_at_the_wick'
  | 'wetted_from_above'
  | 'too_few_days'
  | 'too_little_drawn';

const LEAST_DAYS = 5;
/** Band within which the moisture holds: noise of the probe and the swing of the days. */
const BAND = 0.025;
/** The plants must have taken from below what would have dried the soil by this much. */
const WOULD_DRY = 0.03;
/** A soil that lost so much above standing water is not being fed. */
const DRIED = 0.06;
/** Less than this share of what the soil lost came up meanwhile. */
const FED_SHARE = 0.3;
/** Where the soil's volume is not known. */
const ASSUMED_SOIL_LITRES = 40;

/**
 * Whether the wick is proved: without water from above, the moisture holds within its band while the level falls by
 * enough that the soil would have dried without it. Judged on the longest such run of days up to each day; once proved
 * it stays so until the wick is worked on, so pass only the days since.
 */
export function proveWick(days: readonly ProofDay[], soilLitres: number | null): WickProof {
  const litres = soilLitres ?? ASSUMED_SOIL_LITRES;
  const need = WOULD_DRY * litres;
  let longest = 0;
  let run: ProofDay[] = [];
  let drawn = 0;
  let stretch: { readonly from: number; days: number; drawn: number } | null = null;
  for (const day of days) {
    if (day.wettedFromAbove || !day.waterAtWick || day.moistureFraction === null || day.drawnLitres === null) {
      run = [];
      drawn = 0;
      stretch = null;
      continue;
    }
    if (stretch === null) stretch = { from: day.moistureFraction, days: 1, drawn: 0 };
    else {
      stretch.days++;
      stretch.drawn += Math.max(0, day.drawnLitres);
    }
    const lost = stretch.from - day.moistureFraction;
    // A soil wetted through drains to where the wick holds it; one that is not fed dries and nothing is drawn.
    if (stretch.days >= LEAST_DAYS && lost > DRIED && stretch.drawn < FED_SHARE * lost * litres) {
      return { kind: 'disproved', moistureFrom: stretch.from, moistureTo: day.moistureFraction, atMs: day.endMs };
    }
    run.push(day);
    if (run.length > 1) drawn += Math.max(0, day.drawnLitres);
    longest = Math.max(longest, run.length);
    const from = run[0]!.moistureFraction!;
    const to = day.moistureFraction;
    if (from - to > BAND) {
      // Still falling: the run has to begin anew from where the soil settles.
      run = [...run.slice(-1)];
      drawn = 0;
      continue;
    }
    if (run.length >= LEAST_DAYS && drawn >= need) {
      return {
        kind: 'proved',
        days: run.length,
        drawnLitres: drawn,
        moistureFrom: from,
        moistureTo: to,
        atMs: day.endMs,
      };
    }
  }
  return { kind: 'not_yet_proved', days: longest, missing: lack(days, longest) };
}

function lack(days: readonly ProofDay[], longest: number): WickProofLack {
  if (days.length > 0 && days.every((day) => day.moistureFraction === null)) return 'no_moisture_sensor';
  if (days.length > 0 && days.every((day) => day.drawnLitres === null)) return 'no_level';
  if (longest >= LEAST_DAYS) return 'too_little_drawn';
  const recent = days.slice(-LEAST_DAYS);
  if (recent.some((day) => !day.waterAtWick)) return 'no_water_at_the_wick';
  if (recent.some((day) => day.wettedFromAbove)) return 'wetted_from_above';
  return 'too_few_days';
}

/** Days that a proof takes at least, for planning. */
export const WICK_PROOF_LEAST_MS = LEAST_DAYS * DAY_MS;

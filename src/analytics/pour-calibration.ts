import type { TableBandPoint } from '../domain/commissioning.js';
import type { InputFault } from '../domain/errors.js';
import type { Message } from '../domain/message.js';
import type { StrappingPair } from '../domain/registry.js';
import { makePchip, pchipValue } from './interpolation/pchip.js';
import { fitPours, type KnownPour, type Pour, type PourFit, type PourSettings } from './pour-fit.js';
import { median } from './stats/order.js';

export type { Pour, PourSettings };

export const USUAL_POUR_SETTINGS: PourSettings = { levelSdMm: 1, pourRelativeSd: 0.015 };

export type BandPoint = TableBandPoint;

/** What is wrong with which pour, for programs in English and for people in their language. */
export interface PourFault extends InputFault {
  readonly message: Message;
}

export type PourCalibration =
  | {
      readonly kind: 'table';
      readonly strapping: readonly StrappingPair[];
      readonly band: readonly BandPoint[];
      /** Where further pouring no longer raised the level; null where the port was not reached. */
      readonly overflowMm: number | null;
      /** Pours that ran over and say nothing about volume, by index. */
      readonly ranOver: readonly number[];
    }
  | { readonly kind: 'refused'; readonly faults: readonly PourFault[] };

const LEAST_POURS = 3;
const TABLE_STEPS = 12;
/** Pours that raise the level by less than this share of what they should, noise apart, have run over. */
const RAN_OVER_SHARE = 0.06;
/** A pour this many standard deviations from what the others say was misread or miscounted. */
const MISCOUNTED = 5;
/** Vessels widen and narrow, but not by this much from one pour to the next and back. */
const LEAST_SHARE = 0.65;

/** Running totals from single pours. */
export function cumulativePours(
  steps: readonly { readonly litres: number; readonly levelMm: number }[],
): readonly Pour[] {
  let totalLitres = 0;
  return steps.map((step) => {
    totalLitres += step.litres;
    return { totalLitres, levelMm: step.levelMm };
  });
}

/**
 * Turns measured pours into a strapping table with its uncertainty, and finds the overflow invert. The vessel is taken
 * to widen or narrow smoothly; how wide it is comes from the pours alone.
 *
 * Refused, with the pour named: numbers that are none, pours that take water away, a level that falls, a pour that the
 * others contradict. Two pours below the port are too few to contradict each other, so three are the least.
 */
export function calibratePours(pours: readonly Pour[], settings: PourSettings = USUAL_POUR_SETTINGS): PourCalibration {
  const faults = plainFaults(pours, settings);
  if (faults.length > 0) return { kind: 'refused', faults };
  const overflow = findOverflow(pours, settings);
  const useful: KnownPour[] = pours
    .map((pour, index) => ({ ...pour, index }))
    .filter((pour) => overflow === null || pour.index < overflow.firstIndex);
  if (useful.length < LEAST_POURS) {
    const detail = `only ${useful.length} of ${pours.length} pours stayed below the overflow; at least ${LEAST_POURS} are needed`;
    const params = { usefulPours: useful.length, pours: pours.length, leastPours: LEAST_POURS };
    return refused({ pointer: '/pours', detail, message: { code: 'pours.too_few_below', params } });
  }
  const odd = miscounted(useful, settings) ?? contradicted(useful, settings);
  if (odd !== null) return refused(odd);
  const topMm = Math.max(overflow?.levelMm ?? 0, useful[useful.length - 1]!.levelMm);
  const fit = fitPours(useful, topMm, settings);
  if (fit === null) {
    const detail = 'the pours lie too close together to tell the vessel’s shape; spread them from floor to port';
    return refused({ pointer: '/pours', detail, message: { code: 'pours.too_close', params: {} } });
  }
  const strapping = tableOf(fit, topMm);
  if (strapping === null) {
    const detail =
      'the pours give a vessel that holds less at a higher level; pour again in even steps, letting it settle';
    return refused({ pointer: '/pours', detail, message: { code: 'pours.holds_less', params: {} } });
  }
  return {
    kind: 'table',
    strapping,
    band: strapping.map(([levelMm, litres]) => {
      const half = fit.halfBandLitres(levelMm);
      return { levelMm, litres, lowLitres: Math.max(0, litres - half), highLitres: litres + half };
    }),
    overflowMm: overflow?.levelMm ?? null,
    ranOver: overflow === null ? [] : pours.map((_, index) => index).slice(overflow.firstIndex),
  };
}

const refused = (fault: PourFault): PourCalibration => ({ kind: 'refused', faults: [fault] });

/** Litres and their 90 % limits at any level of a calibration's band. */
export function bandAt(band: readonly BandPoint[], levelMm: number): BandPoint {
  const at = (of: (point: BandPoint) => number): number =>
    pchipValue(
      makePchip(
        band.map((point) => point.levelMm),
        band.map(of),
      ),
      levelMm,
    );
  return {
    levelMm,
    litres: at((point) => point.litres),
    lowLitres: at((point) => point.lowLitres),
    highLitres: at((point) => point.highLitres),
  };
}

function plainFaults(pours: readonly Pour[], settings: PourSettings): PourFault[] {
  const faults: PourFault[] = [];
  if (pours.length < LEAST_POURS) {
    faults.push({
      pointer: '/pours',
      detail: `${pours.length} pours; at least ${LEAST_POURS} are needed, six are good`,
      message: { code: 'pours.too_few', params: { pours: pours.length, leastPours: LEAST_POURS } },
    });
  }
  for (const [index, pour] of pours.entries()) {
    const pointer = `/pours/${index}`;
    if (!Number.isFinite(pour.totalLitres) || !Number.isFinite(pour.levelMm)) {
      const message: Message = { code: 'pours.not_numbers', params: { pour: index + 1 } };
      faults.push({ pointer, detail: 'litres and level must be numbers', message });
      continue;
    }
    const before = pours[index - 1] ?? { totalLitres: 0, levelMm: 0 };
    if (pour.totalLitres <= before.totalLitres) {
      faults.push({
        pointer,
        detail: `the total of ${pour.totalLitres} L is not more than the ${before.totalLitres} L before it`,
        message: { code: 'pours.nothing_added', params: { pour: index + 1 } },
      });
    }
    if (pour.levelMm < before.levelMm - 4 * settings.levelSdMm) {
      faults.push({
        pointer,
        detail: `the level fell from ${before.levelMm} to ${pour.levelMm} mm although water went in; let it settle and read again`,
        message: {
          code: 'pours.level_fell',
          params: { pour: index + 1, beforeMm: before.levelMm, afterMm: pour.levelMm },
        },
      });
    }
  }
  return faults;
}

/** The first pour from which on the level stays where it is although water goes in. */
function findOverflow(
  pours: readonly Pour[],
  settings: PourSettings,
): { readonly firstIndex: number; readonly levelMm: number } | null {
  const rises: number[] = [];
  for (const [index, pour] of pours.entries()) {
    const before = pours[index - 1] ?? { totalLitres: 0, levelMm: 0 };
    rises.push((pour.levelMm - before.levelMm) / (pour.totalLitres - before.totalLitres));
  }
  const usual = median(rises.slice(0, Math.max(2, Math.ceil(rises.length / 2)))) ?? 0;
  for (let index = 1; index < pours.length; index++) {
    const rest = pours.slice(index - 1);
    const litres = rest[rest.length - 1]!.totalLitres - rest[0]!.totalLitres;
    const rise = rest[rest.length - 1]!.levelMm - rest[0]!.levelMm;
    const spread = Math.max(...rest.map((pour) => pour.levelMm)) - Math.min(...rest.map((pour) => pour.levelMm));
    const expected = usual * litres;
    const still = spread < 4 * settings.levelSdMm + RAN_OVER_SHARE * expected;
    if (expected > 8 * settings.levelSdMm && still && rise < 2 * settings.levelSdMm + RAN_OVER_SHARE * expected) {
      // The first of the still levels was reached by a pour of which an unknown part ran out already.
      return { firstIndex: index - 1, levelMm: median(rest.map((pour) => pour.levelMm))! };
    }
  }
  return null;
}

/**
 * A pour that raised the level by far more or less than the pours before and after it: counted twice, or left out. All
 * totals after it are shifted, so no single total stands out.
 */
function miscounted(pours: readonly KnownPour[], settings: PourSettings): PourFault | null {
  const steps = pours.map((pour, i) => {
    const before = pours[i - 1] ?? { totalLitres: 0, levelMm: 0 };
    const litres = pour.totalLitres - before.totalLitres;
    const riseMm = pour.levelMm - before.levelMm;
    return { pour, litres, riseMm };
  });
  for (let i = 1; i + 1 < steps.length; i++) {
    const { pour, litres, riseMm } = steps[i]!;
    const near = [steps[i - 1]!, steps[i + 1]!];
    if (near.some((step) => step.riseMm <= 0)) continue;
    const expectedMm = (litres * near.reduce((sum, step) => sum + step.riseMm / step.litres, 0)) / 2;
    const share = riseMm / expectedMm;
    const sdMm = 2 * settings.levelSdMm + 2 * settings.pourRelativeSd * expectedMm;
    const apart = Math.abs(riseMm - expectedMm) / sdMm;
    if (apart < MISCOUNTED || (share > LEAST_SHARE && share < 1 / LEAST_SHARE)) continue;
    return {
      pointer: `/pours/${pour.index}`,
      detail: `${litres.toFixed(1)} L raised the level by ${riseMm.toFixed(0)} mm, where the pours beside it let one expect ${expectedMm.toFixed(0)} mm; was it counted twice or left out, or had the level not settled?`,
      message: {
        code: 'pours.miscounted',
        params: { pour: pour.index + 1, pouredLitres: litres, riseMm, expectedMm },
      },
    };
  }
  return null;
}

/** The pour that the others contradict most, if by too much. */
function contradicted(pours: readonly KnownPour[], settings: PourSettings): PourFault | null {
  if (pours.length <= LEAST_POURS) return null;
  let worst: { readonly pour: KnownPour; readonly deviation: number; readonly litres: number } | null = null;
  for (const pour of pours) {
    const others = pours.filter((other) => other !== pour);
    const topMm = Math.max(...pours.map((other) => other.levelMm));
    const fit = fitPours(others, topMm, settings);
    if (fit === null) continue;
    const litres = fit.litresAt(pour.levelMm);
    const sd = Math.hypot(fit.sdLitres(pour.levelMm), fit.readingSdLitres(pour));
    const deviation = Math.abs(pour.totalLitres - litres) / sd;
    if (worst === null || deviation > worst.deviation) worst = { pour, deviation, litres };
  }
  if (worst === null || worst.deviation < MISCOUNTED) return null;
  const { pour, litres } = worst;
  return {
    pointer: `/pours/${pour.index}`,
    detail: `${pour.totalLitres} L at ${pour.levelMm} mm does not fit the other pours, which put about ${litres.toFixed(1)} L there; was a pour counted twice or left out, or had the level not settled?`,
    message: {
      code: 'pours.contradicted',
      params: {
        pour: pour.index + 1,
        totalLitres: pour.totalLitres,
        levelMm: pour.levelMm,
        expectedLitres: litres,
      },
    },
  };
}

function tableOf(fit: PourFit, topMm: number): readonly StrappingPair[] | null {
  const pairs: StrappingPair[] = [[0, 0]];
  for (let i = 1; i <= TABLE_STEPS; i++) {
    const levelMm = round((topMm * i) / TABLE_STEPS, 10);
    const litres = round(fit.litresAt(levelMm), 1000);
    if (litres <= pairs[pairs.length - 1]![1]) return null;
    pairs.push([levelMm, litres]);
  }
  return pairs;
}

function round(value: number, perUnit: number): number {
  return Math.round(value * perUnit) / perUnit;
}

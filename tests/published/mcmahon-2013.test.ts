import { expect, it } from 'vitest';
import { degreesToRadians, extraterrestrialMjPerM2 } from '../../src/domain/formulas/radiation.js';
import { hargreavesSamaniMm, priestleyTaylorMm, turcMm } from '../../src/domain/formulas/simple-evaporation.js';
import {
  airPressureKPa,
  psychrometricKPaPerC,
  vapourPressureSlopeKPaPerC,
} from '../../src/domain/formulas/vapour-pressure.js';

/*
 * T. A. McMahon, M. C. Peel, L. Lowe, R. Srikanthan, T. R. McVicar 2013, Hydrology and Earth System Sciences
 * 17:1331-1363, supplement S19: Alice Springs airport, 20 July 1980 (quoted in the open-source library pyet,
 * tests/testalternative.py). Constants such as the latent heat differ in the third digit between that paper and
 * FAO-56: 1 % of the value.
 */
const CONSTANTS_DIFFER = 0.01;

function expectWithin(value: number, expected: number): void {
  expect(Math.abs(value / expected - 1), `${value} against ${expected}`).toBeLessThanOrEqual(CONSTANTS_DIFFER);
}

it('gives Priestley and Taylor’s 2.6083 mm/day', () => {
  const gamma = psychrometricKPaPerC(airPressureKPa(546));
  expectWithin(priestleyTaylorMm(8.6401, vapourPressureSlopeKPaPerC(11.5), gamma), 2.6083);
});

it('gives Hargreaves and Samani’s 4.1129 mm/day', () => {
  // 20 July is day 202 of the leap year 1980.
  expectWithin(hargreavesSamaniMm(2, 21, extraterrestrialMjPerM2(degreesToRadians(-23.7951), 202)), 4.1129);
});

it('gives Turc’s 2.6727 mm/day', () => {
  expectWithin(turcMm(11.5, 17.194, 0.48), 2.6727);
});

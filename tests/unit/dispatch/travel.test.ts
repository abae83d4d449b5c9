import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { driveMinutes, estimateTravel, greatCircleKm, roadKm, TRAVEL_SETTINGS } from '../../../src/dispatch/travel.js';

describe('travel estimates', () => {
  it('measure a degree of latitude as a 360th of the mean great circle', () => {
    const a = { latitude: 41, longitude: 2 };
    expect(greatCircleKm(a, { latitude: 42, longitude: 2 })).toBeCloseTo((2 * Math.PI * 6371.0088) / 360, 6);
    expect(greatCircleKm(a, a)).toBe(0);
  });

  it('make short trips more winding than long ones', () => {
    expect(roadKm(0.5, TRAVEL_SETTINGS) / 0.5).toBeGreaterThan(1.45);
    expect(roadKm(40, TRAVEL_SETTINGS) / 40).toBeCloseTo(1.25, 3);
  });

  it('follow the square root law up to the ramp and meet the cruising law there without a step', () => {
    // v = 35 km/h reached within 1 km: t = 2 sqrt(d / a) with a = v^2 / 1 km, times 1.1 for the load.
    expect(driveMinutes(0.25, TRAVEL_SETTINGS)).toBeCloseTo((60 * 1.1 * 2 * Math.sqrt(0.25)) / 35, 9);
    expect(driveMinutes(1 + 1e-9, TRAVEL_SETTINGS)).toBeCloseTo(driveMinutes(1, TRAVEL_SETTINGS), 6);
    expect(driveMinutes(5 + 1e-9, TRAVEL_SETTINGS)).toBeCloseTo(driveMinutes(5, TRAVEL_SETTINGS), 6);
  });

  it('take longer for longer trips', () => {
    fc.assert(
      fc.property(
        fc.double({ min: 0, max: 200, noNaN: true }),
        fc.double({ min: 0.01, max: 50, noNaN: true }),
        (km, more) => {
          expect(driveMinutes(km + more, TRAVEL_SETTINGS)).toBeGreaterThan(driveMinutes(km, TRAVEL_SETTINGS));
        },
      ),
    );
  });

  it('fill a matrix that is the same both ways and says that it is estimated', () => {
    const matrix = estimateTravel(
      [
        { latitude: 41.2, longitude: 1.7 },
        { latitude: 41.25, longitude: 1.75 },
      ],
      TRAVEL_SETTINGS,
    );
    expect(matrix.km[1]).toBe(matrix.km[2]);
    expect(matrix.minutes[0]).toBe(0);
    expect([...matrix.estimated]).toEqual([1, 1, 1, 1]);
  });
});

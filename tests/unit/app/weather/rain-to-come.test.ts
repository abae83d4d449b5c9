import { describe, expect, it } from 'vitest';
import { rainToCome } from '../../../../src/app/weather/rain-to-come.js';
import type { WeatherDay } from '../../../../src/domain/weather.js';
import { testContainer } from '../../../support/garden.js';
import { MADRID, MONDAY } from '../../../support/situations.js';

function forecast(day: string, rainMm: number | null, rainProbability: number | null): WeatherDay {
  return {
    siteId: 'S1',
    day,
    tminC: null,
    tmaxC: null,
    humidityFraction: null,
    windMPerS: null,
    solarMjPerM2: null,
    rainMm,
    et0Mm: null,
    rainProbability,
    issuedMs: MONDAY,
  };
}

const open = testContainer('C1', 'S1', { covered: false });
const coming = (...days: readonly WeatherDay[]) => rainToCome(open, days, MADRID, MONDAY);

describe('rain to come', () => {
  it('is the first likely rain of the next three days, in litres that reach the soil', () => {
    const rain = coming(forecast('2026-08-31', 30, 0.4), forecast('2026-09-02', 21, 0.8));
    // 0.85 x 0.25 m² x 20 mm.
    expect(rain?.litres).toBeCloseTo(4.25, 9);
    expect(rain?.byMs).toBe(Date.UTC(2026, 8, 2, 22));
  });

  it('is none where it is unlikely, a drizzle, far off or not known', () => {
    expect(coming()).toBeNull();
    expect(coming(forecast('2026-09-01', 30, 0.6))).toBeNull();
    expect(coming(forecast('2026-09-01', 0.8, 0.9))).toBeNull();
    expect(coming(forecast('2026-09-04', 30, 0.9))).toBeNull();
    expect(coming(forecast('2026-09-01', null, 0.9))).toBeNull();
    expect(coming(forecast('2026-09-01', 30, null))).toBeNull();
  });

  it('reaches no covered pot', () => {
    const covered = testContainer('C1', 'S1');
    expect(rainToCome(covered, [forecast('2026-09-01', 30, 0.9)], MADRID, MONDAY)).toBeNull();
  });
});

import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { measuredPoints } from '../../../dashboard/src/state/chart-data.js';
import { dryWindow } from '../../../dashboard/src/state/dry-axis.js';
import { fanValueAt, forecastFan } from '../../../dashboard/src/state/forecast-fan.js';
import { majorTick, sectionLayout, spreadLabels } from '../../../dashboard/src/state/section-layout.js';
import { sitePlot } from '../../../dashboard/src/state/site-plot.js';
import { halfWidthAt, profileBelow, vesselProfile } from '../../../dashboard/src/state/vessel.js';
import { addFigures, waterBalance } from '../../../dashboard/src/state/water-balance.js';

const strapping = fc
  .array(fc.tuple(fc.double({ min: 1, max: 80, noNaN: true }), fc.double({ min: 0.2, max: 30, noNaN: true })), {
    minLength: 1,
    maxLength: 12,
  })
  .map((steps) => {
    let level = 0;
    let litres = 0;
    const pairs: (readonly [number, number])[] = [[0, 0]];
    for (const [mm, more] of steps) {
      level += mm;
      litres += more;
      pairs.push([level, litres]);
    }
    return pairs;
  });

describe('the shape of a reservoir', () => {
  it('of a cylinder is as wide as a circle of its area', () => {
    // 31.416 litres in 100 mm: 0.31416 m2, a circle of 316.2 mm half-width.
    const profile = vesselProfile([
      [0, 0],
      [50, 15.708],
      [100, 31.416],
    ]);
    for (const point of profile) expect(point.halfWidthMm).toBeCloseTo(316.23, 1);
  });

  it('holds as much as its table says, whatever the table', () => {
    fc.assert(
      fc.property(strapping, (pairs) => {
        const profile = vesselProfile(pairs);
        for (let i = 1; i < pairs.length; i++) {
          const [low, lowLitres] = pairs[i - 1]!;
          const [high, highLitres] = pairs[i]!;
          const half = halfWidthAt(profile, (low + high) / 2);
          expect((Math.PI * half * half * (high - low)) / 1e6).toBeCloseTo(highLitres - lowLitres, 6);
        }
      }),
    );
  });

  it('refuses a table that does not increase', () => {
    expect(() =>
      vesselProfile([
        [0, 0],
        [10, 5],
        [10, 6],
      ]),
    ).toThrow(RangeError);
  });

  it('closes the water at its level', () => {
    const profile = vesselProfile([
      [0, 0],
      [60, 9.4],
      [120, 20.1],
    ]);
    const water = profileBelow(profile, 45);
    expect(water[water.length - 1]!.levelMm).toBe(45);
    expect(water.every((point) => point.levelMm <= 45)).toBe(true);
    expect(profileBelow(profile, 0)).toEqual([]);
  });
});

describe('the section drawing', () => {
  const input = {
    strapping: [
      [0, 0],
      [60, 9.4],
      [120, 20.1],
    ] as const,
    overflowMm: 110,
    wickFootMm: 8,
    levelMm: 40,
    leakMm: null,
    majorTickMm: 20,
  };

  it('puts floor, wick foot, water, invert and plate in the order of their heights', () => {
    const layout = sectionLayout(input);
    const heights = [layout.floorY, layout.wickFootY, layout.levelY!, layout.invertY, layout.plateY];
    expect(heights.toSorted((a, b) => b - a)).toEqual(heights);
  });

  it('draws no number that is not one, also for a level above the table and for none', () => {
    for (const levelMm of [null, -5, 500]) {
      const { ticks, ...layout } = sectionLayout({ ...input, levelMm, leakMm: 300 });
      expect(JSON.stringify(layout)).not.toMatch(/NaN|Infinity/);
      expect(ticks.length).toBeGreaterThan(3);
    }
  });

  it('chooses a round distance between the ticks of the staff', () => {
    expect(majorTick(120, 'mm')).toBe(20);
    expect(majorTick(400, 'mm')).toBe(100);
    expect(majorTick(120, 'in')).toBeCloseTo(25.4, 6);
  });

  it('moves labels apart and keeps their order and their place', () => {
    fc.assert(
      fc.property(fc.array(fc.double({ min: 0, max: 200, noNaN: true }), { minLength: 1, maxLength: 6 }), (wanted) => {
        const placed = spreadLabels(wanted, 17, 0, 200);
        const order = wanted.map((_, i) => i).sort((a, b) => wanted[a]! - wanted[b]! || a - b);
        for (let i = 1; i < order.length; i++) {
          expect(placed[order[i]!]! - placed[order[i - 1]!]!).toBeGreaterThanOrEqual(17 - 1e-9);
        }
        for (const y of placed) expect(y).toBeLessThanOrEqual(200);
      }),
    );
  });
});

describe('the dry window on the axis', () => {
  const axis = { fromMs: 0, toMs: 1_000, timeZone: 'UTC' };

  it('lies between p10 and p90', () => {
    expect(dryWindow(axis, { p10Ms: 40, p50Ms: 250, p90Ms: 640 })).toEqual({
      from: 0.2,
      middle: 0.5,
      to: 0.8,
      open: false,
    });
  });

  it('goes on past the end where p90 lies beyond the axis or the horizon', () => {
    expect(dryWindow(axis, { p10Ms: 810, p50Ms: 1_200, p90Ms: null })).toEqual({
      from: 0.9,
      middle: null,
      to: 1,
      open: true,
    });
  });

  it('is not drawn where even the early end lies beyond', () => {
    expect(dryWindow(axis, { p10Ms: 1_000, p50Ms: 2_000, p90Ms: 3_000 })).toBeNull();
    expect(dryWindow(axis, { p10Ms: null, p50Ms: null, p90Ms: null })).toBeNull();
  });
});

describe('the plot of the sites', () => {
  it('puts north up, east right, and keeps distances in proportion', () => {
    // One hundredth of a degree of latitude is 1.112 km on the mean sphere of the IUGG.
    const { points, scaleBar } = sitePlot(
      [
        { id: 'south', latitude: 41.2, longitude: 2 },
        { id: 'north', latitude: 41.25, longitude: 2 },
        { id: 'east', latitude: 41.2, longitude: 2.08 },
      ],
      320,
      230,
    );
    const [south, north, east] = ['south', 'north', 'east'].map((id) => points.get(id)!);
    expect(north!.y).toBeLessThan(south!.y);
    expect(east!.x).toBeGreaterThan(south!.x);
    const perKm = scaleBar.width / scaleBar.km;
    expect((south!.y - north!.y) / perKm).toBeCloseTo(5 * 1.112, 2);
    expect((east!.x - south!.x) / perKm).toBeCloseTo(8 * 1.112 * Math.cos((41.225 * Math.PI) / 180), 2);
  });

  it('keeps marks apart and on the plot, also where all sites are one place', () => {
    const places = Array.from({ length: 6 }, (_, i) => ({ id: String(i), latitude: 41, longitude: 2 }));
    const marks = [...sitePlot(places, 320, 230).points.values()];
    for (const [i, a] of marks.entries()) {
      expect(a.x >= 0 && a.x <= 320 && a.y >= 0 && a.y <= 230).toBe(true);
      for (const b of marks.slice(i + 1)) expect(Math.hypot(a.x - b.x, a.y - b.y)).toBeGreaterThan(15);
    }
  });
});

describe('the forecast fan', () => {
  const base = { nowMs: 0, value: 20, footValue: 2, slopePerMs: -0.01, endMs: 3_000 };

  it('reaches the wick foot at each quantile and stays there', () => {
    const fan = forecastFan({ ...base, dry: { p10Ms: 1_000, p50Ms: 1_500, p90Ms: 2_000 } })!;
    expect(fanValueAt(fan.early, 1_000)).toBe(2);
    expect(fanValueAt(fan.early, 2_500)).toBe(2);
    expect(fanValueAt(fan.middle, 750)).toBe(11);
    expect(fanValueAt(fan.late, 2_000)).toBe(2);
    expect(fanValueAt(fan.late, -1)).toBeNull();
  });

  it('keeps early below middle below late', () => {
    fc.assert(
      fc.property(
        fc.tuple(
          fc.integer({ min: 1, max: 5_000 }),
          fc.integer({ min: 0, max: 5_000 }),
          fc.integer({ min: 0, max: 5_000 }),
        ),
        fc.integer({ min: 0, max: 3_000 }),
        ([p10, more, evenMore], at) => {
          const fan = forecastFan({ ...base, dry: { p10Ms: p10, p50Ms: p10 + more, p90Ms: p10 + more + evenMore } })!;
          const [early, middle, late] = [fan.early, fan.middle, fan.late].map((line) => fanValueAt(line, at)!);
          expect(early!).toBeLessThanOrEqual(middle! + 1e-9);
          expect(middle!).toBeLessThanOrEqual(late! + 1e-9);
        },
      ),
    );
  });

  it('is none where the water stands at the foot, or nothing is known', () => {
    expect(forecastFan({ ...base, value: 2, dry: { p10Ms: 1, p50Ms: 2, p90Ms: 3 } })).toBeNull();
    expect(forecastFan({ ...base, slopePerMs: null, dry: { p10Ms: null, p50Ms: null, p90Ms: null } })).toBeNull();
  });
});

describe('the two beams of the balance', () => {
  const litres = fc.double({ min: 0, max: 500, noNaN: true });
  const ledger = fc
    .record({
      openingLitres: litres,
      refillCrewLitres: litres,
      refillOtherLitres: litres,
      rainLitres: litres,
      uptakeLitres: litres,
      leakLitres: litres,
      overflowLitres: litres,
      drainedLitres: litres,
      unexplainedLitres: fc.double({ min: -50, max: 50, noNaN: true }),
    })
    .map((row) => ({
      ...row,
      closingLitres:
        row.openingLitres +
        row.refillCrewLitres +
        row.refillOtherLitres +
        row.rainLitres -
        row.uptakeLitres -
        row.leakLitres -
        row.overflowLitres -
        row.drainedLitres -
        row.unexplainedLitres,
    }));

  it('end flush for every ledger that closes', () => {
    fc.assert(
      fc.property(fc.array(ledger, { minLength: 1, maxLength: 5 }), (rows) => {
        const { sources, fates, totalLitres } = waterBalance(addFigures(rows));
        const sum = (parts: readonly { litres: number }[]): number => parts.reduce((all, part) => all + part.litres, 0);
        expect(sum(sources)).toBeCloseTo(totalLitres, 3);
        expect(sum(fates)).toBeCloseTo(totalLitres, 3);
        for (const part of [...sources, ...fates]) expect(part.litres).toBeGreaterThan(0);
      }),
    );
  });
});

describe('what is drawn of the past', () => {
  const series = {
    timeMs: [0, 1, 2, 3],
    levelMm: [100, 240, 99, null],
    litres: [10, 27, 9.9, null],
    cleaningReason: ['smoothed', 'astray', 'smoothed', 'no_level'],
  } as const;

  it('is every level, and the litres of those that speak of water', () => {
    expect(measuredPoints(series, 'level').values).toEqual([100, 240, 99, null]);
    expect(measuredPoints(series, 'litres')).toEqual({ times: [0, 2, 3], values: [10, 9.9, null] });
  });

  it('is all of the litres where nobody said what became of the readings', () => {
    expect(measuredPoints({ ...series, cleaningReason: null }, 'litres').values).toEqual([10, 27, 9.9, null]);
  });
});

/** Monthly normals of one place, January first. */
export interface ClimateNormals {
  readonly id: string;
  readonly name: string;
  readonly latitude: number;
  readonly longitude: number;
  readonly elevationM: number;
  readonly timeZone: string;
  readonly meanC: readonly number[];
  /** Mean daily range. */
  readonly rangeC: readonly number[];
  readonly dewC: readonly number[];
  /** 10 m above ground. */
  readonly windMPerS: readonly number[];
  readonly solarMjPerM2: readonly number[];
  readonly rainMm: readonly number[];
  /** Days with rain. */
  readonly wetDays: readonly number[];
  /** Share of rain days with an afternoon storm rather than a front. */
  readonly stormShare: readonly number[];
  /** Day-to-day spread of the daily mean about the normal. */
  readonly daySdC: readonly number[];
  readonly source: string;
}

const fromMaxMin = (max: readonly number[], min: readonly number[]): { mean: number[]; range: number[] } => ({
  mean: max.map((value, month) => (value + min[month]!) / 2),
  range: max.map((value, month) => value - min[month]!),
});

const coast41 = fromMaxMin(
  [13.6, 14.3, 16.1, 18.0, 21.1, 24.9, 28.0, 28.5, 26.0, 22.1, 17.3, 14.3],
  [4.7, 5.4, 7.4, 9.4, 12.8, 16.8, 19.8, 20.2, 17.4, 13.5, 8.6, 5.7],
);
const maritime48 = fromMaxMin(
  [8.6, 10.2, 12.6, 15.2, 19.4, 22.1, 25.8, 26.0, 22.2, 15.9, 10.9, 8.1],
  [3.1, 3.2, 4.3, 6.2, 9.3, 11.9, 14.1, 14.3, 12.0, 8.4, 5.2, 2.9],
);
const continental42 = fromMaxMin(
  [0.4, 2.6, 8.7, 15.4, 21.6, 27.1, 29.4, 28.3, 24.4, 17.1, 9.3, 2.7],
  [-7.8, -6.0, -0.6, 4.9, 10.6, 16.2, 19.2, 18.4, 14.1, 7.6, 1.3, -4.5],
);

export const CLIMATES = {
  tampa: {
    id: 'tampa',
    name: 'Subtropical coast with summer storms, 28 N',
    latitude: 27.97,
    longitude: -82.52,
    elevationM: 6,
    timeZone: 'America/New_York',
    meanC: [15.0, 16.2, 19.9, 22.4, 25.4, 27.0, 27.9, 27.3, 27.0, 23.1, 20.1, 15.9],
    rangeC: [10.1, 9.9, 9.9, 9.9, 9.7, 8.2, 7.9, 7.9, 8.0, 9.0, 9.6, 9.8],
    dewC: [10.1, 12.0, 15.4, 15.7, 19.5, 21.9, 23.2, 23.1, 22.6, 18.7, 14.4, 10.1],
    windMPerS: [3.4, 3.5, 4.1, 3.4, 3.5, 2.9, 2.6, 2.7, 2.7, 3.2, 3.7, 3.1],
    solarMjPerM2: [3286, 4235, 4689, 6380, 6827, 6354, 5974, 5692, 5005, 4611, 3558, 2911].map((wh) => wh * 0.0036),
    rainMm: [63, 52, 77, 66, 102, 204, 189, 195, 162, 88, 45, 64],
    wetDays: [8, 8, 8, 5, 9, 14, 16, 16, 13, 8, 6, 7],
    stormShare: [0.15, 0.15, 0.2, 0.3, 0.6, 0.85, 0.9, 0.9, 0.8, 0.4, 0.2, 0.15],
    daySdC: [4.2, 3.9, 3.3, 2.6, 1.8, 1.3, 1.1, 1.1, 1.3, 2.4, 3.2, 4.0],
    source:
      'Temperature, dew point, wind and radiation: Tampa International, TMY3 (NREL), the .stat file of its EnergyPlus weather. ' +
      'Rain: Orlando 1991-2020 normals and its days with rain, January to September as published, the rest from memory. ' +
      'Day-to-day spread and storm share: judgement.',
  },
  coast: {
    id: 'coast',
    name: 'Temperate coast with hot, dry summers and autumn storms, 41 N',
    latitude: 41.3,
    longitude: 2.1,
    elevationM: 8,
    timeZone: 'Europe/Madrid',
    meanC: coast41.mean,
    rangeC: coast41.range,
    dewC: [3.8, 4.4, 6.2, 8.1, 11.6, 15.1, 17.8, 18.7, 16.3, 12.7, 7.9, 5.0],
    windMPerS: [4.2, 4.3, 4.3, 4.4, 4.0, 3.9, 3.9, 3.7, 3.7, 3.8, 4.1, 4.2],
    solarMjPerM2: [7.4, 10.4, 15.0, 19.2, 22.5, 24.9, 24.8, 21.2, 16.4, 11.6, 8.2, 6.6],
    rainMm: [37, 35, 36, 40, 47, 30, 21, 62, 81, 91, 59, 40],
    wetDays: [5, 4.5, 5, 6, 5.5, 4.5, 2.5, 5, 5.5, 6.5, 5.5, 5],
    stormShare: [0.05, 0.05, 0.1, 0.15, 0.3, 0.5, 0.7, 0.75, 0.7, 0.5, 0.2, 0.1],
    daySdC: [2.9, 2.9, 2.6, 2.3, 2.2, 2.1, 1.8, 1.8, 2.0, 2.3, 2.7, 2.8],
    source:
      'Normals of a coastal station near 41 N (Barcelona airport, 1981-2010 type), from memory; radiation and dew point ' +
      'estimated to match. Day-to-day spread and storm share: judgement.',
  },
  maritime: {
    id: 'maritime',
    name: 'Cool maritime, wet winters, 47 N',
    latitude: 47.45,
    longitude: -122.31,
    elevationM: 113,
    timeZone: 'America/Los_Angeles',
    meanC: maritime48.mean,
    rangeC: maritime48.range,
    dewC: [2.5, 2.3, 3.3, 4.7, 7.5, 9.9, 11.6, 12.2, 10.9, 8.2, 5.2, 2.4],
    windMPerS: [3.9, 3.8, 3.9, 3.7, 3.6, 3.5, 3.4, 3.2, 3.2, 3.4, 3.8, 4.0],
    solarMjPerM2: [3.6, 6.2, 10.4, 14.8, 19.0, 20.7, 22.2, 18.7, 13.3, 7.6, 4.3, 3.0],
    rainMm: [146, 96, 107, 80, 49, 37, 15, 25, 42, 99, 160, 146],
    wetDays: [18, 15, 17, 15, 11, 9, 5, 5, 8, 14, 18, 18],
    stormShare: [0, 0, 0.05, 0.05, 0.1, 0.15, 0.2, 0.2, 0.1, 0.05, 0, 0],
    daySdC: [3.0, 2.7, 2.3, 2.4, 2.7, 2.6, 2.6, 2.4, 2.4, 2.3, 2.7, 3.1],
    source:
      'Seattle-Tacoma 1991-2020 type normals, from memory; temperatures and rain checked in the tests against the daily ' +
      'NOAA record 2012-2015 in vega-datasets. Radiation and dew point from memory; spread: judgement.',
  },
  continental: {
    id: 'continental',
    name: 'Continental with hard frost, 42 N',
    latitude: 41.98,
    longitude: -87.9,
    elevationM: 200,
    timeZone: 'America/Chicago',
    meanC: continental42.mean,
    rangeC: continental42.range,
    dewC: [-8.0, -6.4, -2.0, 3.2, 9.5, 15.0, 17.8, 17.4, 13.2, 6.2, 0.4, -5.0],
    windMPerS: [4.9, 4.9, 5.0, 5.0, 4.5, 4.0, 3.6, 3.5, 3.8, 4.3, 4.8, 4.8],
    solarMjPerM2: [6.5, 9.3, 12.6, 16.3, 19.7, 21.9, 21.4, 18.8, 15.1, 10.6, 6.9, 5.5],
    rainMm: [51, 50, 63, 95, 114, 104, 95, 108, 81, 87, 63, 53],
    wetDays: [11, 9, 11, 12, 12, 11, 10, 9, 8, 10, 10, 11],
    stormShare: [0, 0.05, 0.1, 0.2, 0.45, 0.65, 0.7, 0.7, 0.5, 0.2, 0.05, 0],
    daySdC: [5.6, 5.2, 5.0, 4.5, 4.2, 3.4, 2.8, 2.7, 3.6, 4.2, 4.6, 5.2],
    source: "Chicago O'Hare 1991-2020 type normals, from memory. Day-to-day spread and storm share: judgement.",
  },
} as const satisfies Record<string, ClimateNormals>;

export type ClimateId = keyof typeof CLIMATES;
export const CLIMATE_IDS = Object.keys(CLIMATES) as ClimateId[];

import type { Write } from '../../src/domain/change-set.js';
import { DAY_MS, HOUR_MS } from '../../src/domain/local-day.js';
import type { Reading } from '../../src/domain/reading.js';
import type { Account, Assignment, Container, Person, SensorNode, Site } from '../../src/domain/registry.js';
import type { SiteAccess } from '../../src/domain/site-access.js';
import type { WeatherDay } from '../../src/domain/weather.js';

/**
 * A small invented firm for the browser tests: three accounts, four sites, nine pots with three weeks of readings, drawn
 * by plain arithmetic so that each pot has one story. 06:41 in Madrid on the last day of August.
 */
export const NOW_MS = Date.parse('2026-08-31T04:41:00Z');
const HISTORY_DAYS = 21;
const STEP_MS = HOUR_MS / 2;
const INTERVAL_S = STEP_MS / 1000;
const OVERFLOW_MM = 120;
const CAPACITY_LITRES = 24;
const LITRES_PER_MM = CAPACITY_LITRES / OVERFLOW_MM;
const WICK_FOOT_MM = 10;
const FIRST_DAY = '2026-03-01';

interface Story {
  readonly id: string;
  readonly siteId: string;
  readonly name: string;
  readonly place: string;
  /** Litres that the plants draw on a day, mostly by daylight. */
  readonly litresPerDay: number;
  /** Litres a day lost day and night. */
  readonly leakLitresPerDay: number;
  /** Days before now at which it was filled to the brim, oldest first. */
  readonly filledDaysAgo: readonly number[];
  /** Hours before now at which its node fell silent. */
  readonly silentHours: number;
}

const STORIES: readonly Story[] = [
  story('C1', 'S1', 'Olive by the stairs', 'left of the lower step', 2.2, [20.4, 10.2]),
  story('C2', 'S1', 'Long trough', 'along the south rail', 1.6, [20.3, 10.3]),
  story('C3', 'S1', 'Agave bowl', 'on the low wall', 0.4, [20.3]),
  { ...story('C4', 'S2', 'Lemon tree', 'at the lift head', 1.4, [20.2, 12.2, 6.2]), leakLitresPerDay: 1.8 },
  story('C5', 'S2', 'Grasses, north', 'north parapet', 1.2, [20.2, 6.2]),
  { ...story('C6', 'S3', 'Bay tree, left', 'left of the entrance', 1.5, [20.1, 8.1]), silentHours: 40 },
  story('C7', 'S3', 'Bay tree, right', 'right of the entrance', 1.5, [20.1, 3.1]),
  story('C8', 'S4', 'Herb trough', 'by the kitchen door', 1.9, [20.0, 11.4]),
  story('C9', 'S4', 'Oleander', 'behind the pump house', 1.1, [20.0, 5.3]),
];

function story(
  id: string,
  siteId: string,
  name: string,
  place: string,
  litresPerDay: number,
  filledDaysAgo: readonly number[],
): Story {
  return { id, siteId, name, place, litresPerDay, leakLitresPerDay: 0, filledDaysAgo, silentHours: 0 };
}

export const ACCOUNTS: readonly Account[] = [
  { id: 'A1', name: 'Larkspur House', dryRisk: 0.05 },
  { id: 'A2', name: 'Quay Hotel', dryRisk: 0.05 },
  { id: 'A3', name: 'Heron Lofts', dryRisk: 0.05 },
];

export const SITES: readonly Site[] = [
  site('S1', 'A1', 'Larkspur terrace', true, 41.23, 1.98),
  site('S2', 'A3', 'Heron roof', false, 41.24, 1.95),
  site('S3', 'A2', 'Quay entrance', true, 41.22, 1.99),
  site('S4', 'A2', 'Quay pool deck', true, 41.221, 1.991),
];

const ACCESS: readonly SiteAccess[] = [
  { siteId: 'S1', notes: 'Ring at the side gate; the dog is friendly.', contacts: [] },
  { siteId: 'S2', notes: 'Goods lift to level 5, then the stairs on the left.', contacts: [] },
  { siteId: 'S4', notes: 'Before 10:00 only: guests.', contacts: [] },
];

function site(id: string, accountId: string, name: string, tap: boolean, latitude: number, longitude: number): Site {
  return { id, accountId, name, latitude, longitude, elevationM: 6, timeZone: 'Europe/Madrid', tap };
}

export const CONTAINERS: readonly Container[] = STORIES.map((pot) => ({
  id: pot.id,
  siteId: pot.siteId,
  name: pot.name,
  place: pot.place,
  covered: true,
  installedOn: FIRST_DAY,
  removedOn: null,
  reservoir: {
    strapping: [
      [0, 0],
      [30, 30 * LITRES_PER_MM],
      [60, 60 * LITRES_PER_MM],
      [90, 90 * LITRES_PER_MM],
      [OVERFLOW_MM, CAPACITY_LITRES],
      [140, 140 * LITRES_PER_MM],
    ],
    overflowMm: OVERFLOW_MM,
    wickFootMm: WICK_FOOT_MM,
  },
  soil: { litres: 50, surfaceM2: 0.25 },
  potKg: 28,
  plants: [{ name: 'Olive with thyme', demandClass: 'moderate', plantedOn: FIRST_DAY }],
}));

export const NODES: readonly SensorNode[] = STORIES.map((pot) => ({
  id: nodeOf(pot.id),
  gatewayId: null,
  promisedIntervalS: INTERVAL_S,
}));

export const ASSIGNMENTS: readonly Assignment[] = STORIES.map((pot) => ({
  id: `AS-${pot.id}`,
  nodeId: nodeOf(pot.id),
  containerId: pot.id,
  fromMs: NOW_MS - (HISTORY_DAYS + 1) * DAY_MS,
  toMs: null,
  zeroMm: 0,
}));

export function nodeOf(containerId: string): string {
  return containerId.replace('C', 'N');
}

const UNITS = { volume: 'L', length: 'mm', temperature: 'Cel' } as const;

/** Everybody signs in with the test password under the name of the role. */
export const PEOPLE: readonly Person[] = [
  person('dispatcher', 'Nil Costa'),
  person('technician', 'Ana Ferrer'),
  { ...person('technician', 'Jordi Puig'), id: 'technician2', login: 'technician2' },
  person('owner', 'Tere Mas'),
  person('installer', 'Iker Sola'),
  { ...person('client', 'Larkspur House'), accountId: 'A1' },
];

function person(role: Person['role'], name: string): Person {
  return { id: role, name, login: role, role, accountId: null, language: 'en', units: UNITS, disabledAtMs: null };
}

/** Level of a pot by its story, mm, with half a millimetre of sensor noise that repeats from run to run. */
export function levelMmOf(containerId: string, timeMs: number): number {
  const pot = STORIES.find((one) => one.id === containerId);
  if (pot === undefined) throw new Error(`no pot ${containerId} in the garden`);
  return levelMmAt(pot, timeMs);
}

function levelMmAt(pot: Story, timeMs: number): number {
  const filledMs = pot.filledDaysAgo.map((days) => NOW_MS - days * DAY_MS).filter((ms) => ms <= timeMs);
  const sinceMs = filledMs[filledMs.length - 1] ?? NOW_MS - (HISTORY_DAYS + 1) * DAY_MS;
  const usedLitres =
    pot.litresPerDay * (dayShare(timeMs) - dayShare(sinceMs)) + (pot.leakLitresPerDay * (timeMs - sinceMs)) / DAY_MS;
  const levelMm = Math.max(WICK_FOOT_MM - 4, OVERFLOW_MM - 2 - usedLitres / LITRES_PER_MM);
  const noise = Math.sin(timeMs / 7_000_001 + pot.id.charCodeAt(1)) * 0.4;
  return Math.round((levelMm + noise) * 10) / 10;
}

/** Days of drawing up to an instant: nine parts in ten between six and twenty o'clock UTC. */
function dayShare(timeMs: number): number {
  const days = Math.floor(timeMs / DAY_MS);
  const hour = (timeMs - days * DAY_MS) / HOUR_MS;
  const light = Math.min(1, Math.max(0, (hour - 6) / 14));
  return days + 0.9 * light + 0.1 * (hour / 24);
}

function readingsOf(pot: Story): readonly Reading[] {
  const endMs = NOW_MS - pot.silentHours * HOUR_MS;
  const rows: Reading[] = [];
  for (let timeMs = NOW_MS - HISTORY_DAYS * DAY_MS; timeMs <= endMs; timeMs += STEP_MS) {
    const hour = (timeMs % DAY_MS) / HOUR_MS;
    rows.push({
      nodeId: nodeOf(pot.id),
      timeMs,
      receivedMs: timeMs + 2_000,
      levelMm: levelMmAt(pot, timeMs),
      moistureFraction: 0.31 + 0.01 * Math.sin(hour),
      temperatureC: 23 + 5 * Math.sin(((hour - 9) / 24) * 2 * Math.PI),
      batteryV: 3.2 - (HISTORY_DAYS - (NOW_MS - timeMs) / DAY_MS) * 0.002,
      batteryFraction: null,
      signalDbm: -81,
    });
  }
  return rows;
}

function weatherOf(siteId: string): readonly WeatherDay[] {
  const day = (ms: number): string => new Date(ms).toISOString().slice(0, 10);
  const of = (ms: number, issuedMs: number | null): WeatherDay => ({
    siteId,
    day: day(ms),
    tminC: 19,
    tmaxC: 29,
    humidityFraction: 0.6,
    windMPerS: 2.2,
    solarMjPerM2: 21,
    rainMm: 0,
    et0Mm: 4.8,
    rainProbability: issuedMs === null ? null : 0.1,
    issuedMs,
  });
  const past = Array.from({ length: HISTORY_DAYS }, (_, i) => of(NOW_MS - (HISTORY_DAYS - i) * DAY_MS, null));
  const ahead = Array.from({ length: 7 }, (_, i) => of(NOW_MS + i * DAY_MS, NOW_MS - HOUR_MS));
  return [...past, ...ahead];
}

/** All of it as writes, in the order in which rows refer to one another. */
export function gardenWrites(): readonly Write[] {
  return [
    ...ACCOUNTS.map((row): Write => ({ kind: 'account', row })),
    ...SITES.map((row): Write => ({ kind: 'site', row })),
    ...ACCESS.map((row): Write => ({ kind: 'site_access', row })),
    ...CONTAINERS.map((row): Write => ({ kind: 'container', row })),
    ...NODES.map((row): Write => ({ kind: 'node', row })),
    ...ASSIGNMENTS.map((row): Write => ({ kind: 'assignment', row })),
    ...SITES.map((one): Write => ({ kind: 'weather_days', rows: weatherOf(one.id) })),
    ...STORIES.map((pot): Write => ({ kind: 'readings', rows: readingsOf(pot) })),
  ];
}

import type { StormReading } from '../support/storm-client.js';

/** Nodes without a pot, which publish as fast as they are acknowledged. */
export const STORM_NODES = 20;
/** Nodes in pots: their water is analysed, rolled up and posted to the ledger while all this goes on. */
export const POTS = 4;

/** Where people work: it has no node, so that what they record changes nothing that is derived from readings. */
export const POT_OF_PEOPLE = 'pot-of-people';

export const SITE_ID = 'S1';
export const TECHNICIAN_ID = 'tomas';

export const stormNodeId = (index: number): string => `storm-${index}`;
export const potId = (index: number): string => `pot-${index}`;
export const potNodeId = (index: number): string => `in-pot-${index}`;

const INSTALLED_ON = '2026-01-01';
const READINGS_FROM_MS = Date.UTC(2026, 0, 2);
const INTERVAL_MS = 15 * 60_000;
const OVERFLOW_MM = 200;
const DAYS_TO_DRY = 9;

/** A small fleet in the form of the fleet file. */
export function tortureFleet(): string {
  return JSON.stringify({
    accounts: [{ id: 'A1', name: 'Torture' }],
    sites: [
      {
        id: SITE_ID,
        accountId: 'A1',
        name: 'Test bench',
        latitude: 41,
        longitude: 2,
        elevationM: 5,
        timeZone: 'Europe/Madrid',
        tap: true,
      },
    ],
    containers: Array.from({ length: POTS + 1 }, (_unused, index) => ({
      id: index === POTS ? POT_OF_PEOPLE : potId(index),
      siteId: SITE_ID,
      name: `Pot ${index}`,
      covered: true,
      installedOn: INSTALLED_ON,
      reservoir: {
        strapping: [
          [0, 0],
          [OVERFLOW_MM, 30 + index],
        ],
        overflowMm: OVERFLOW_MM,
        wickFootMm: 10,
      },
      soil: { litres: 55, surfaceM2: 0.28 },
      ...(index === POTS ? {} : { nodeId: potNodeId(index) }),
    })),
    nodes: Array.from({ length: STORM_NODES }, (_unused, index) => ({ id: stormNodeId(index) })),
    people: [{ id: TECHNICIAN_ID, name: 'Tomás', login: TECHNICIAN_ID, role: 'technician' }],
  });
}

/** What the node in a pot measures: it draws down by day, and is filled to the port when it is nearly empty. */
export function potReading(nodeId: string, number: number): StormReading {
  const timeMs = READINGS_FROM_MS + number * INTERVAL_MS;
  const days = (number * INTERVAL_MS) / 86_400_000;
  const withinDay = (1 - Math.cos(2 * Math.PI * (days % 1))) / 2;
  const sinceFill = (Math.floor(days) + withinDay) % DAYS_TO_DRY;
  const noise = (((number * 7_919) % 13) - 6) / 12;
  const levelMm = Math.round((OVERFLOW_MM - 5 - (sinceFill / DAYS_TO_DRY) * (OVERFLOW_MM - 20) + noise) * 10) / 10;
  return { nodeId, timeMs, levelMm };
}

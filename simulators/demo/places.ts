import type { Exposure } from '../pot/planting.js';

/*
 * The firm of the demo and its clients. All names are made up; the coordinates are scattered around a point of the
 * coast near 41 N and mean no real address.
 */

export const FIRM = 'Tern & Tide Container Gardens';
export const TOWN = { latitude: 41.212, longitude: 1.708 } as const;

export interface DemoSite {
  readonly name: string;
  readonly pots: number;
  readonly exposures: readonly Exposure['name'][];
  /** Share of the pots that stand under a roof, from the first on. */
  readonly coveredShare: number;
  readonly tap: boolean;
}

export interface DemoAccount {
  readonly name: string;
  readonly sites: readonly DemoSite[];
}

const site = (
  name: string,
  pots: number,
  exposures: readonly Exposure['name'][],
  coveredShare: number,
  tap = true,
): DemoSite => ({ name, pots, exposures, coveredShare, tap });

export const DEMO_ACCOUNTS: readonly DemoAccount[] = [
  {
    name: 'Marram Terrace Hotel',
    sites: [
      site('Marram Terrace, pool deck', 8, ['pool deck'], 0),
      site('Marram Terrace, roof bar', 6, ['roof'], 0, false),
      site('Marram Terrace, entrance', 4, ['porch'], 1),
      site('Marram Terrace, dining terrace', 6, ['afternoon sun', 'open'], 0.5),
    ],
  },
  {
    name: 'The Lantern Rooms',
    sites: [
      site('Lantern Rooms, courtyard', 4, ['dappled', 'morning sun'], 0.25),
      site('Lantern Rooms, front steps', 3, ['afternoon sun', 'open'], 0),
    ],
  },
  {
    name: 'Ortolan Court',
    sites: [
      site('Ortolan Court, roof A', 5, ['roof'], 0, false),
      site('Ortolan Court, roof B', 5, ['roof', 'open'], 0, false),
      site('Ortolan Court, garden', 2, ['open'], 0),
      site('Ortolan Court, gatehouse', 2, ['porch', 'morning sun'], 1),
    ],
  },
  {
    name: 'Quillfeather Offices',
    sites: [
      site('Quillfeather, lobby porch', 3, ['porch'], 1),
      site('Quillfeather, roof garden', 6, ['roof', 'open'], 0.3),
    ],
  },
  {
    name: 'Pebble & Vine',
    sites: [
      site('Pebble & Vine, terrace', 5, ['afternoon sun', 'dappled'], 0.6),
      site('Pebble & Vine, quay kiosk', 2, ['open'], 0, false),
    ],
  },
  { name: 'Saltmarsh Dental', sites: [site('Saltmarsh Dental, entrance', 3, ['morning sun', 'porch'], 0.6)] },
  {
    name: 'Bluebarrow Bakery',
    sites: [
      site('Bluebarrow, shop front', 3, ['afternoon sun'], 0.6),
      site('Bluebarrow, Mill Lane', 2, ['morning sun'], 0.5, false),
    ],
  },
  {
    name: 'Gannet Quay Marina',
    sites: [
      site('Gannet Quay, harbour office', 3, ['open', 'morning sun'], 0.3),
      site('Gannet Quay, clubhouse deck', 4, ['open', 'pool deck'], 0),
      site('Gannet Quay, boatyard', 2, ['afternoon sun'], 0.5),
      site('Gannet Quay, fuel dock', 2, ['open'], 0, false),
    ],
  },
  {
    name: 'Thistledown School',
    sites: [site('Thistledown, yard', 4, ['dappled', 'open'], 0.25), site('Thistledown, annexe', 2, ['porch'], 1)],
  },
  {
    name: 'Villa Sorrel',
    sites: [
      site('Villa Sorrel, garden', 5, ['open', 'dappled'], 0),
      site('Villa Sorrel, pool house', 3, ['pool deck', 'porch'], 0.3),
    ],
  },
  { name: 'Villa Tamarix', sites: [site('Villa Tamarix, patio', 4, ['afternoon sun', 'open'], 0.5)] },
  {
    name: 'Cinder Lane Studios',
    sites: [
      site('Cinder Lane, courtyard', 4, ['dappled', 'morning sun'], 0.5),
      site('Cinder Lane, roof', 3, ['roof'], 0, false),
    ],
  },
  {
    name: 'Heron Court Clinic',
    sites: [
      site('Heron Court, main entrance', 3, ['porch'], 1),
      site('Heron Court, patients’ terrace', 4, ['afternoon sun', 'dappled'], 0.5),
    ],
  },
  {
    name: 'Old Customs House',
    sites: [
      site('Customs House, forecourt', 5, ['open', 'afternoon sun'], 0),
      site('Customs House, café', 3, ['porch', 'dappled'], 0.6),
    ],
  },
];

export const DEMO_PEOPLE = [
  { id: 'P1', name: 'Odile Marchetti', login: 'owner', role: 'owner', accountId: null, language: 'en' },
  { id: 'P2', name: 'Bastian Okoro', login: 'dispatcher', role: 'dispatcher', accountId: null, language: 'en' },
  { id: 'P3', name: 'Ines Valdrada', login: 'ines', role: 'technician', accountId: null, language: 'en' },
  { id: 'P4', name: 'Tomasz Birch', login: 'tomasz', role: 'technician', accountId: null, language: 'en' },
  { id: 'P5', name: 'Noor Santangelo', login: 'noor', role: 'technician', accountId: null, language: 'en' },
  { id: 'P6', name: 'Pim Aldous', login: 'installer', role: 'installer', accountId: null, language: 'en' },
  { id: 'P7', name: 'Greta Lindqvar', login: 'client', role: 'client', accountId: 'A01', language: 'en' },
] as const;

export const DEMO_DEPOTS = [{ id: 'D1', name: 'Tern & Tide yard', latitude: 41.2231, longitude: 1.6914 }] as const;

export const DEMO_TRUCKS = [
  { id: 'T1', name: 'Truck 1', tankLitres: 600, depotId: 'D1' },
  { id: 'T2', name: 'Truck 2', tankLitres: 350, depotId: 'D1' },
] as const;

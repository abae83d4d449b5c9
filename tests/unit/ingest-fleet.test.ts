import { describe, expect, it } from 'vitest';
import { importFleet } from '../../src/app/readings/import-fleet.js';
import { WHOLE_FLEET } from '../../src/domain/access.js';
import { DomainError, type InputFault } from '../../src/domain/errors.js';
import { openFleetStore, smallFleet, type TestApp } from '../support/ingest-fixtures.js';

const load = (app: TestApp, fleet: unknown) =>
  importFleet(app, 'fleet.json', Buffer.from(typeof fleet === 'string' ? fleet : JSON.stringify(fleet)));

async function faultsOf(app: TestApp, fleet: unknown): Promise<readonly InputFault[]> {
  const seq = await app.store.changes.lastSeq();
  try {
    await load(app, fleet);
  } catch (error) {
    if (!(error instanceof DomainError) || error.code !== 'fleet_invalid') throw error;
    expect(await app.store.changes.lastSeq()).toBe(seq);
    expect(error.message).toMatch(/^fleet\.json has (1 fault|\d+ faults); nothing was imported/);
    return error.faults;
  }
  return [];
}

/** The small fleet with one thing changed: `containers/0/reservoir/overflowMm` to a value, or `undefined` to take it out. */
function changed(path: string, value: unknown): object {
  const fleet: Record<string, unknown> = structuredClone(smallFleet());
  const keys = path.split('/');
  const last = keys.pop() ?? '';
  let target = fleet;
  for (const key of keys) target = target[key] as Record<string, unknown>;
  if (value === undefined) delete target[last];
  else target[last] = value;
  return fleet;
}

const assignmentsOf = async (app: TestApp) =>
  [...(await app.store.registry.assignments(WHOLE_FLEET))].sort((a, b) => a.id.localeCompare(b.id));

describe('importing a fleet', () => {
  it('takes the short form as an assignment from the installation day on, in the site’s zone', async () => {
    const app = await openFleetStore();
    expect(await assignmentsOf(app)).toEqual([
      { id: 'C1-N1', nodeId: 'N1', containerId: 'C1', fromMs: Date.UTC(2026, 1, 28, 23), toMs: null, zeroMm: 0 },
    ]);
    expect(await app.store.registry.node('N1')).toEqual({ id: 'N1', gatewayId: null, promisedIntervalS: null });
  });

  it('changes nothing when the same file comes again', async () => {
    const app = await openFleetStore();
    const seq = await app.store.changes.lastSeq();
    await load(app, smallFleet());
    expect(await app.store.changes.lastSeq()).toBe(seq);
  });

  it('ends the short form where another node comes to the container, or its node goes elsewhere', async () => {
    const from = '2026-06-01T10:00:00Z';
    const replaced = await openFleetStore({
      ...smallFleet(),
      assignments: [{ nodeId: 'N2', containerId: 'C1', from }],
    });
    expect(await assignmentsOf(replaced)).toMatchObject([
      { id: 'C1-N1', toMs: Date.parse(from) },
      { id: 'C1-N2-20260601T100000Z', fromMs: Date.parse(from), toMs: null },
    ]);
    const moved = await openFleetStore({ ...smallFleet(), assignments: [{ nodeId: 'N1', containerId: 'C2', from }] });
    expect(await assignmentsOf(moved)).toMatchObject([
      { containerId: 'C1', toMs: Date.parse(from) },
      { containerId: 'C2', fromMs: Date.parse(from) },
    ]);
  });

  it('makes nodes and gateways that are only mentioned', async () => {
    const fleet = {
      ...smallFleet(),
      gateways: [{ id: 'G1', siteId: 'S1', nodeIds: ['N1', 'N5'] }],
      assignments: [{ nodeId: 'N2', containerId: 'C2', from: '2026-06-01T10:00:00Z', gatewayId: 'G2', zeroMm: 12 }],
      nodes: [{ id: 'N6', promisedIntervalS: 900 }],
    };
    const app = await openFleetStore(fleet);
    expect((await app.store.registry.gateways(WHOLE_FLEET)).map((row) => [row.id, row.siteId])).toEqual([
      ['G1', 'S1'],
      ['G2', 'S1'],
    ]);
    expect(await app.store.registry.node('N1')).toMatchObject({ gatewayId: 'G1' });
    expect(await app.store.registry.node('N2')).toMatchObject({ gatewayId: 'G2' });
    expect(await app.store.registry.node('N5')).toMatchObject({ gatewayId: 'G1' });
    expect(await app.store.registry.node('N6')).toMatchObject({ promisedIntervalS: 900 });
  });

  it('takes depots, trucks, people and plants where they are there', async () => {
    const app = await openFleetStore({
      ...smallFleet(),
      depots: [{ id: 'D1', name: 'Yard', latitude: 41, longitude: 2 }],
      trucks: [{ id: 'T1', name: 'White van', tankLitres: 600, depotId: 'D1' }],
      people: [{ id: 'mia', name: 'Mia', role: 'technician' }],
      plants: [{ containerId: 'C1', name: 'Olive', demandClass: 'low' }],
    });
    expect(await app.store.registry.trucks()).toMatchObject([{ id: 'T1', depotId: 'D1' }]);
    expect(await app.store.people.people()).toMatchObject([{ id: 'mia', login: 'mia', role: 'technician' }]);
    expect((await app.store.registry.container(WHOLE_FLEET, 'C1'))?.plants).toEqual([
      { name: 'Olive', demandClass: 'low', plantedOn: null },
    ]);
  });

  it('keeps what the store knows of a node where the file is silent', async () => {
    const app = await openFleetStore();
    await app.store.commit({
      atMs: 0,
      actor: { kind: 'stage', id: 'test' },
      writes: [{ kind: 'node', row: { id: 'N1', gatewayId: null, promisedIntervalS: 300 } }],
      cursor: null,
    });
    await load(app, smallFleet());
    expect((await app.store.registry.node('N1'))?.promisedIntervalS).toBe(300);
  });

  it('notes what it passed over or assumed', async () => {
    const app = await openFleetStore();
    const { notes } = await load(app, {
      ...changed('sites/0/elevationM', undefined),
      colours: [],
      containers: [{ ...smallFleet().containers?.[0], colour: 'blue' }],
    });
    for (const pointer of ['/colours', '/sites/0/elevationM', '/containers/0/colour']) {
      expect(notes.filter((note) => note.startsWith(pointer))).toHaveLength(1);
    }
  });
});

describe('a faulty fleet', () => {
  it('is refused with all its faults at once, each by its pointer, and nothing is written', async () => {
    const app = await openFleetStore();
    const container = smallFleet().containers?.[0] ?? {};
    const faults = await faultsOf(app, {
      accounts: [{ id: 'A1' }, { id: 'A1' }, { id: 'A 2', name: 'x' }],
      sites: [{ ...smallFleet().sites?.[0], accountId: 'A9', latitude: 91, timeZone: 'Mars/Olympus' }],
      containers: [
        {
          ...container,
          reservoir: {
            strapping: [
              [0, 0],
              [120, 9],
              [60, 12],
            ],
            overflowMm: 120,
            wickFootMm: 8,
          },
        },
        { ...container, id: 'C7', siteId: 'S9' },
        'C8',
      ],
      assignments: [{ nodeId: 'N1', containerId: 'C9', from: '2026-06-01', to: null }],
    });
    const told = new Map(faults.map(({ pointer, detail }) => [pointer, detail]));
    expect(told.get('/accounts/1/id')).toContain('stands twice');
    expect(told.get('/accounts/2/id')).toContain('"A 2"');
    expect(told.get('/sites/0/latitude')).toContain('91');
    expect(told.get('/sites/0/timeZone')).toContain('Mars/Olympus');
    expect(told.get('/containers/0/reservoir/strapping')).toBe('levels must increase: 60 follows 120');
    expect(told.get('/containers/1/siteId')).toContain('S9');
    expect(told.get('/containers/2')).toContain('"C8"');
    expect(told.get('/assignments/0/from')).toContain('2026-06-01T10:00:00Z');
    // The site's own references are judged although other fields of it are faulty.
    expect(faults.length).toBeGreaterThanOrEqual(8);
  });

  it.each([
    ['accounts', {}],
    ['accounts/0/id', ''],
    ['accounts/0/id', 'x'.repeat(65)],
    ['accounts/0/id', 7],
    ['accounts/0/name', 'x'.repeat(1000)],
    ['sites/0/accountId', 'A9'],
    ['sites/0/latitude', '41.2'],
    ['sites/0/latitude', undefined],
    ['sites/0/longitude', 181],
    ['sites/0/timeZone', '+02:00'],
    ['sites/0/timeZone', ''],
    ['sites/0/tap', 'yes'],
    ['containers/0/installedOn', '2026-02-30'],
    ['containers/0/installedOn', undefined],
    ['containers/0/reservoir', null],
    ['containers/0/reservoir/strapping', [[0, 0]]],
    ['containers/0/reservoir/strapping/1', [60]],
    ['containers/0/reservoir/strapping/1/1', null],
    ['containers/0/reservoir/overflowMm', -1],
    ['containers/0/reservoir/wickFootMm', 120],
    ['containers/0/soil/litres', 0],
    ['containers/0/potKg', 'heavy'],
    ['containers/0/covered', 1],
    ['containers/0/nodeId', 'N 1'],
    ['containers/1/id', 'C1'],
  ])('%s = %j is one fault, at that place', async (path, value) => {
    const app = await openFleetStore();
    const faults = await faultsOf(app, changed(path, value));
    expect(faults.map((fault) => fault.pointer)).toContain(`/${path}`);
    expect(faults.every((fault) => fault.detail.length > 8)).toBe(true);
  });

  it('names litres that do not increase', async () => {
    const app = await openFleetStore();
    const faults = await faultsOf(
      app,
      changed('containers/0/reservoir/strapping', [
        [0, 0],
        [60, 9],
        [70, 9],
      ]),
    );
    expect(faults).toEqual([
      { pointer: '/containers/0/reservoir/strapping', detail: 'litres must increase: 9 follows 9' },
    ]);
  });

  it('may not put a node on two containers at once, in the file or beside what the store has', async () => {
    const app = await openFleetStore();
    const assignment = { nodeId: 'N4', containerId: 'C1', from: '2026-06-01T00:00:00Z' };
    const other = { ...assignment, containerId: 'C2', from: '2026-07-01T00:00:00Z' };
    expect(await faultsOf(app, { assignments: [assignment, other] })).toMatchObject([{ pointer: '/assignments/1' }]);
    expect(await faultsOf(app, { assignments: [{ ...assignment, to: other.from }, other] })).toEqual([]);
    const third = { ...assignment, containerId: 'C2', from: '2026-08-01T00:00:00Z', id: 'third' };
    expect(await faultsOf(app, { assignments: [third] })).toMatchObject([{ pointer: '/assignments/0' }]);
  });

  it('may not end an assignment before it begins', async () => {
    const app = await openFleetStore();
    const assignment = { nodeId: 'N4', containerId: 'C1', from: '2026-06-01T00:00:00Z', to: '2026-05-01T00:00:00Z' };
    expect(await faultsOf(app, { assignments: [assignment] })).toMatchObject([{ pointer: '/assignments/0/to' }]);
  });

  it('may not give two people one login, nor a client no account', async () => {
    const app = await openFleetStore();
    const people = [
      { id: 'a', name: 'A', login: 'same', role: 'owner' },
      { id: 'b', name: 'B', login: 'Same', role: 'client' },
    ];
    expect((await faultsOf(app, { people })).map((fault) => fault.pointer)).toEqual([
      '/people/1/login',
      '/people/1/accountId',
    ]);
  });

  it.each([
    ['no JSON', '{"accounts":['],
    ['invalid UTF-8', Buffer.from([0x7b, 0xc3, 0x28, 0x7d])],
    ['an empty file', ''],
  ])('that is %s is told so', async (_what, text) => {
    const app = await openFleetStore();
    await expect(importFleet(app, 'fleet.json', Buffer.from(text))).rejects.toMatchObject({ code: 'file_unreadable' });
  });

  it('that is an array is told what was expected', async () => {
    const app = await openFleetStore();
    expect(await faultsOf(app, [])).toMatchObject([{ pointer: '' }]);
  });
});

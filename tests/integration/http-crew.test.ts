import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { AbsenceJson, CrewJson, SiteTermsJson } from '../../src/http/schemas/index.js';
import { startTestServer, type TestClient, TestClock, type TestServer } from '../support/server.js';
import { twoAccountsWrites } from '../support/two-accounts.js';

const NOW_MS = Date.UTC(2026, 5, 5, 8);

let server: TestServer;
let dispatcher: TestClient;

beforeAll(async () => {
  server = await startTestServer({ seed: twoAccountsWrites(), clock: new TestClock(NOW_MS) });
  dispatcher = await server.login('dispatcher');
  await server.addPerson('technician', { id: 'ana', name: 'Ana' });
});

afterAll(() => server.close());

const crewNow = async (): Promise<CrewJson> => (await dispatcher.get('/api/v1/crew')).body as CrewJson;

describe('the crew', () => {
  it('works the usual week until somebody says otherwise, and then as it was said', async () => {
    const before = (await crewNow()).people.find((one) => one.personId === 'ana');
    expect(before?.terms.shifts.map((shift) => shift.weekday)).toEqual([1, 2, 3, 4, 5]);
    expect(
      (await dispatcher.post('/api/v1/trucks', { id: 'T1', name: 'Blue', tankLitres: 800, depotId: null })).status,
    ).toBe(201);
    const terms = {
      shifts: [{ weekday: 6, fromMinute: 360, toMinute: 720 }],
      pause: null,
      overtimeMinutes: 30,
      truckId: 'T1',
      home: { latitude: 41.2, longitude: 2.1 },
      skills: ['roof ladder', 'key 14'],
    };
    expect((await dispatcher.put('/api/v1/crew/ana', terms)).body).toEqual({ personId: 'ana', ...terms });
    const after = await crewNow();
    expect(after.people.find((one) => one.personId === 'ana')?.terms).toEqual({ personId: 'ana', ...terms });
    expect(after.trucks).toEqual([{ id: 'T1', name: 'Blue', tankLitres: 800, depotId: null }]);
  });

  it('is told what cannot be, field by field', async () => {
    const answer = await dispatcher.put('/api/v1/crew/ana', {
      shifts: [
        { weekday: 1, fromMinute: 700, toMinute: 600 },
        { weekday: 1, fromMinute: 420, toMinute: 960 },
      ],
      pause: null,
      overtimeMinutes: 0,
      truckId: 'none',
      home: null,
      skills: [],
    });
    expect(answer.status).toBe(400);
    expect((answer.body as { faults: readonly { pointer: string }[] }).faults.map((fault) => fault.pointer)).toEqual([
      '/shifts/0/toMinute',
      '/shifts/1/weekday',
      '/truckId',
    ]);
    expect(
      (
        await dispatcher.put('/api/v1/crew/dispatcher', {
          shifts: [],
          pause: null,
          overtimeMinutes: 0,
          truckId: null,
          home: null,
          skills: [],
        })
      ).status,
    ).toBe(404);
  });

  it('shows who is away from today on, and an absence that was taken back no longer', async () => {
    const enter = async (body: object): Promise<AbsenceJson> =>
      (await dispatcher.post('/api/v1/absences', body)).body as AbsenceJson;
    await enter({ personId: 'ana', fromDay: '2026-05-01', toDay: '2026-05-08' });
    const sick = await enter({ personId: 'ana', fromDay: '2026-06-05', toDay: '2026-06-06', reason: 'Ill' });
    const holiday = await enter({ fromDay: '2026-06-24', toDay: '2026-06-24', reason: 'Midsummer' });
    expect((await crewNow()).absences).toEqual([sick, holiday]);
    expect((await dispatcher.delete(`/api/v1/absences/${sick.id}`)).status).toBe(204);
    expect((await dispatcher.delete(`/api/v1/absences/${sick.id}`)).status).toBe(404);
    expect((await crewNow()).absences).toEqual([holiday]);
    expect((await dispatcher.post('/api/v1/absences', { fromDay: '2026-06-09', toDay: '2026-06-08' })).status).toBe(
      400,
    );
    const log = await server.store.changes.after(0, 1_000);
    expect(log.filter((change) => change.kind === 'absence' && change.key === sick.id)).toMatchObject([
      { actor: { kind: 'person', id: dispatcher.person.id } },
      { actor: { kind: 'person', id: dispatcher.person.id } },
    ]);
  });
});

describe('the terms of a site', () => {
  it('let anybody come at any time until they are set, and are kept as they were set', async () => {
    expect((await dispatcher.get('/api/v1/sites/S1/terms')).body).toMatchObject({ hours: [], visitEveryDays: null });
    const terms: Omit<SiteTermsJson, 'siteId'> = {
      hours: [
        { weekday: 1, fromMinute: 420, toMinute: 600 },
        { weekday: 1, fromMinute: 900, toMinute: 1_080 },
      ],
      closed: [{ fromDay: '2026-08-01', toDay: '2026-08-15' }],
      wateringWeekdays: [1, 4],
      skills: ['key 14'],
      forbiddenPeople: ['ana'],
      visitEveryDays: 10,
      replantOn: ['02-29', '10-20'],
    };
    expect((await dispatcher.put('/api/v1/sites/S1/terms', terms)).status).toBe(200);
    expect((await dispatcher.get('/api/v1/sites/S1/terms')).body).toEqual({ siteId: 'S1', ...terms });
    const bad = await dispatcher.put('/api/v1/sites/S1/terms', { ...terms, forbiddenPeople: ['nobody'] });
    expect(bad.status).toBe(400);
    const noDay = await dispatcher.put('/api/v1/sites/S1/terms', { ...terms, replantOn: ['04-31'] });
    expect(noDay.status).toBe(400);
    expect(JSON.stringify(noDay.body)).toContain('is no day of the year');
    expect((await dispatcher.get('/api/v1/sites/none/terms')).status).toBe(404);
  });
});

describe('the numbers of an alarm', () => {
  it('may be otherwise at a site, with the reason on record, and go back', async () => {
    const catalogue = (await dispatcher.get('/api/v1/alarms/catalogue')).body as {
      items: readonly { kind: string; onDelayMinutes: number }[];
    };
    const usual = catalogue.items.find((entry) => entry.kind === 'waterlogged')!;
    const set = { kind: 'waterlogged', siteId: 'S1', onDelayMinutes: 360, reason: 'The lawn sprinkler reaches it.' };
    expect((await dispatcher.post('/api/v1/alarms/overrides', set)).body).toMatchObject({ onDelayMinutes: 360 });
    const back = { kind: 'waterlogged', siteId: 'S1', reason: 'Sprinkler moved.' };
    expect((await dispatcher.post('/api/v1/alarms/overrides', back)).body).toMatchObject({
      onDelayMinutes: usual.onDelayMinutes,
    });
    expect((await dispatcher.get('/api/v1/alarms/overrides?siteId=S1')).body).toMatchObject({
      items: [
        { onDelayMinutes: 360, reason: 'The lawn sprinkler reaches it.', changedBy: dispatcher.person.id },
        { onDelayMinutes: null, reason: 'Sprinkler moved.' },
      ],
    });
    const bad = await dispatcher.post('/api/v1/alarms/overrides', { ...set, onDelayMinutes: 90_000 });
    expect(bad.status).toBe(400);
  });
});

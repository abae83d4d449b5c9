import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { type Action, PERMISSIONS, type Reach } from '../../src/domain/access.js';
import type { Role } from '../../src/domain/registry.js';
import { ACCESS } from '../../src/http/access-table.js';
import { startTestServer, type TestClient, TestClock, type TestServer } from '../support/server.js';
import { TWO_ACCOUNTS, twoAccountsWrites } from '../support/two-accounts.js';

const ROLES = ['owner', 'dispatcher', 'technician', 'installer', 'client'] as const satisfies readonly Role[];

/** What a request is about: something of one's own account and person, or of somebody else's. */
interface Target {
  readonly accountId: string;
  readonly siteId: string;
  readonly containerId: string;
  readonly nodeId: string;
  readonly visitId: string;
  readonly technicianId: string;
}

interface Example {
  readonly path: string;
  readonly body?: unknown;
}

const NOW_MS = Date.UTC(2026, 5, 5, 8);
const DAYS = 'from=2026-06-01&to=2026-06-30';
const INSTANTS = 'from=2026-06-01T00:00:00Z&to=2026-06-05T00:00:00Z';

function withoutId<Row extends { readonly id: string }>(rows: readonly Row[], id: string): Omit<Row, 'id'> {
  const row = rows.find((candidate) => candidate.id === id);
  if (row === undefined) throw new Error(`no ${id}`);
  const { id: _id, ...rest } = row;
  return rest;
}

const visitOf = (t: Target) => ({
  siteId: t.siteId,
  technicianId: t.technicianId,
  happenedAt: '2026-06-02T10:00:00Z',
  actions: [{ containerId: t.containerId, work: 'refill', litres: 5 }],
});
const newId = () => `new-${randomUUID().slice(0, 8)}`;

/** A request for each route, valid as far as a request can be without knowing what else is there. */
const EXAMPLES: Readonly<Record<string, (target: Target) => Example>> = {
  'GET /api/v1/session': () => ({ path: '/api/v1/session' }),
  'PUT /api/v1/preferences': () => ({
    path: '/api/v1/preferences',
    body: { language: 'en', units: { volume: 'L', length: 'mm', temperature: 'Cel' } },
  }),
  'GET /api/v1/people': () => ({ path: '/api/v1/people' }),
  'POST /api/v1/people': () => ({
    path: '/api/v1/people',
    body: { name: 'New', login: newId(), role: 'technician' },
  }),
  'PUT /api/v1/people/:id': () => ({
    path: '/api/v1/people/nobody',
    body: {
      name: 'N',
      login: newId(),
      role: 'technician',
      accountId: null,
      language: 'en',
      units: { volume: 'L', length: 'mm', temperature: 'Cel' },
      disabled: false,
    },
  }),
  'GET /api/v1/second-factor': () => ({ path: '/api/v1/second-factor' }),
  'POST /api/v1/people/:id/invitation': () => ({ path: '/api/v1/people/nobody/invitation', body: {} }),
  'DELETE /api/v1/people/:id/second-factor': () => ({ path: '/api/v1/people/nobody/second-factor' }),
  'GET /api/v1/tokens': () => ({ path: '/api/v1/tokens' }),
  'POST /api/v1/tokens': () => ({ path: '/api/v1/tokens', body: { name: 'New', actions: ['alarms.read'], days: 1 } }),
  'DELETE /api/v1/tokens/:id': () => ({ path: '/api/v1/tokens/none' }),
  'PUT /api/v1/people/:id/password': () => ({ path: '/api/v1/people/nobody/password', body: {} }),
  'GET /api/v1/edits': () => ({ path: '/api/v1/edits' }),
  'GET /api/v1/audit': () => ({ path: '/api/v1/audit' }),
  'GET /api/v1/accounts': () => ({ path: '/api/v1/accounts' }),
  'POST /api/v1/accounts': () => ({ path: '/api/v1/accounts', body: { id: newId(), name: 'New', dryRisk: 0.05 } }),
  'PUT /api/v1/accounts/:id': (t) => ({
    path: `/api/v1/accounts/${t.accountId}`,
    body: withoutId(TWO_ACCOUNTS.accounts, t.accountId),
  }),
  'GET /api/v1/accounts/:id/personal-data': (t) => ({ path: `/api/v1/accounts/${t.accountId}/personal-data` }),
  'POST /api/v1/accounts/:id/erase': (t) => ({
    path: `/api/v1/accounts/${t.accountId}/erase`,
    body: { confirm: 'erase' },
  }),
  'GET /api/v1/sites': () => ({ path: '/api/v1/sites' }),
  'POST /api/v1/sites': (t) => ({
    path: '/api/v1/sites',
    body: { ...withoutId(TWO_ACCOUNTS.sites, t.siteId), id: newId() },
  }),
  'PUT /api/v1/sites/:id': (t) => ({
    path: `/api/v1/sites/${t.siteId}`,
    body: withoutId(TWO_ACCOUNTS.sites, t.siteId),
  }),
  'GET /api/v1/sites/:id/terms': (t) => ({ path: `/api/v1/sites/${t.siteId}/terms` }),
  'PUT /api/v1/sites/:id/terms': (t) => ({
    path: `/api/v1/sites/${t.siteId}/terms`,
    body: { hours: [], closed: [], wateringWeekdays: null, skills: [], forbiddenPeople: [], visitEveryDays: 14 },
  }),
  'GET /api/v1/crew': () => ({ path: '/api/v1/crew' }),
  'PUT /api/v1/crew/:id': (t) => ({
    path: `/api/v1/crew/${t.technicianId}`,
    body: { shifts: [], pause: null, overtimeMinutes: 0, truckId: null, home: null, skills: ['roof'] },
  }),
  'POST /api/v1/absences': (t) => ({
    path: '/api/v1/absences',
    body: { personId: t.technicianId, fromDay: '2026-06-08', toDay: '2026-06-09', reason: 'Course' },
  }),
  'DELETE /api/v1/absences/:id': () => ({ path: '/api/v1/absences/none' }),
  'POST /api/v1/depots': () => ({
    path: '/api/v1/depots',
    body: { id: newId(), name: 'Yard', latitude: 41, longitude: 2 },
  }),
  'PUT /api/v1/depots/:id': () => ({
    path: '/api/v1/depots/none',
    body: { name: 'Yard', latitude: 41, longitude: 2 },
  }),
  'POST /api/v1/trucks': () => ({
    path: '/api/v1/trucks',
    body: { id: newId(), name: 'Blue', tankLitres: 800, depotId: null },
  }),
  'PUT /api/v1/trucks/:id': () => ({
    path: '/api/v1/trucks/none',
    body: { name: 'Blue', tankLitres: 800, depotId: null },
  }),
  'GET /api/v1/sites/:id/access': (t) => ({ path: `/api/v1/sites/${t.siteId}/access` }),
  'PUT /api/v1/sites/:id/access': (t) => ({
    path: `/api/v1/sites/${t.siteId}/access`,
    body: { notes: 'Gate code 1234.', contacts: [] },
  }),
  'GET /api/v1/access-looks': () => ({ path: '/api/v1/access-looks' }),
  'GET /api/v1/gateways': () => ({ path: '/api/v1/gateways' }),
  'POST /api/v1/gateways': (t) => ({
    path: '/api/v1/gateways',
    body: { id: newId(), siteId: t.siteId, name: 'New' },
  }),
  'PUT /api/v1/gateways/:id': () => ({
    path: '/api/v1/gateways/G1',
    body: withoutId(TWO_ACCOUNTS.gateways, 'G1'),
  }),
  'GET /api/v1/nodes': () => ({ path: '/api/v1/nodes' }),
  'POST /api/v1/nodes': () => ({
    path: '/api/v1/nodes',
    body: { id: newId(), gatewayId: null, promisedIntervalS: 900 },
  }),
  'PUT /api/v1/nodes/:id': (t) => ({
    path: `/api/v1/nodes/${t.nodeId}`,
    body: withoutId(TWO_ACCOUNTS.nodes, t.nodeId),
  }),
  'GET /api/v1/assignments': (t) => ({ path: `/api/v1/assignments?containerId=${t.containerId}` }),
  'POST /api/v1/assignments': (t) => ({
    path: '/api/v1/assignments',
    body: { nodeId: t.nodeId, containerId: t.containerId, from: '2026-05-01T00:00:00Z' },
  }),
  'POST /api/v1/assignments/swap': () => ({
    path: '/api/v1/assignments/swap',
    body: { containerIds: ['C1', 'C3'], at: '2026-05-15T00:00:00Z' },
  }),
  'PUT /api/v1/assignments/:id': () => ({
    path: '/api/v1/assignments/none',
    body: { from: '2026-05-01T00:00:00Z', to: null, zeroMm: 0 },
  }),
  'POST /api/v1/assignments/:id/end': () => ({
    path: '/api/v1/assignments/none/end',
    body: { to: '2026-06-01T00:00:00Z' },
  }),
  'DELETE /api/v1/assignments/:id': () => ({ path: '/api/v1/assignments/none' }),
  'POST /api/v1/credentials': (t) => ({
    path: '/api/v1/credentials',
    body: { principalId: t.nodeId, kind: 'node' },
  }),
  'DELETE /api/v1/credentials/:id': () => ({ path: '/api/v1/credentials/none' }),
  'GET /api/v1/containers': (t) => ({ path: `/api/v1/containers?accountId=${t.accountId}` }),
  'POST /api/v1/containers': (t) => ({
    path: '/api/v1/containers',
    body: { ...withoutId(TWO_ACCOUNTS.containers, t.containerId), id: newId() },
  }),
  'GET /api/v1/containers/:id': (t) => ({ path: `/api/v1/containers/${t.containerId}` }),
  'PUT /api/v1/containers/:id': (t) => ({
    path: `/api/v1/containers/${t.containerId}`,
    body: withoutId(TWO_ACCOUNTS.containers, t.containerId),
  }),
  'GET /api/v1/containers/:id/series': (t) => ({ path: `/api/v1/containers/${t.containerId}/series?${INSTANTS}` }),
  'GET /api/v1/containers/:id/ledger': (t) => ({ path: `/api/v1/containers/${t.containerId}/ledger?${DAYS}` }),
  'GET /api/v1/containers/:id/explanation': (t) => ({
    path: `/api/v1/containers/${t.containerId}/explanation?at=2026-06-01T12:00:00Z`,
  }),
  'GET /api/v1/containers/:id/ledger/:day': (t) => ({ path: `/api/v1/containers/${t.containerId}/ledger/2026-06-01` }),
  'GET /api/v1/containers/:id/corrections': (t) => ({ path: `/api/v1/containers/${t.containerId}/corrections` }),
  'POST /api/v1/containers/:id/events': (t) => ({
    path: `/api/v1/containers/${t.containerId}/events`,
    body: { kind: 'drained', startAt: '2026-06-01T10:00:00Z', litres: 2 },
  }),
  'POST /api/v1/events/:id/correction': (t) => ({
    path: '/api/v1/events/none/correction',
    body: { containerId: t.containerId, correctedKind: 'none' },
  }),
  'GET /api/v1/water': (t) => ({ path: `/api/v1/water?${DAYS}&accountId=${t.accountId}` }),
  'GET /api/v1/weather': (t) => ({ path: `/api/v1/weather?${DAYS}&siteId=${t.siteId}` }),
  'POST /api/v1/weather': (t) => ({
    path: '/api/v1/weather',
    body: { days: [{ siteId: t.siteId, day: '2026-06-01', rainMm: 3 }] },
  }),
  'PUT /api/v1/firm': () => ({
    path: '/api/v1/firm',
    body: {
      name: 'New',
      currency: 'EUR',
      waterPricePerM3: 2.4,
      language: 'en',
      units: { volume: 'L', length: 'mm', temperature: 'Cel' },
    },
  }),
  'GET /api/v1/firm': () => ({ path: '/api/v1/firm' }),
  'GET /api/v1/commissioning': () => ({ path: '/api/v1/commissioning' }),
  'GET /api/v1/containers/:id/commissioning': (t) => ({ path: `/api/v1/containers/${t.containerId}/commissioning` }),
  'POST /api/v1/first-table': () => ({
    path: '/api/v1/first-table',
    body: {
      shape: { kind: 'round', bottomDiameterMm: 300, topDiameterMm: 400 },
      size: { heightMm: 150, overflowMm: 120, feetAreaMm2: 0, wickAreaMm2: 0, wickFootMm: 10 },
    },
  }),
  'GET /api/v1/containers/:id/pours': (t) => ({ path: `/api/v1/containers/${t.containerId}/pours` }),
  'POST /api/v1/containers/:id/pours': (t) => ({
    path: `/api/v1/containers/${t.containerId}/pours`,
    body: { pours: [], keep: false },
  }),
  'GET /api/v1/containers/:id/level': (t) => ({ path: `/api/v1/containers/${t.containerId}/level` }),
  'POST /api/v1/containers/:id/fast-report': (t) => ({
    path: `/api/v1/containers/${t.containerId}/fast-report`,
    body: { minutes: 10 },
  }),
  'GET /api/v1/water/review': (t) => ({ path: `/api/v1/water/review?${DAYS}&accountId=${t.accountId}` }),
  'GET /api/v1/quarantine': () => ({ path: '/api/v1/quarantine' }),
  'POST /api/v1/quarantine/rerun': () => ({ path: '/api/v1/quarantine/rerun', body: { ids: ['none'] } }),
  'GET /api/v1/today': () => ({ path: '/api/v1/today' }),
  'GET /api/v1/rounds': (t) => ({ path: `/api/v1/rounds?day=2026-06-01&technicianId=${t.technicianId}` }),
  'GET /api/v1/plan': () => ({ path: '/api/v1/plan' }),
  'GET /api/v1/plan/lookback': () => ({ path: `/api/v1/plan/lookback?${DAYS}` }),
  'POST /api/v1/plan/run': () => ({ path: '/api/v1/plan/run' }),
  'POST /api/v1/plan/changes': (t) => ({
    path: '/api/v1/plan/changes',
    body: { edits: [{ kind: 'not_before', siteId: t.siteId, day: '2026-06-07' }], dryRun: true },
  }),
  'POST /api/v1/plan/undo': () => ({ path: '/api/v1/plan/undo' }),
  'POST /api/v1/plan/publish': () => ({ path: '/api/v1/plan/publish', body: {} }),
  'POST /api/v1/plan/what-if': () => ({ path: '/api/v1/plan/what-if', body: { hotterByC: 5 } }),
  'GET /api/v1/plan/sites/:id': (t) => ({ path: `/api/v1/plan/sites/${t.siteId}` }),
  'POST /api/v1/plan/offers': (t) => ({ path: '/api/v1/plan/offers', body: { siteId: t.siteId } }),
  'POST /api/v1/plan/offers/accept': (t) => ({
    path: '/api/v1/plan/offers/accept',
    body: { siteId: t.siteId, personId: t.technicianId },
  }),
  'POST /api/v1/rounds/stops': (t) => ({
    path: '/api/v1/rounds/stops',
    body: { siteId: t.siteId, technicianId: t.technicianId, day: '2026-06-06' },
  }),
  'PUT /api/v1/rounds/stops/:id': () => ({ path: '/api/v1/rounds/stops/none', body: { position: 0 } }),
  'DELETE /api/v1/rounds/stops/:id': () => ({ path: '/api/v1/rounds/stops/none' }),
  'POST /api/v1/rounds/stops/:id/set-out': () => ({ path: '/api/v1/rounds/stops/none/set-out', body: {} }),
  'GET /api/v1/tasks': (t) => ({ path: `/api/v1/tasks?containerId=${t.containerId}` }),
  'POST /api/v1/tasks': (t) => ({
    path: '/api/v1/tasks',
    body: { containerId: t.containerId, kind: 'inspect', note: 'The client rang: it looks sad.' },
  }),
  'GET /api/v1/tasks/:id': () => ({ path: '/api/v1/tasks/none' }),
  'POST /api/v1/tasks/:id/cancel': () => ({ path: '/api/v1/tasks/none/cancel', body: { reason: 'Rained.' } }),
  'GET /api/v1/visits': (t) => ({ path: `/api/v1/visits?${INSTANTS}&containerId=${t.containerId}` }),
  'GET /api/v1/visits/:id': (t) => ({ path: `/api/v1/visits/${t.visitId}` }),
  'PUT /api/v1/visits/:id': (t) => ({ path: `/api/v1/visits/${randomUUID()}`, body: visitOf(t) }),
  'GET /api/v1/alerts': () => ({ path: '/api/v1/alerts' }),
  'POST /api/v1/alerts/:id/read': () => ({ path: '/api/v1/alerts/none/read', body: {} }),
  'GET /api/v1/stand-ins': () => ({ path: '/api/v1/stand-ins' }),
  'GET /api/v1/people/doors': () => ({ path: '/api/v1/people/doors' }),
  'DELETE /api/v1/people/:id/sessions': () => ({ path: '/api/v1/people/nobody/sessions' }),
  'GET /api/v1/contact-rules': () => ({ path: '/api/v1/contact-rules' }),
  'PUT /api/v1/contact-rules': (t) => ({
    path: '/api/v1/contact-rules',
    body: {
      timeZone: 'Europe/Madrid',
      siteIds: [t.siteId],
      minimumPriority: 'low',
      quiet: { fromMinute: 1200, toMinute: 360 },
      digestMinute: 360,
    },
  }),
  'GET /api/v1/push-key': () => ({ path: '/api/v1/push-key' }),
  'GET /api/v1/addresses': () => ({ path: '/api/v1/addresses' }),
  'POST /api/v1/addresses': () => ({
    path: '/api/v1/addresses',
    body: { channel: 'email', target: 'crew@firm.example' },
  }),
  'DELETE /api/v1/addresses/:id': () => ({ path: '/api/v1/addresses/none' }),
  'GET /api/v1/calendar': () => ({ path: '/api/v1/calendar' }),
  'POST /api/v1/calendar': () => ({ path: '/api/v1/calendar', body: {} }),
  'DELETE /api/v1/calendar': () => ({ path: '/api/v1/calendar' }),
  'GET /api/v1/firm-addresses': () => ({ path: '/api/v1/firm-addresses' }),
  'POST /api/v1/firm-addresses': () => ({
    path: '/api/v1/firm-addresses',
    body: { target: `https://hooks.example/${newId()}` },
  }),
  'DELETE /api/v1/firm-addresses/:id': () => ({ path: '/api/v1/firm-addresses/none' }),
  'GET /api/v1/undelivered': () => ({ path: '/api/v1/undelivered' }),
  'POST /api/v1/undelivered/:id/send': () => ({ path: '/api/v1/undelivered/none/send', body: {} }),
  'GET /api/v1/alarms': () => ({ path: '/api/v1/alarms' }),
  'GET /api/v1/alarms/performance': () => ({ path: `/api/v1/alarms/performance?${INSTANTS}` }),
  'GET /api/v1/alarms/catalogue': () => ({ path: '/api/v1/alarms/catalogue' }),
  'GET /api/v1/alarms/overrides': (t) => ({ path: `/api/v1/alarms/overrides?siteId=${t.siteId}` }),
  'POST /api/v1/alarms/overrides': (t) => ({
    path: '/api/v1/alarms/overrides',
    body: { kind: 'leak', siteId: t.siteId, onDelayMinutes: 60, reason: 'The fountain splashes.' },
  }),
  'GET /api/v1/alarms/:id': () => ({ path: '/api/v1/alarms/none' }),
  'POST /api/v1/alarms/:id/acknowledge': () => ({ path: '/api/v1/alarms/none/acknowledge', body: {} }),
  'POST /api/v1/alarms/:id/shelve': () => ({
    path: '/api/v1/alarms/none/shelve',
    body: { until: '2026-06-10T00:00:00Z', reason: 'Waiting for a part.' },
  }),
  'POST /api/v1/alarms/:id/unshelve': () => ({ path: '/api/v1/alarms/none/unshelve', body: {} }),
  'POST /api/v1/alarms/:id/suppress': () => ({
    path: '/api/v1/alarms/none/suppress',
    body: { reason: 'Building site.' },
  }),
  'POST /api/v1/alarms/:id/unsuppress': () => ({ path: '/api/v1/alarms/none/unsuppress', body: {} }),
  'POST /api/v1/alarms/:id/out-of-service': () => ({
    path: '/api/v1/alarms/none/out-of-service',
    body: { reason: 'Pot in repair.' },
  }),
  'POST /api/v1/alarms/:id/return-to-service': () => ({
    path: '/api/v1/alarms/none/return-to-service',
    body: {},
  }),
  'POST /api/v1/alarms/:id/reset': () => ({ path: '/api/v1/alarms/none/reset', body: {} }),
};

/** Tried in tests of their own: these end or make sessions, never end, or need no session. */
const TRIED_ELSEWHERE = [
  'POST /api/v1/session',
  'DELETE /api/v1/session',
  'GET /api/v1/changes',
  'GET /api/v1/set-up',
  'POST /api/v1/set-up',
  'GET /api/v1/calendars/:token',
  'PUT /api/v1/password',
  'POST /api/v1/second-factor',
  'POST /api/v1/second-factor/confirm',
  'POST /api/v1/second-factor/drop',
  'POST /api/v1/invitations/look',
  'POST /api/v1/invitations/accept',
];

let server: TestServer;
const clients = new Map<Role, TestClient>();
const targets = new Map<string, Target>();

beforeAll(async () => {
  server = await startTestServer({ seed: twoAccountsWrites(), clock: new TestClock(NOW_MS) });
  for (const role of ROLES) {
    clients.set(role, await server.login(role, role === 'client' ? { accountId: 'A1' } : { id: `my-${role}` }));
  }
  const other = await server.addPerson('technician', { id: 'other-technician' });
  const owner = clientOf('owner');
  for (const [name, siteId, containerId] of [
    ['own', 'S1', 'C1'],
    ['other', 'S3', 'C3'],
  ] as const) {
    const visitId = randomUUID();
    const target: Target = {
      accountId: siteId === 'S1' ? 'A1' : 'A2',
      siteId,
      containerId,
      nodeId: containerId.replace('C', 'N'),
      visitId,
      technicianId: other.id,
    };
    targets.set(name, target);
    const made = await owner.put(`/api/v1/visits/${visitId}`, visitOf(target));
    expect(made.status, JSON.stringify(made.body)).toBe(200);
  }
});

afterAll(() => server.close());

function clientOf(role: Role): TestClient {
  const client = clients.get(role);
  if (client === undefined) throw new Error(`no ${role}`);
  return client;
}

function reachOf(route: string, role: Role): Reach {
  const access = ACCESS[route];
  if (access === undefined || typeof access === 'string') return 'all';
  return PERMISSIONS[access.action][role];
}

const REFUSED = [401, 403];

describe('the permission matrix', () => {
  it('has an example for every route, so that none goes untried', () => {
    expect([...Object.keys(EXAMPLES), ...TRIED_ELSEWHERE].sort()).toEqual(Object.keys(ACCESS).sort());
  });

  it('names every action of the matrix in at least one route', () => {
    const used = new Set(Object.values(ACCESS).map((access) => (typeof access === 'string' ? access : access.action)));
    for (const action of Object.keys(PERMISSIONS) as Action[]) expect(used, action).toContain(action);
  });

  const cases = Object.keys(EXAMPLES).flatMap((route) =>
    ROLES.flatMap((role) => (['own', 'other'] as const).map((whose) => ({ route, role, whose }))),
  );

  it.each(cases)('$route by a $role on the $whose account', async ({ route, role, whose }) => {
    const client = clientOf(role);
    const target = targetFor(client, whose);
    const { path, body } = EXAMPLES[route]!(target);
    const answer = await client.request(route.split(' ')[0]!, path, body);
    const reach = reachOf(route, role);
    const about = `${reach}: ${answer.status} ${JSON.stringify(answer.body)}`;
    expect(answer.status, about).toBeLessThan(500);
    if (reach === 'none') {
      expect(answer.status, about).toBe(403);
    } else if (whose === 'own' || reach === 'all') {
      expect(REFUSED, about).not.toContain(answer.status);
      expect(answer.status, about).not.toBe(400);
    } else if (reach === 'self') {
      const access = ACCESS[route];
      const namesSomebody = typeof access === 'object' && access.about === 'technician';
      if (namesSomebody) expect(answer.status, about).toBe(403);
    } else {
      if (answer.status === 200) expect(JSON.stringify(answer.body)).not.toMatch(/A2|S3|C3|N3|AS3|Quay/);
      else expect([403, 404], about).toContain(answer.status);
    }
  });

  it.each(Object.keys(EXAMPLES))('%s without a session', async (route) => {
    const { path, body } = EXAMPLES[route]!(targetFor(clientOf('owner'), 'own'));
    const answer = await fetch(`${server.url}${path}`, {
      method: route.split(' ')[0]!,
      headers: { 'x-brimline': '1', 'content-type': 'application/json' },
      ...(body === undefined ? {} : { body: JSON.stringify(body) }),
    });
    expect(answer.status).toBe(401);
  });
});

function targetFor(client: TestClient, whose: 'own' | 'other'): Target {
  const target = targets.get(whose);
  if (target === undefined) throw new Error(`no ${whose}`);
  const mine = whose === 'own' && client.person.role === 'technician';
  return mine ? { ...target, technicianId: client.person.id } : target;
}

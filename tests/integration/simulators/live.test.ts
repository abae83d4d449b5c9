import { createServer as createHttpServer } from 'node:http';
import { type AddressInfo, createServer } from 'node:net';
import { Aedes } from 'aedes';
import { decode } from 'cbor-x';
import { afterEach, describe, expect, it } from 'vitest';
import { planDemoFleet } from '../../../simulators/demo/demo-fleet.js';
import { principalsOf } from '../../../simulators/files/fleet-json.js';
import type { FleetPlan } from '../../../simulators/fleet/world.js';
import { HttpCrew } from '../../../simulators/live/http-crew.js';
import { LiveFleet, missingLitres } from '../../../simulators/live/live-fleet.js';
import { LiveSession } from '../../../simulators/live/live-session.js';
import { Publishers } from '../../../simulators/live/publishers.js';

const SITES = ['Gannet Quay, clubhouse deck', 'Gannet Quay, harbour office', 'Ortolan Court, roof B'];

/** A few sites of the demo: one whose gateway is down at the start, one with a weather station, one without a gateway. */
function fewSites(): FleetPlan {
  const plan = planDemoFleet('tern-and-tide');
  return { ...plan, sites: plan.sites.filter((site) => SITES.includes(site.name)) };
}

const closers: (() => Promise<void>)[] = [];
afterEach(async () => {
  for (const close of closers.splice(0)) await close();
});

interface Heard {
  readonly client: string;
  readonly topic: string;
  readonly payload: Buffer;
  readonly qos: number;
  readonly retain: boolean;
}

/** A real broker on a free port that lets in only who has the right password. */
async function broker(
  passwordOf: ReadonlyMap<string, string>,
): Promise<{ url: string; heard: Heard[]; refused: string[]; tell: (topic: string, payload: string) => void }> {
  const aedes = await Aedes.createBroker();
  const heard: Heard[] = [];
  const refused: string[] = [];
  aedes.authenticate = (client, username, password, done) => {
    const right = username !== undefined && passwordOf.get(username) === password?.toString();
    if (!right) refused.push(client.id);
    done(null, right);
  };
  aedes.on('publish', (packet, client) => {
    if (client === null || packet.topic.startsWith('$')) return;
    heard.push({
      client: client.id,
      topic: packet.topic,
      payload: Buffer.from(packet.payload),
      qos: packet.qos,
      retain: packet.retain,
    });
  });
  const server = createServer(aedes.handle);
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  closers.push(async () => {
    await new Promise<void>((resolve) => aedes.close(() => resolve()));
    await new Promise<void>((resolve) => server.close(() => resolve()));
  });
  const tell = (topic: string, payload: string): void =>
    aedes.publish({ cmd: 'publish', topic, payload, qos: 1, retain: true, dup: false }, () => undefined);
  return { url: `mqtt://127.0.0.1:${(server.address() as AddressInfo).port}`, heard, refused, tell };
}

/** A server that gives each address its answer. */
async function answering(answers: Readonly<Record<string, () => unknown>>): Promise<string> {
  const server = createHttpServer((request, response) => {
    const answer = answers[request.url?.split('?', 1)[0] ?? ''];
    response.writeHead(answer === undefined ? 404 : 200, {
      'set-cookie': 'brimline=1',
      'content-type': 'application/json',
    });
    response.end(JSON.stringify(answer?.() ?? {}));
  });
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  closers.push(() => new Promise<void>((resolve) => server.close(() => resolve())));
  return `http://127.0.0.1:${(server.address() as AddressInfo).port}`;
}

async function until(condition: () => boolean): Promise<void> {
  while (!condition()) await new Promise((resolve) => setTimeout(resolve, 20));
}

describe('the live fleet', () => {
  it('publishes packs of its nodes in both formats, with wills, backlog after an outage and the station’s weather', async () => {
    const plan = fewSites();
    const startMs = plan.endMs!;
    const passwordOf = new Map(principalsOf(plan).map(({ id }) => [id, `secret-${id}`] as const));
    const { url, heard, refused } = await broker(passwordOf);
    const complaints: string[] = [];
    const fleet = new LiveFleet(plan, startMs);
    const mqtt = new Publishers(url, passwordOf, (line) => complaints.push(line));
    closers.unshift(() => mqtt.close());
    const session = new LiveSession({
      plan,
      fleet,
      mqtt,
      http: null,
      technicians: [],
      office: null,
      startMs,
      log: () => undefined,
    });
    for (let minutes = 5; minutes <= 6 * 60; minutes += 5) await session.tick(startMs + minutes * 60_000);
    await until(() => heard.filter((h) => h.topic.endsWith('/weather')).length >= 24);
    await until(() => mqtt.acknowledged >= heard.filter((h) => !h.retain).length && mqtt.acknowledged > 50);

    expect(refused).toEqual([]);
    expect(complaints).toEqual([]);
    const packs = heard.filter((h) => h.topic.endsWith('/readings'));
    expect(packs.every((h) => h.qos === 1 && !h.retain)).toBe(true);
    const json = packs.filter((h) => h.payload[0] === 0x5b);
    const cbor = packs.filter((h) => h.payload[0] !== 0x5b);
    expect(json.length).toBeGreaterThan(5);
    expect(cbor.length).toBeGreaterThan(5);

    const [record] = JSON.parse(json[0]!.payload.toString('utf8')) as Record<string, unknown>[];
    expect(record).toMatchObject({ n: 'level', u: 'm' });
    expect([900, 1800, 3600]).toContain(record!.ut);
    const first = (decode(cbor[0]!.payload) as Record<string, unknown>[])[0]!;
    // Labels of RFC 8428 table 4: bn -2, bt -3, n 0, u 1, v 2, ut 7.
    expect(first['-2']).toBe(`${cbor[0]!.topic.split('/')[1]}/`);
    expect(first['0']).toBe('level');
    expect(first['1']).toBe('m');

    const site = plan.sites.find((s) => s.name === 'Gannet Quay, clubhouse deck')!;
    const relayed = packs.filter((h) => h.client === site.gatewayId);
    const outageMs = site.outages![0]!.toMs;
    const times = relayed.map((h) => {
      const records =
        h.payload[0] === 0x5b
          ? (JSON.parse(h.payload.toString('utf8')) as { bt?: number; t?: number }[])
          : (decode(h.payload) as Record<string, number>[]).map((r) => ({ bt: r['-3'], t: r['6'] }));
      return { count: new Set(records.map((r) => r.t ?? 0)).size, firstMs: (records[0]!.bt ?? 0) * 1000 };
    });
    // Nothing while the gateway was down; then hours of backlog in one pack.
    expect(times.some((t) => t.count > 8 && t.firstMs < startMs)).toBe(true);
    expect(outageMs).toBeGreaterThan(startMs);

    const states = heard.filter((h) => h.topic.endsWith('/state'));
    expect(states.length).toBeGreaterThan(0);
    expect(states.every((h) => h.retain && h.payload.toString() === 'online')).toBe(true);
  });

  it('goes on when the server refuses everybody, and says so', async () => {
    const plan = fewSites();
    const { url } = await broker(new Map());
    const complaints: string[] = [];
    const fleet = new LiveFleet(plan, plan.endMs!);
    const mqtt = new Publishers(url, new Map(principalsOf(plan).map(({ id }) => [id, 'wrong'])), (line) =>
      complaints.push(line),
    );
    closers.unshift(() => mqtt.close());
    const session = new LiveSession({
      plan,
      fleet,
      mqtt,
      http: null,
      technicians: [],
      office: null,
      startMs: plan.endMs!,
      log: () => undefined,
    });
    await session.tick(plan.endMs! + 3_600_000);
    await until(() => complaints.length > 0);
    await session.tick(plan.endMs! + 7_200_000);
    expect(complaints[0]).toContain('connection refused or lost');
    expect(mqtt.acknowledged).toBe(0);
  });

  it('lets water that somebody recorded into the pot, and shows it in the next readings', () => {
    const plan = fewSites();
    const fleet = new LiveFleet(plan, plan.endMs!);
    const { site, potIndex } = fleet.potOf(plan.sites[1]!.pots[0]!.id)!;
    const run = site.simulation.runs[potIndex]!;
    fleet.advance(plan.endMs! + 60_000);
    const missing = missingLitres(run);
    const atMs = plan.endMs! + 61_000;
    fleet.pour(site, { potIndex, atMs, by: 'crew', work: 'refill', litres: missing / 2, reportedLitres: null });
    fleet.advance(plan.endMs! + 40 * 60_000);
    expect(missingLitres(run)).toBeLessThan(missing * 0.6);
    expect(run.events[run.events.length - 1]).toMatchObject({ kind: 'refill', by: 'crew' });
  });

  it('has a node that is asked to hurry see the water rise as the hose brings it, and no litre twice', () => {
    const plan = fewSites();
    const startMs = plan.endMs!;
    const fleet = new LiveFleet(plan, startMs);
    const { site, potIndex } = fleet.potOf(plan.sites[1]!.pots[0]!.id)!;
    const node = site.nodes.find((one) => one.plan.places.some((place) => place.potIndex === potIndex))!;
    const run = site.simulation.runs[potIndex]!;
    fleet.advance(startMs + 60_000);
    const missing = missingLitres(run);
    const poured = run.balance.refill;
    const askedMs = startMs + 61_000;
    expect(fleet.hurry(node.plan.id, askedMs + 20 * 60_000)).toEqual({ site, potIndex });
    const litres = fleet.fill(site, potIndex, askedMs + 30_000);
    expect(litres).toBeGreaterThan(1);
    expect(litres).toBeLessThan(missing);
    const seen: { readonly timeMs: number; readonly levelMm: number }[] = [];
    for (let second = 0; second < 45 * 60; second += 30) {
      for (const { node: from, readings } of fleet.advance(askedMs + second * 1000)) {
        if (from === node)
          for (const { timeMs, levelMm } of readings) if (levelMm !== null) seen.push({ timeMs, levelMm });
      }
    }
    seen.sort((a, b) => a.timeMs - b.timeMs);
    const during = seen.filter(({ timeMs }) => timeMs >= askedMs && timeMs < askedMs + 19 * 60_000);
    expect(during.length).toBeGreaterThan(60);
    const { curve } = run.spec.model;
    const fullMm = run.state.levelMm;
    const riseMm = fullMm - curve.levelAt(run.state.litres - litres, fullMm);
    const half = during.filter(({ timeMs }) => timeMs > askedMs + 30_000 && timeMs < askedMs + 30_000 + litres * 2_500);
    const first = during[0]!.levelMm;
    const last = during[during.length - 1]!.levelMm;
    expect(last - first).toBeGreaterThan(riseMm * 0.8);
    expect(half[half.length - 1]!.levelMm - first).toBeGreaterThan(riseMm * 0.2);
    expect(half[half.length - 1]!.levelMm - first).toBeLessThan(riseMm * 0.85);
    expect(run.balance.refill - poured).toBeCloseTo(litres, 6);
  });

  it('hears what is asked of its nodes, and reports fast until then', async () => {
    const plan = fewSites();
    const startMs = plan.endMs!;
    const passwordOf = new Map(principalsOf(plan).map(({ id }) => [id, `secret-${id}`] as const));
    const { url, heard, tell } = await broker(passwordOf);
    const fleet = new LiveFleet(plan, startMs);
    const mqtt = new Publishers(url, passwordOf, () => undefined);
    closers.unshift(() => mqtt.close());
    const parts = { plan, fleet, mqtt, http: null, technicians: [], office: null, startMs, log: () => undefined };
    const session = new LiveSession(parts);
    const site = plan.sites.find((one) => one.gatewayId === null)!;
    const { id } = site.nodes[0]!;
    const fastUntil = new Date(startMs + 20 * 60_000).toISOString();
    tell(`nodes/${id}/settings`, JSON.stringify({ intervalS: 900, fastUntil }));
    session.listen();
    let minutes = 0;
    const fast = (): number => heard.filter((one) => one.topic === `nodes/${id}/readings`).length;
    // The retained word comes when the node has connected; until then it goes its usual beat.
    while (minutes < 18 && fast() < 8) {
      await new Promise((resolve) => setTimeout(resolve, 60));
      minutes += 0.5;
      await session.tick(startMs + minutes * 60_000);
    }
    expect(fast()).toBeGreaterThanOrEqual(8);
  });

  it('fills a pot of a round before its node’s eyes, and does not pour again what is then recorded', async () => {
    const plan = fewSites();
    const startMs = plan.endMs!;
    const passwordOf = new Map(principalsOf(plan).map(({ id }) => [id, `secret-${id}`] as const));
    const { url, tell } = await broker(passwordOf);
    const site = plan.sites.find((one) => one.gatewayId === null)!;
    const stop = { id: 'ST1', siteId: site.id, state: 'planned', position: 0 };
    const later = { startMinute: 23 * 60, endMinute: 23 * 60 + 30, driveMinutes: 0 };
    const visits: unknown[] = [];
    const api = await answering({
      '/api/v1/session': () => ({}),
      '/api/v1/rounds': () => ({ items: [{ stops: [{ stop, planned: later }] }] }),
      '/api/v1/visits': () => ({ items: visits }),
      '/api/v1/weather': () => ({}),
    });
    const fleet = new LiveFleet(plan, startMs);
    const mqtt = new Publishers(url, passwordOf, () => undefined);
    closers.unshift(() => mqtt.close());
    const http = new HttpCrew(api, new Map([['ines', 'secret']]), () => undefined);
    const said: string[] = [];
    const log = (line: string): void => void said.push(line);
    const session = new LiveSession({ plan, fleet, mqtt, http, technicians: ['ines'], office: null, startMs, log });
    await session.tick(startMs + 60_000);
    const pot = fleet.sites
      .find((one) => one.plan === site)!
      .simulation.runs.toSorted((a, b) => missingLitres(b) - missingLitres(a))[0]!;
    const node = site.nodes.find((one) => site.pots[one.places[0]!.potIndex]!.id === pot.spec.id)!;
    const missing = missingLitres(pot);
    const before = pot.balance.refill;

    session.listen();
    const fastUntil = new Date(startMs + 30 * 60_000).toISOString();
    tell(`nodes/${node.id}/settings`, JSON.stringify({ intervalS: 900, fastUntil }));
    let minutes = 1;
    while (minutes < 25 && !said.some((line) => line.includes('the hose runs'))) {
      await new Promise((resolve) => setTimeout(resolve, 60));
      minutes += 0.5;
      await session.tick(startMs + minutes * 60_000);
    }
    expect(said.some((line) => line.startsWith(`${pot.spec.id}: the hose runs`))).toBe(true);
    const litres = Math.round(missing);
    const action = { containerId: pot.spec.id, work: 'refill', litres };
    visits.push({ visit: { id: 'V1', actions: [action] } });
    await session.takePours(startMs + minutes * 60_000);
    await session.tick(startMs + 60 * 60_000);
    // What the meter showed above what the hose brought goes in as well, and nothing twice.
    expect(pot.balance.refill - before).toBeGreaterThan(missing * 0.8);
    expect(pot.balance.refill - before).toBeLessThan(missing + 1.5);
  });
});

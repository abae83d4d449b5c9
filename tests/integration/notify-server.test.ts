import { once } from 'node:events';
import http from 'node:http';
import type { AddressInfo } from 'node:net';
import { fileURLToPath } from 'node:url';
import mqtt from 'mqtt';
import { SMTPServer } from 'smtp-server';
import { afterEach, describe, expect, it } from 'vitest';
import type { Write } from '../../src/domain/change-set.js';
import type { Alert } from '../../src/domain/work.js';
import { signature } from '../../src/notify/webhook.js';
import { startTestServer, TestClock, type TestServer } from '../support/server.js';
import { LOCALHOST_CERT_PEM, LOCALHOST_KEY_PEM } from '../support/tls.js';
import { twoAccountsWrites } from '../support/two-accounts.js';

const NOW_MS = Date.UTC(2026, 5, 5, 8);
const CA_FILE = fileURLToPath(new URL('../support/tls/localhost-cert.pem', import.meta.url));

const closers: (() => Promise<unknown>)[] = [];
afterEach(async () => {
  for (const close of closers.splice(0).reverse()) await close();
});

async function until<Value>(
  what: () => Value | null | undefined | false | Promise<Value | null | undefined | false>,
): Promise<Value> {
  for (;;) {
    const value = await what();
    if (value !== null && value !== undefined && value !== false) return value;
    await new Promise((resolve) => setTimeout(resolve, 20));
  }
}

async function mailServer() {
  const mails: string[] = [];
  const server = new SMTPServer({
    key: LOCALHOST_KEY_PEM,
    cert: LOCALHOST_CERT_PEM,
    authOptional: true,
    onData: (stream, session, done) => {
      const chunks: Buffer[] = [];
      stream.on('data', (chunk: Buffer) => chunks.push(chunk));
      stream.on('end', () => {
        if (session.secure) mails.push(Buffer.concat(chunks).toString('utf8'));
        done();
      });
    },
  });
  const listening = server.listen(0, '127.0.0.1');
  await once(listening, 'listening');
  closers.push(() => new Promise<void>((resolve) => server.close(() => resolve())));
  return { url: `smtp://localhost:${(listening.address() as AddressInfo).port}`, mails };
}

interface Hook {
  readonly headers: http.IncomingHttpHeaders;
  readonly body: string;
}

async function hookServer() {
  const hooks: Hook[] = [];
  const server = http.createServer((request, response) => {
    const chunks: Buffer[] = [];
    request.on('data', (chunk: Buffer) => chunks.push(chunk));
    request.on('end', () => {
      hooks.push({ headers: request.headers, body: Buffer.concat(chunks).toString('utf8') });
      response.writeHead(204).end();
    });
  });
  server.listen(0, '127.0.0.1');
  await once(server, 'listening');
  closers.push(async () => server.close());
  return { url: `http://localhost:${(server.address() as AddressInfo).port}/hook`, hooks };
}

async function startServer(smtpUrl: string): Promise<{ server: TestServer; clock: TestClock }> {
  const clock = new TestClock(NOW_MS);
  const server = await startTestServer({
    seed: twoAccountsWrites(),
    clock,
    environment: {
      BRIMLINE_SMTP_URL: smtpUrl,
      BRIMLINE_MAIL_FROM: 'Alerts <alerts@firm.example>',
      BRIMLINE_CA_FILE: CA_FILE,
      BRIMLINE_PRIVATE_HOSTS: 'localhost',
      BRIMLINE_PUBLIC_URL: 'https://pots.firm.example',
    },
  });
  closers.push(() => server.close());
  return { server, clock };
}

const alertFor = (personId: string, fields: Partial<Alert> = {}): Alert => ({
  id: `stop:S1:${personId}:${NOW_MS}`,
  personId,
  topic: 'stop:S1',
  revision: 1,
  message: [
    { code: 'alert.stop', params: { site: 'Larkspur terrace', pots: 1, dueByMs: NOW_MS + 86_400_000, litres: 19 } },
    { code: 'alert.task.refill', params: { pot: 'Olive', litres: 19, dueByMs: NOW_MS + 86_400_000 } },
  ],
  siteId: 'S1',
  containerIds: ['C1'],
  createdMs: NOW_MS,
  changedMs: NOW_MS,
  readMs: null,
  withdrawnMs: null,
  ...fields,
});

const write = ({ store }: TestServer, ...writes: Write[]) =>
  store.commit({ atMs: NOW_MS, actor: { kind: 'command', id: 'test' }, writes, cursor: null });

describe('a running server', () => {
  it('tells an alert by mail in the person’s units, by signed webhook and on the broker, and takes back what is moot', async () => {
    const mail = await mailServer();
    const receiver = await hookServer();
    const { server } = await startServer(mail.url);
    const owner = await server.loginAs((await server.addPerson('owner')).login);
    const nuria = await server.addPerson('technician', {
      id: 'nuria',
      units: { volume: 'US_gal', length: 'in', temperature: 'degF' },
    });
    // Behind https the cookie is Secure; the page stands on the public address.
    const origin = { origin: 'https://pots.firm.example' };
    const client = await server.loginAs(nuria.login);
    const added = await client.request(
      'POST',
      '/api/v1/addresses',
      { channel: 'email', target: 'nuria@firm.example' },
      origin,
    );
    expect(added.status).toBe(201);
    const hook = await owner.request('POST', '/api/v1/firm-addresses', { target: receiver.url }, origin);
    const { secret } = hook.body as { secret: string };
    const granted = await owner.request(
      'POST',
      '/api/v1/credentials',
      { principalId: 'board', kind: 'subscriber' },
      origin,
    );
    const { secret: password } = granted.body as { secret: string };
    const board = mqtt.connect(server.mqttUrl, { username: 'board', password, reconnectPeriod: 0 });
    closers.push(() => board.endAsync());
    await new Promise<void>((resolve) => board.once('connect', () => resolve()));
    const events: { topic: string; payload: string }[] = [];
    board.on('message', (topic, payload) => events.push({ topic, payload: payload.toString() }));
    await board.subscribeAsync('events/#', { qos: 1 });

    await write(server, { kind: 'alert', row: alertFor('nuria') });
    const text = await until(() => mail.mails[0]);
    expect(text).toContain('To: nuria@firm.example');
    expect(text).toMatch(/5(\.0)? gal/);
    expect(text).toContain('https://pots.firm.example/#/today');
    const { headers, body } = await until(() => receiver.hooks[0]);
    expect(headers['webhook-signature']).toBe(
      signature(secret, String(headers['webhook-id']), String(headers['webhook-timestamp']), body),
    );
    expect(JSON.parse(body)).toMatchObject({
      specversion: '1.0',
      type: 'alert.raised',
      source: 'https://pots.firm.example',
    });
    const event = await until(() => events[0]);
    expect(event.topic).toBe('events/alert.raised');
    expect(JSON.parse(event.payload)).toMatchObject({ subject: 'stop:S1:nuria', data: { withdrawn: false } });

    await write(server, { kind: 'alert', row: alertFor('nuria', { revision: 2, withdrawnMs: NOW_MS + 1 }) });
    const taken = await until(() => events.find(({ topic }) => topic === 'events/alert.withdrawn'));
    expect(JSON.parse(taken.payload)).toMatchObject({ data: { withdrawn: true } });
    await until(() => receiver.hooks.find((one) => one.body.includes('alert.withdrawn')));
    await server.settle();
    await server.running.notify.idle();
    // A mail cannot be taken back, so none is sent to say so.
    expect(mail.mails).toHaveLength(1);
  });

  it('delivers on one channel while another hangs', async () => {
    const silent = http.createServer(() => undefined);
    silent.listen(0, '127.0.0.1');
    await once(silent, 'listening');
    closers.push(async () => {
      silent.closeAllConnections();
      silent.close();
    });
    const hanging = `http://localhost:${(silent.address() as AddressInfo).port}/hook`;
    const mail = await mailServer();
    const { server } = await startServer(mail.url);
    await server.addPerson('technician', { id: 'nuria' });
    await write(
      server,
      {
        kind: 'address',
        row: {
          id: 'hang',
          personId: null,
          channel: 'webhook',
          target: hanging,
          secret: 's',
          createdMs: NOW_MS,
          endedMs: null,
        },
      },
      {
        kind: 'address',
        row: {
          id: 'mail',
          personId: 'nuria',
          channel: 'email',
          target: 'n@firm.example',
          secret: null,
          createdMs: NOW_MS,
          endedMs: null,
        },
      },
      { kind: 'alert', row: alertFor('nuria') },
    );
    await until(() => mail.mails[0]);
    const waiting = await server.store.notify.ofTopic('stop:S1:nuria');
    expect(waiting.find(({ addressId }) => addressId === 'hang')?.state).toBe('waiting');
    silent.closeAllConnections();
  });

  it('makes one set of push keys and keeps it over a restart', async () => {
    const mail = await mailServer();
    const { server } = await startServer(mail.url);
    const first = server.running.notify.reach.pushPublicKey;
    await server.running.stop();
    const again = await startTestServer({
      dir: server.dir,
      environment: { BRIMLINE_PUSH_CONTACT: 'mailto:owner@firm.example' },
    });
    closers.push(() => again.close());
    expect(again.running.notify.reach.pushPublicKey).toBe(first);
  });
});

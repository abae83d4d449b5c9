import { spawn } from 'node:child_process';
import { createECDH, randomBytes } from 'node:crypto';
import { writeFile } from 'node:fs/promises';
import https from 'node:https';
import type { AddressInfo } from 'node:net';
import { join } from 'node:path';
import { SMTPServer } from 'smtp-server';
import { afterEach, describe, expect, it } from 'vitest';
import webPush from 'web-push';
import type { Write } from '../../src/domain/change-set.js';
import type { Address } from '../../src/domain/notify.js';
import type { Person } from '../../src/domain/registry.js';
import type { Alert } from '../../src/domain/work.js';
import { topicOf } from '../../src/notify/web-push.js';
import { openStore } from '../../src/store/open.js';
import type { OutboxTask } from '../support/outbox-process-task.js';
import { programArguments } from '../support/program-path.js';
import { makeTempStore, silentLog } from '../support/temp-store.js';
import { LOCALHOST_CERT_PEM, LOCALHOST_KEY_PEM } from '../support/tls.js';

const AT_MS = Date.UTC(2026, 7, 31, 10);

const PERSON: Person = {
  id: 'tom',
  name: 'Tom',
  login: 'tom',
  role: 'technician',
  accountId: null,
  language: 'en',
  units: { volume: 'L', length: 'mm', temperature: 'Cel' },
  disabledAtMs: null,
};

/**
 * Every step of an alert's way: it is written (commit 1), the stage makes entries for three channels of it (2) and passes
 * over its own lines (3), and each entry is sent and marked (4, 5, 6).
 */
const STEPS: readonly OutboxTask['dieAt'][] = [
  { step: 'after commit', number: 1 },
  { step: 'before commit', number: 2 },
  { step: 'after commit', number: 2 },
  { step: 'before sending', number: 1 },
  { step: 'after sending', number: 1 },
  { step: 'before commit', number: 4 },
  { step: 'after commit', number: 4 },
  { step: 'after sending', number: 2 },
  { step: 'after sending', number: 3 },
  { step: 'before commit', number: 6 },
  { step: 'after commit', number: 6 },
];

const closers: (() => Promise<void>)[] = [];
afterEach(async () => {
  for (const close of closers.splice(0)) await close();
});

/** Key by key how often something reached a far side. */
class Heard {
  readonly #times = new Map<string, number>();
  add(key: string): void {
    this.#times.set(key, (this.#times.get(key) ?? 0) + 1);
  }
  keysWith(part: string): readonly string[] {
    return [...this.#times.keys()].filter((key) => key.includes(part));
  }
  get repeats(): number {
    return [...this.#times.values()].reduce((sum, times) => sum + times - 1, 0);
  }
  get keys(): number {
    return this.#times.size;
  }
}

/** One server for webhooks and, below /push, for a browser's push service. */
async function listenHttps(hooks: Heard, pushes: Heard): Promise<string> {
  const server = https.createServer({ key: LOCALHOST_KEY_PEM, cert: LOCALHOST_CERT_PEM }, (request, response) => {
    request.resume();
    request.on('end', () => {
      if (request.url === '/push') pushes.add(String(request.headers.topic));
      else hooks.add(String(request.headers['webhook-id']));
      response.writeHead(201).end();
    });
  });
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  closers.push(async () => {
    server.closeAllConnections();
    server.close();
  });
  return `https://localhost:${(server.address() as AddressInfo).port}`;
}

async function listenMail(mails: Heard): Promise<number> {
  const server = new SMTPServer({
    key: LOCALHOST_KEY_PEM,
    cert: LOCALHOST_CERT_PEM,
    authOptional: true,
    onData: (stream, _session, done) => {
      const chunks: Buffer[] = [];
      stream.on('data', (chunk: Buffer) => chunks.push(chunk));
      stream.on('end', () => {
        const text = Buffer.concat(chunks).toString('utf8').replaceAll('\r\n ', '');
        mails.add(/^Message-ID: (.*)$/im.exec(text)?.[1]?.trim() ?? 'none');
        done();
      });
    },
  });
  // A client that is killed in the middle of a mail leaves a reset behind.
  server.on('error', () => {});
  const listening = server.listen(0, '127.0.0.1');
  await new Promise<void>((resolve) => listening.once('listening', resolve));
  closers.push(() => new Promise((resolve) => server.close(() => resolve())));
  return (listening.address() as AddressInfo).port;
}

function alertNumber(number: number): Alert {
  return {
    id: `stop:S${number}:tom:0`,
    personId: PERSON.id,
    topic: `stop:S${number}`,
    revision: 1,
    message: [{ code: 'alert.stop', params: { site: `Site ${number}`, pots: 1, dueByMs: AT_MS, litres: 18 } }],
    siteId: null,
    containerIds: [],
    createdMs: AT_MS,
    changedMs: AT_MS,
    readMs: null,
    withdrawnMs: null,
  };
}

function addresses(origin: string): readonly Address[] {
  const receiver = createECDH('prime256v1');
  const keys = {
    p256dh: receiver.generateKeys().toString('base64url'),
    auth: randomBytes(16).toString('base64url'),
  };
  const common = { personId: PERSON.id, createdMs: AT_MS, endedMs: null };
  return [
    { ...common, id: 'hook', channel: 'webhook', target: `${origin}/hook`, secret: 'shared' },
    { ...common, id: 'mail', channel: 'email', target: 'tom@localhost', secret: null },
    { ...common, id: 'phone', channel: 'web_push', target: `${origin}/push`, secret: JSON.stringify(keys) },
  ];
}

/** Runs the process to its end. @returns the signal that ended it, null where it went by itself */
async function run(file: string, task: OutboxTask): Promise<NodeJS.Signals | null> {
  await writeFile(file, JSON.stringify(task));
  const child = spawn(process.execPath, [...programArguments('tests/support/outbox-process.ts'), file], {
    stdio: ['ignore', 'ignore', 'inherit'],
  });
  const [code, signal] = await new Promise<[number | null, NodeJS.Signals | null]>((resolve) => {
    child.once('exit', (...ended) => resolve(ended));
  });
  if (signal === null && code !== 0) throw new Error(`the process ended with ${code}`);
  return signal;
}

describe('a process killed at a step of an alert’s way', () => {
  it('loses no alert, and what is sent again bears the key it bore before', { timeout: 120_000 }, async () => {
    const [hooks, mails, pushes] = [new Heard(), new Heard(), new Heard()];
    const origin = await listenHttps(hooks, pushes);
    const mailPort = await listenMail(mails);
    const { dir, store, remove } = await makeTempStore();
    closers.push(remove);
    const writes: Write[] = [
      { kind: 'person', row: PERSON },
      ...addresses(origin).map((row): Write => ({ kind: 'address', row })),
    ];
    await store.commit({ atMs: AT_MS, actor: { kind: 'command', id: 'test' }, writes, cursor: null });
    await store.close();
    const vapid = webPush.generateVAPIDKeys();
    const common = {
      dir,
      nowMs: AT_MS,
      authorityPem: LOCALHOST_CERT_PEM,
      mail: { port: mailPort, from: 'alerts@localhost', domain: 'brimline.localhost' },
      push: { contact: 'mailto:office@brimline.localhost', ...vapid },
    };
    const file = join(dir, 'task.json');
    for (const [index, dieAt] of STEPS.entries()) {
      const signal = await run(file, { ...common, alert: alertNumber(index), dieAt });
      expect(signal, JSON.stringify(dieAt)).toBe('SIGKILL');
    }
    expect(await run(file, { ...common, alert: null, dieAt: null })).toBeNull();

    for (const [index, step] of STEPS.entries()) {
      const { id, topic } = alertNumber(index);
      const said = JSON.stringify(step);
      expect(hooks.keysWith(`${id}.1.hook`), said).toHaveLength(1);
      expect(mails.keysWith(`stop-S${index}-tom-0.1.mail`), said).toHaveLength(1);
      expect(pushes.keysWith(topicOf(topic)), said).toHaveLength(1);
    }
    expect([hooks.keys, mails.keys, pushes.keys]).toEqual([STEPS.length, STEPS.length, STEPS.length]);
    // Killed between sending and marking, each channel has sent something twice: that is what the keys are for.
    expect(hooks.repeats + mails.repeats + pushes.repeats).toBeGreaterThanOrEqual(5);

    const after = await openStore({ dir, log: silentLog });
    expect(await after.notify.due(AT_MS, 100, null)).toEqual([]);
    await after.close();
  });
});

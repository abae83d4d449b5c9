import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { parseArgs } from 'node:util';
import { importFleet } from '../../src/app/readings/import-fleet.js';
import type { Log } from '../../src/domain/ports/log.js';
import { openStore } from '../../src/store/open.js';
import { type IngestChild, prepareServer } from '../support/ingest-child.js';
import type { ServerFigures } from '../support/ingest-server.js';
import { StormClient } from '../support/storm-client.js';
import type { Benchmark } from './run.js';

const HELP = `Usage: npm run --silent bench ingest -- [--clients N] [--window N] [--messages N] [--rounds N] [--least-ratio R]

Acknowledged readings per second, end to end over real sockets: SenML decoded, checked and committed durably before each
PUBACK, against the same load on the same broker alone, which acknowledges without looking. Both run in processes of
their own, in turns; figures are medians over the rounds.

  --clients N      connections (50)
  --window N       messages on the way on each of them (20)
  --messages N     messages a round (20000)
  --rounds N       rounds (3)
  --least-ratio R  fail where the ratio to the bare broker is smaller (0: never)`;

interface Load {
  readonly clients: number;
  readonly window: number;
  readonly messages: number;
  readonly rounds: number;
}

interface Round {
  readonly perSecond: number;
  readonly cpuMicrosPerMessage: number;
  readonly commits: number;
  readonly commitShare: number;
}

const quiet: Log = { debug: () => {}, info: () => {}, warn: () => {}, error: () => {} };

export const benchmark: Benchmark = {
  name: 'ingest',
  summary: 'acknowledged readings per second, as a ratio to the bare broker',
  help: HELP,
  async run(args) {
    const { load, leastRatio } = readArguments(args);
    const dir = mkdtempSync(join(tmpdir(), 'brimline-bench-'));
    const servers: IngestChild[] = [];
    try {
      await makeStore(dir, load);
      const bare = prepareServer(dir, 'bare');
      const ours = prepareServer(dir, 'honest');
      servers.push(bare, ours);
      const ports = { bare: await bare.listen(), ours: await ours.listen() };
      // The first round warms both up and is not counted.
      const rounds: { readonly bare: Round; readonly ours: Round }[] = [];
      for (let round = 0; round <= load.rounds; round++) {
        const one = await measure(bare, ports.bare, load, round);
        rounds.push({ bare: one, ours: await measure(ours, ports.ours, load, round) });
      }
      await Promise.all(servers.map((server) => server.kill()));
      await checkStored(dir, load);
      report(load, rounds.slice(1), leastRatio);
    } finally {
      await Promise.all(servers.map((server) => server.kill()));
      rmSync(dir, { recursive: true, force: true });
    }
  },
};

function readArguments(args: readonly string[]): { readonly load: Load; readonly leastRatio: number } {
  const text = { type: 'string' } as const;
  const { values } = parseArgs({
    args: [...args],
    options: { clients: text, window: text, messages: text, rounds: text, 'least-ratio': text },
    strict: true,
  });
  const number = (name: keyof typeof values, fallback: number): number => {
    const value = Number(values[name] ?? fallback);
    if (!Number.isFinite(value) || value < 0) throw new Error(`--${name} is “${values[name]}”; a number was expected`);
    return value;
  };
  return {
    load: {
      clients: number('clients', 50),
      window: number('window', 20),
      messages: number('messages', 20_000),
      rounds: number('rounds', 3),
    },
    leastRatio: number('least-ratio', 0),
  };
}

const nodeId = (round: number, client: number): string => `R${round}N${client}`;
const messagesOf = (load: Load): number => Math.floor(load.messages / load.clients);

async function makeStore(dir: string, load: Load): Promise<void> {
  const store = await openStore({ dir, log: quiet });
  const nodes: { id: string }[] = [];
  for (let round = 0; round <= load.rounds; round++) {
    for (let client = 0; client < load.clients; client++) nodes.push({ id: nodeId(round, client) });
  }
  const app = { store, log: quiet, clock: { nowMs: () => Date.now() } };
  await importFleet(app, 'fleet.json', Buffer.from(JSON.stringify({ nodes })));
  await store.close();
}

async function measure(server: IngestChild, port: number, load: Load, round: number): Promise<Round> {
  const perClient = messagesOf(load);
  const clients = Array.from(
    { length: load.clients },
    (_unused, i) => new StormClient(nodeId(round, i), load.window, perClient),
  );
  const before = await server.figures();
  const startedMs = performance.now();
  const done = clients.map((client) => client.done());
  const ended = clients.map((client) => client.run(port));
  await Promise.all(done);
  const seconds = (performance.now() - startedMs) / 1000;
  const after = await server.figures();
  for (const client of clients) client.stop();
  await Promise.all(ended);
  return roundOf(before, after, perClient * load.clients, seconds);
}

function roundOf(before: ServerFigures, after: ServerFigures, messages: number, seconds: number): Round {
  return {
    perSecond: messages / seconds,
    cpuMicrosPerMessage: (after.cpuMicros - before.cpuMicros) / messages,
    commits: after.commits - before.commits,
    commitShare: (after.commitMs - before.commitMs) / 1000 / seconds,
  };
}

/** A benchmark of a server that loses readings would be worth nothing. */
async function checkStored(dir: string, load: Load): Promise<void> {
  const store = await openStore({ dir, log: quiet });
  try {
    for (let round = 0; round <= load.rounds; round++) {
      for (let client = 0; client < load.clients; client++) {
        const rows = await store.readings.ofNode(nodeId(round, client), 0, Number.MAX_SAFE_INTEGER);
        if (rows.length !== messagesOf(load)) {
          throw new Error(
            `${nodeId(round, client)}: ${rows.length} readings stored of ${messagesOf(load)} acknowledged`,
          );
        }
      }
    }
  } finally {
    await store.close();
  }
}

function report(
  load: Load,
  rounds: readonly { readonly bare: Round; readonly ours: Round }[],
  leastRatio: number,
): void {
  const ratios = rounds.map(({ bare, ours }) => ours.perSecond / bare.perSecond);
  const ours = rounds.map((round) => round.ours);
  const bare = rounds.map((round) => round.bare);
  const perRound = messagesOf(load) * load.clients;
  const ratio = median(ratios);
  const lines = [
    `${load.clients} clients, ${load.window} on the way each, ${perRound} messages a round, ${rounds.length} rounds; medians`,
    `bare broker         ${whole(bare, (r) => r.perSecond)} messages/s, ${whole(bare, (r) => r.cpuMicrosPerMessage)} µs of CPU each`,
    `stored, then PUBACK ${whole(ours, (r) => r.perSecond)} readings/s, ${whole(ours, (r) => r.cpuMicrosPerMessage)} µs of CPU each`,
    `ratio               ${ratio.toFixed(2)} (${Math.min(...ratios).toFixed(2)} to ${Math.max(...ratios).toFixed(2)})`,
    `commits             ${whole(ours, (r) => r.commits)} a round, ${Math.round(perRound / median(ours.map((r) => r.commits)))} readings each, ${Math.round(median(ours.map((r) => r.commitShare)) * 100)} % of the time`,
  ];
  console.log(lines.join('\n'));
  if (ratio < leastRatio) throw new Error(`the ratio ${ratio.toFixed(2)} is below ${leastRatio}`);
}

function whole(rounds: readonly Round[], of: (round: Round) => number): string {
  return String(Math.round(median(rounds.map(of))));
}

function median(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  const middle = sorted.length / 2;
  const upper = sorted[Math.floor(middle)] ?? Number.NaN;
  const lower = sorted[Math.ceil(middle) - 1] ?? Number.NaN;
  return (upper + lower) / 2;
}

import { spawnSync } from 'node:child_process';
import { existsSync, mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { basename, join } from 'node:path';
import { FILE_NAME } from '../../src/store/database.js';
import { freePort } from '../support/free-port.js';
import type { StormClient, StormReading } from '../support/storm-client.js';
import { Acts } from './acts.js';
import { damage, openLeft, readingFaults } from './checks.js';
import { type FileStep, readTrace, traceArguments } from './file-trace.js';
import { tortureFleet } from './fleet.js';
import { importFleetFile } from './import.js';
import { potNodes, stormNodes, totalAcknowledged } from './nodes.js';
import { keptWhereFaulty, type Outcome, type Plan, type Scenario } from './scenario.js';
import { serve, untilAcknowledged } from './served.js';

const CUTS_A_KILL = 4;
const READINGS = 2_500;
const SECTOR = 512;

/**
 * The writes and flushes of a server at work are recorded, and replayed up to a moment as if the power had failed then:
 * what was flushed is there, of what was not any part may be, sector by sector. Names in the folder are taken as kept.
 */
export const powerLoss: Scenario = {
  name: 'power-loss',
  summary: 'only what was flushed is left, and any part of what was not',
  share: 0.1,
  missing: () =>
    spawnSync('strace', ['-o', '/dev/null', 'true']).status === 0
      ? null
      : 'strace cannot trace here (apt-get install strace)',
  run: async (plan) => {
    const dir = mkdtempSync(join(tmpdir(), 'brimline-torture-'));
    return keptWhereFaulty(dir, await recordAndReplay(dir, plan));
  },
};

async function recordAndReplay(dir: string, plan: Plan): Promise<Outcome> {
  const live = join(dir, 'live');
  mkdirSync(live);
  await importFleetFile(live, tortureFleet());
  const files = [join(live, FILE_NAME), join(live, `${FILE_NAME}-wal`)];
  const before = new Map(files.map((file) => [file, existsSync(file) ? readFileSync(file) : Buffer.alloc(0)]));
  const output = join(dir, 'trace.txt');
  const nodes = await work(live, files, output);
  const steps = readTrace(output);
  rmSync(output);
  const acknowledged = nodes.flatMap((node) =>
    node.acknowledged.map((reading, index) => ({ reading, atMs: node.acknowledgedMs[index] ?? 0 })),
  );
  const cuts = plan.kills * CUTS_A_KILL;
  const faults: string[] = [];
  for (let cut = 0; cut < cuts && faults.length === 0; cut++) {
    const last = steps[Math.floor(plan.random() * steps.length)];
    if (last === undefined) throw new Error('nothing was written while the server was traced');
    const left = join(dir, 'left');
    mkdirSync(left);
    restore(left, files, before, steps, last.atMs, plan.random);
    const there = acknowledged.filter(({ atMs }) => atMs < last.atMs).map(({ reading }) => reading);
    faults.push(...inspect(left, there).map((fault) => `cut ${cut} at ${last.atMs}: ${fault}`));
    if (faults.length === 0) rmSync(left, { recursive: true });
    if (cut % 20 === 19) plan.say(`${cut + 1} cuts`);
  }
  if (!wouldBeSeen(join(dir, 'control'), files, before, steps, acknowledged, plan.random)) {
    faults.push('a disk that lies about its flushes was not noticed: this check sees nothing');
  }
  const flushes = steps.filter(({ what }) => what.kind === 'sync').length;
  const notes = [`${cuts} cuts into ${steps.length} writes and flushes (${flushes} flushes) of one run`];
  return { kills: cuts, acknowledged: acknowledged.length, acts: 0, faults, notes };
}

/** The control: were the later half of the flushes not kept, readings that were acknowledged would have to be missing. */
function wouldBeSeen(
  left: string,
  files: readonly string[],
  before: ReadonlyMap<string, Buffer>,
  steps: readonly FileStep[],
  acknowledged: readonly { readonly reading: StormReading; readonly atMs: number }[],
  random: () => number,
): boolean {
  mkdirSync(left);
  const kept = steps.filter(({ what }, index) => what.kind !== 'sync' || index < steps.length / 2);
  restore(left, files, before, kept, Number.POSITIVE_INFINITY, () => 0.5 + random() / 2);
  try {
    return (
      inspect(
        left,
        acknowledged.map(({ reading }) => reading),
      ).length > 0
    );
  } finally {
    rmSync(left, { recursive: true });
  }
}

async function work(dir: string, files: readonly string[], output: string): Promise<readonly StormClient[]> {
  const [mqttPort, httpPort] = [await freePort(), await freePort()];
  const server = serve({ dir, mqttPort, httpPort, under: traceArguments(files, output) });
  await server.ready();
  const nodes = [...stormNodes(4), ...potNodes(2)];
  const acts = new Acts(httpPort);
  for (const node of nodes) void node.run(mqttPort);
  acts.start();
  const total = (): number => totalAcknowledged(nodes);
  for (let waits = 0; waits < 10 && total() < READINGS; waits++) await untilAcknowledged(total, READINGS - total());
  for (const node of nodes) node.stop();
  await acts.stop();
  await server.stop();
  return nodes;
}

/** Writes what a disk may hold at `untilMs` into another folder. */
function restore(
  to: string,
  files: readonly string[],
  before: ReadonlyMap<string, Buffer>,
  steps: readonly FileStep[],
  untilMs: number,
  random: () => number,
): void {
  for (const file of files) {
    const image = new FileImage(before.get(file) ?? Buffer.alloc(0));
    let unflushed: FileStep[] = [];
    for (const step of steps) {
      if (step.atMs > untilMs) break;
      if (step.file !== file) continue;
      if (step.what.kind !== 'sync') {
        unflushed.push(step);
        continue;
      }
      for (const one of unflushed) image.apply(one, () => true);
      unflushed = [];
    }
    // How much of the rest came through: from none to nearly all.
    const chance = random();
    for (const one of unflushed) image.apply(one, () => random() < chance);
    if (image.size > 0) writeFileSync(join(to, basename(file)), image.bytes());
  }
}

/** A file in memory that grows as it is written to. */
class FileImage {
  #buffer: Buffer;
  #size: number;

  constructor(content: Buffer) {
    this.#buffer = Buffer.from(content);
    this.#size = content.length;
  }

  get size(): number {
    return this.#size;
  }

  bytes(): Buffer {
    return this.#buffer.subarray(0, this.#size);
  }

  /** @param came says for each sector, and for a truncation as a whole, whether it reached the disk */
  apply({ what }: FileStep, came: () => boolean): void {
    if (what.kind === 'sync') return;
    if (what.kind === 'truncate') {
      if (came()) this.#resize(what.size);
      return;
    }
    for (let at = 0; at < what.bytes.length; at += SECTOR) {
      if (!came()) continue;
      const end = Math.min(at + SECTOR, what.bytes.length);
      if (what.offset + end > this.#size) this.#resize(what.offset + end);
      what.bytes.copy(this.#buffer, what.offset + at, at, end);
    }
  }

  #resize(size: number): void {
    if (size > this.#buffer.length) {
      const grown = Buffer.alloc(size * 2);
      this.#buffer.copy(grown, 0, 0, this.#size);
      this.#buffer = grown;
    }
    if (size < this.#size) this.#buffer.fill(0, size, this.#size);
    this.#size = size;
  }
}

function inspect(dir: string, acknowledged: readonly StormReading[]): readonly string[] {
  const db = openLeft(dir);
  try {
    return [...damage(db, 'full'), ...readingFaults(db, acknowledged).slice(0, 5)];
  } finally {
    db.close();
  }
}

import { type ChildProcessWithoutNullStreams, spawn } from 'node:child_process';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import Database from 'better-sqlite3';
import { expect, onTestFinished, test } from 'vitest';
import type { ChangeSet } from '../../src/domain/change-set.js';
import type { Store } from '../../src/domain/ports/store.js';
import type { Reading } from '../../src/domain/reading.js';
import { FILE_NAME } from '../../src/store/database.js';
import { openStore } from '../../src/store/open.js';
import { openTempStore, silentLog } from '../support/temp-store.js';

const row = (nodeId: string, timeMs: number): Reading => ({
  nodeId,
  timeMs,
  receivedMs: timeMs,
  levelMm: 40,
  moistureFraction: null,
  temperatureC: null,
  batteryV: null,
  batteryFraction: null,
  signalDbm: null,
});

const batch = (nodeId: string, start: number, size: number): ChangeSet => ({
  atMs: start,
  actor: { kind: 'principal', id: nodeId },
  writes: [{ kind: 'readings', rows: Array.from({ length: size }, (_, index) => row(nodeId, start + index)) }],
  cursor: null,
});

/** Moves a stage's cursor one step `times` times, reading again whenever another process was faster. */
async function stepCursor(store: Store, times: number): Promise<void> {
  for (let done = 0; done < times; ) {
    const expectedSeq = await store.changes.cursor('shared');
    try {
      await store.commit({
        atMs: 0,
        actor: { kind: 'stage', id: 'shared' },
        writes: [],
        cursor: { stage: 'shared', expectedSeq, nextSeq: expectedSeq + 1 },
      });
      done += 1;
    } catch (error) {
      // No name of an import: this function also runs, as text, in the other process.
      if (!(error instanceof Error) || !('code' in error) || error.code !== 'cursor_moved') throw error;
    }
  }
}

/** Runs statements in a process of its own, with `store` open on the folder and the functions of this file at hand. */
function otherProcess(
  dir: string,
  statements: string,
): { readonly child: ChildProcessWithoutNullStreams; readonly ended: Promise<number | null> } {
  const script = `
    import { openStore } from './src/store/open.ts';
    const row = ${row.toString()};
    const batch = ${batch.toString()};
    const stepCursor = ${stepCursor.toString()};
    const log = { debug() {}, info() {}, warn() {}, error() {} };
    const store = await openStore({ dir: ${JSON.stringify(dir)}, log });
    ${statements}
    await store.close();`;
  const child = spawn(process.execPath, ['--import', 'tsx', '--input-type=module', '-e', script], {
    cwd: join(import.meta.dirname, '..', '..'),
  });
  child.stderr.on('data', (text) => process.stderr.write(text));
  onTestFinished(() => {
    child.kill('SIGKILL');
  });
  return { child, ended: new Promise((resolve) => child.once('exit', (code) => resolve(code))) };
}

test('a commit of another process is noticed, and is there to be read', async () => {
  const { store, dir } = await openTempStore();
  const told = new Promise<number>((resolve) => {
    store.onCommit(({ seq }) => resolve(seq));
  });
  const { ended } = otherProcess(dir, `await store.commit(batch('theirs', 1, 3));`);
  expect(await told).toBe(1);
  expect(await store.readings.ofNode('theirs', 0, 10)).toHaveLength(3);
  expect(await ended).toBe(0);
});

test('two processes that commit at the same time lose nothing and number no change twice', async () => {
  const { store, dir } = await openTempStore();
  const { child, ended } = otherProcess(
    dir,
    `console.log('ready');
     for (let start = 0; start < 2_000; start += 20) await store.commit(batch('theirs', start, 20));
     await stepCursor(store, 100);`,
  );
  await new Promise((resolve) => child.stdout.once('data', resolve));
  for (let start = 0; start < 2_000; start += 20) {
    await store.commit(batch('ours', start, 20));
    // Lets the other one in between, and this process see what it told.
    await new Promise((resolve) => setImmediate(resolve));
  }
  await stepCursor(store, 100);
  expect(await ended).toBe(0);
  expect(await store.readings.ofNode('ours', 0, 10_000)).toHaveLength(2_000);
  expect(await store.readings.ofNode('theirs', 0, 10_000)).toHaveLength(2_000);
  expect(await store.changes.cursor('shared')).toBe(200);
  const changes = await store.changes.after(0, 1_000);
  expect(changes).toHaveLength(200);
  expect(changes.at(-1)?.seq).toBe(200);
});

test('what a process said it had committed is there after it is killed', async () => {
  const { store, dir } = await openTempStore();
  await store.close();
  const { child } = otherProcess(
    dir,
    `for (let start = 0; ; start += 5) {
       await store.commit(batch('storm', start, 5));
       process.stdout.write(start + '\\n');
     }`,
  );
  let lastSaid = -1;
  for await (const line of createInterface({ input: child.stdout })) {
    lastSaid = Number(line);
    if (lastSaid >= 500) child.kill('SIGKILL');
  }
  expect(lastSaid).toBeGreaterThanOrEqual(500);
  const again = await openStore({ dir, log: silentLog });
  const kept = await again.readings.ofNode('storm', 0, 1e9);
  expect(kept.length).toBeGreaterThanOrEqual(lastSaid + 5);
  // Whole batches only.
  expect(kept.length % 5).toBe(0);
  await again.close();
  const db = new Database(join(dir, FILE_NAME));
  expect(db.pragma('integrity_check', { simple: true })).toBe('ok');
  db.close();
});

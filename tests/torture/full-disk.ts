import { spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync, statfsSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { freePort } from '../support/free-port.js';
import { damage, openLeft, readingFaults, repeatFaults } from './checks.js';
import { tortureFleet } from './fleet.js';
import { importFleetFile } from './import.js';
import { stormNodes, totalAcknowledged } from './nodes.js';
import type { Outcome, Plan, Scenario } from './scenario.js';
import { serve, sleep, untilAcknowledged } from './served.js';

const DISK_MB = 48;
const LEFT_MB = 3;

/** A disk that fills while nodes publish: nothing is acknowledged that is not stored, and it goes on once there is room. */
export const fullDisk: Scenario = {
  name: 'full-disk',
  summary: 'a small disk that fills up under the storm, and gets room again',
  share: 0.01,
  missing: () => {
    const dir = mkdtempSync(join(tmpdir(), 'brimline-mount-'));
    const mounted = mount(dir);
    if (mounted) unmount(dir);
    rmSync(dir, { recursive: true });
    return mounted ? null : 'a file system of a fixed size cannot be mounted here (root only)';
  },
  run: async (plan) => {
    const dir = mkdtempSync(join(tmpdir(), 'brimline-torture-'));
    mount(dir);
    try {
      return await fill(dir, plan);
    } finally {
      unmount(dir);
      rmSync(dir, { recursive: true });
    }
  },
};

async function fill(dir: string, plan: Plan): Promise<Outcome> {
  await importFleetFile(dir, tortureFleet());
  const [mqttPort, httpPort] = [await freePort(), await freePort()];
  const nodes = stormNodes(20);
  const total = (): number => totalAcknowledged(nodes);
  const faults: string[] = [];
  let server = serve({ dir, mqttPort, httpPort });
  await server.ready();
  const filler = join(dir, 'something-else.bin');
  const { bavail, bsize } = statfsSync(dir);
  writeFileSync(filler, Buffer.alloc(Math.max(0, bavail * bsize - LEFT_MB * 1e6)));
  const run = (): void => {
    for (const node of nodes) void node.run(mqttPort);
  };
  run();
  let before = -1;
  while (total() > before) {
    before = total();
    await untilAcknowledged(total, 2_000);
  }
  plan.say(`the disk was full after ${before} readings`);
  const livedOn = server.alive();
  if (!livedOn) faults.push('the server ended instead of waiting for room');
  await sleep(1_000);
  rmSync(filler);
  if (!server.alive()) {
    server = serve({ dir, mqttPort, httpPort });
    await server.ready();
  }
  for (const node of nodes) node.stop();
  run();
  await untilAcknowledged(total, 2_000);
  if (total() <= before) faults.push('nothing is taken though there is room again');
  for (const node of nodes) node.stop();
  await server.stop();
  const db = openLeft(dir);
  for (const node of nodes) faults.push(...readingFaults(db, node.acknowledged).slice(0, 3));
  faults.push(...repeatFaults(db), ...damage(db, 'full'));
  db.close();
  const notes = [
    `${before} readings acknowledged until the disk was full; ` + `${total() - before} more once there was room`,
  ];
  return { kills: 0, acknowledged: total(), acts: 0, faults, notes };
}

function mount(dir: string): boolean {
  return spawnSync('mount', ['-t', 'tmpfs', '-o', `size=${DISK_MB}m`, 'tmpfs', dir]).status === 0;
}

function unmount(dir: string): void {
  spawnSync('umount', ['-l', dir]);
}

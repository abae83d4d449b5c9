import { mkdtempSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { freePort } from '../support/free-port.js';
import { Acts } from './acts.js';
import { damage, ledgerFaults, openLeft, outboxCounts, readingFaults, repeatFaults, visitFaults } from './checks.js';
import { tortureFleet } from './fleet.js';
import { listenForHooks } from './hook.js';
import { importFleetFile } from './import.js';
import { potNodes, stormNodes, totalAcknowledged } from './nodes.js';
import { keptWhereFaulty, type Outcome, type Plan, type Scenario } from './scenario.js';
import { serve, sleep, untilAcknowledged } from './served.js';

const CLOCK = fileURLToPath(new URL('./stepped-clock.js', import.meta.url));
const STEPS_A_RUN = 6;
const HOUR_MS = 3_600_000;

/** The wall clock jumps by hours, forwards and backwards, while everything is at work; some runs end in a kill. */
export const clockSteps: Scenario = {
  name: 'clock-steps',
  summary: 'a wall clock that jumps by hours in both directions',
  share: 0.04,
  run: async (plan) => {
    const dir = mkdtempSync(join(tmpdir(), 'brimline-torture-'));
    const hook = await listenForHooks();
    hook.mend();
    try {
      return keptWhereFaulty(dir, await step(dir, hook.url, plan));
    } finally {
      await hook.close();
    }
  },
};

async function step(dir: string, hookUrl: string, plan: Plan): Promise<Outcome> {
  await importFleetFile(dir, tortureFleet());
  const [mqttPort, httpPort] = [await freePort(), await freePort()];
  const file = join(dir, 'clock-offset');
  writeFileSync(file, '0');
  const nodes = [...stormNodes(4), ...potNodes(2)];
  const total = (): number => totalAcknowledged(nodes);
  const acts = new Acts(httpPort);
  const faults: string[] = [];
  let kills = 0;
  let steps = 0;
  for (let run = 0; run < Math.max(2, plan.kills) && faults.length === 0; run++) {
    const server = serve({
      dir,
      mqttPort,
      httpPort,
      nodeArguments: ['--import', CLOCK],
      environment: { STEPPED_CLOCK_FILE: file },
    });
    await server.ready();
    if (run === 0) await acts.addWebhook(hookUrl);
    for (const node of nodes) void node.run(mqttPort);
    acts.start();
    for (let index = 0; index < STEPS_A_RUN; index++) {
      await untilAcknowledged(total, 100);
      writeFileSync(file, String(Math.round((plan.random() - 0.5) * 24 * HOUR_MS)));
      steps += 1;
      await sleep(100);
    }
    if (!server.alive()) faults.push('the server ended by itself');
    if (run % 2 === 0) {
      await server.kill();
      kills += 1;
    }
    for (const node of nodes) node.stop();
    await acts.stop();
    if (run % 2 !== 0 && (await server.stop()) !== 0) faults.push('told to stop, the server did not end well');
    const db = openLeft(dir);
    try {
      for (const node of nodes) faults.push(...readingFaults(db, node.acknowledged));
      faults.push(
        ...visitFaults(db, acts.acknowledged),
        ...repeatFaults(db),
        ...damage(db, 'full'),
        ...ledgerFaults(db),
      );
      const { dead } = outboxCounts(db);
      if (dead > 0) faults.push(`${dead} messages were given up`);
    } finally {
      db.close();
    }
  }
  faults.push(...acts.refused);
  const notes = [`${steps} steps of up to 12 hours both ways`];
  return { kills, acknowledged: total(), acts: acts.acknowledged.size, faults, notes };
}

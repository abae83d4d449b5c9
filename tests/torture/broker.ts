import { spawnSync } from 'node:child_process';
import { mkdtempSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { freePort } from '../support/free-port.js';
import { runMosquitto } from '../support/mosquitto-process.js';
import { damage, openLeft, readingFaults, repeatFaults } from './checks.js';
import { tortureFleet } from './fleet.js';
import { importFleetFile } from './import.js';
import { stormNodes, totalAcknowledged } from './nodes.js';
import { keptWhereFaulty, type Outcome, type Plan, type Scenario } from './scenario.js';
import { serve, sleep, untilAcknowledged } from './served.js';

const WINDOW = 4;
const RESTART_BROKER_EVERY = 5;
const DRAIN_MS = 120_000;

/** What the broker acknowledged to a node has to be in the store once its queue has been read. */
export const broker: Scenario = {
  name: 'broker',
  summary: 'the same readings through an independent broker (mosquitto), which is restarted now and then',
  share: 0.2,
  missing: () =>
    spawnSync('mosquitto', ['-h']).error === undefined
      ? null
      : 'mosquitto is not installed (apt-get install mosquitto)',
  run: async (plan) => {
    const dir = mkdtempSync(join(tmpdir(), 'brimline-torture-'));
    const mosquitto = await runMosquitto();
    try {
      return keptWhereFaulty(dir, await storm(dir, mosquitto.port, () => mosquitto.restart(), plan));
    } finally {
      await mosquitto.stop();
    }
  },
};

async function storm(dir: string, mqttPort: number, restartBroker: () => Promise<void>, plan: Plan): Promise<Outcome> {
  await importFleetFile(dir, tortureFleet());
  const httpPort = await freePort();
  const brokerUrl = `mqtt://127.0.0.1:${mqttPort}`;
  const nodes = stormNodes(WINDOW);
  const faults: string[] = [];
  let kills = 0;
  let restarts = 0;
  // The subscription has to stand before the first reading, otherwise the broker has nobody to keep it for.
  await (await started()).stop();
  while (kills < plan.kills && faults.length === 0) {
    const server = await started();
    for (const node of nodes) void node.run(mqttPort);
    await untilAcknowledged(() => totalAcknowledged(nodes), Math.floor(1_000 ** plan.random()));
    await sleep(plan.random() * 30);
    if (kills % RESTART_BROKER_EVERY === RESTART_BROKER_EVERY - 1) {
      await restartBroker();
      restarts += 1;
      await sleep(plan.random() * 500);
    }
    if (!server.alive()) faults.push('the server ended by itself');
    await server.kill();
    for (const node of nodes) node.stop();
    kills += 1;
    const db = openLeft(dir);
    faults.push(...damage(db, 'quick'));
    db.close();
    if (kills % 10 === 0) plan.say(`${kills} kills, ${totalAcknowledged(nodes)} readings`);
  }
  const acknowledged = nodes.flatMap((node) => node.acknowledged);
  const server = await started();
  const untilMs = Date.now() + DRAIN_MS;
  let missing = acknowledged;
  let found: readonly string[] = [];
  do {
    await sleep(300);
    const db = openLeft(dir);
    found = readingFaults(db, missing);
    db.close();
    if (found.length === 0) break;
    missing = acknowledged;
  } while (Date.now() < untilMs);
  await server.stop();
  const db = openLeft(dir);
  faults.push(
    ...found.slice(0, 5),
    ...readingFaults(db, acknowledged).slice(0, 5),
    ...repeatFaults(db),
    ...damage(db, 'full'),
  );
  db.close();
  return {
    kills,
    acknowledged: acknowledged.length,
    acts: 0,
    faults,
    notes: [`the broker was restarted ${restarts} times`],
  };

  async function started() {
    const server = serve({ dir, mqttPort: 0, httpPort, brokerUrl });
    await server.ready();
    // Reading from the broker is up a little after the API.
    await sleep(150);
    return server;
  }
}

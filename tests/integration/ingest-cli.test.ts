import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { describe, expect, it, onTestFinished } from 'vitest';
import { openStore } from '../../src/store/open.js';
import { runCli, runHere } from '../support/cli.js';
import { prepareServer } from '../support/ingest-child.js';
import { smallFleet } from '../support/ingest-fixtures.js';
import { StormClient } from '../support/storm-client.js';
import { silentLog } from '../support/temp-store.js';

const HEADER = 'node,time,level_mm,moisture_pct,temperature_c,battery_v';
const SEASON_ROWS = 12_000;
const SEASON_START_MS = Date.UTC(2026, 3, 1);

function folder(): { readonly dir: string; file(name: string, text: string): string } {
  const dir = mkdtempSync(join(tmpdir(), 'brimline-cli-'));
  onTestFinished(() => rmSync(dir, { recursive: true, force: true }));
  return {
    dir: join(dir, 'data'),
    file: (name, text) => {
      writeFileSync(join(dir, name), text);
      return join(dir, name);
    },
  };
}

/** A season of one node, a reading each quarter of an hour, with rows broken on purpose at the lines given. */
function season(broken: Readonly<Record<number, string>>): string {
  const lines = [HEADER];
  for (let i = 0; i < SEASON_ROWS; i++) {
    const time = new Date(SEASON_START_MS + i * 900_000).toISOString();
    lines.push(broken[i + 2] ?? `N1,${time},${(110 - ((i / 96) % 9) * 10).toFixed(1)},31.5,21.4,3.012`);
  }
  return `${lines.join('\n')}\n`;
}

async function countReadings(dir: string, nodeId: string): Promise<number> {
  const store = await openStore({ dir, log: silentLog });
  try {
    return (await store.readings.ofNode(nodeId, 0, Number.MAX_SAFE_INTEGER)).length;
  } finally {
    await store.close();
  }
}

describe('brimline import', () => {
  it('takes a season with broken rows, names these by line, and changes nothing the second time', async () => {
    const { dir, file } = folder();
    const fleet = file('fleet.json', JSON.stringify(smallFleet()));
    const broken = {
      17: 'N1,2026-04-01T04:00:00Z,full,31,21,3',
      4000: 'N9,2026-05-01T04:00:00Z,80,31,21,3',
      11999: 'N1,2026-05-01T04:00:00Z,80',
    };
    const readings = file('season.csv', season(broken));
    const first = await runCli(['import', '--data', dir, '--fleet', fleet, '--readings', readings]);
    expect(first.stderr).not.toContain('rror');
    expect(first.status).toBe(0);
    expect(first.stdout).toContain('2 containers');
    expect(first.stdout).toContain('season.csv: 12000 rows: 11997 taken, 0 repeated, 0 corrected, 3 quarantined');
    for (const line of Object.keys(broken)) expect(first.stdout).toContain(`line ${line}: `);
    expect(await countReadings(dir, 'N1')).toBe(11_997);

    const second = await runHere(['import', '--data', dir, '--fleet', fleet, '--readings', readings, '--json']);
    expect(JSON.parse(second.stdout)).toMatchObject({
      readings: [{ file: 'season.csv', taken: 0, repeated: 11_997, corrected: 0, quarantined: 3 }],
    });
    expect(await countReadings(dir, 'N1')).toBe(11_997);
  });

  it('runs beside a server that is taking readings, and both lose nothing', async () => {
    const { dir, file } = folder();
    const nodes = Array.from({ length: 20 }, (_unused, i) => ({ id: `L${i}` }));
    const fleet = file('fleet.json', JSON.stringify({ ...smallFleet(), nodes }));
    expect(await runHere(['import', '--data', dir, '--fleet', fleet])).toMatchObject({ status: 0 });
    const server = prepareServer(dir, 'honest');
    onTestFinished(() => server.kill());
    const port = await server.listen();
    const clients = nodes.map(({ id }) => new StormClient(id, 5));
    const runs = clients.map((client) => client.run(port));
    const readings = file('season.csv', season({}));
    const total = () => clients.reduce((sum, client) => sum + client.acknowledged.length, 0);
    await expect.poll(total, { timeout: 20_000 }).toBeGreaterThan(0);
    const before = total();
    const imported = await runCli(['import', '--data', dir, '--readings', readings]);
    expect(total()).toBeGreaterThan(before);
    for (const client of clients) client.stop();
    await Promise.all(runs);
    expect(imported.stderr).not.toContain('locked');
    expect(imported.status).toBe(0);
    expect(imported.stdout).toContain(`${SEASON_ROWS} taken`);
    await server.kill();
    expect(await countReadings(dir, 'N1')).toBe(SEASON_ROWS);
    for (const client of clients) {
      expect(await countReadings(dir, client.nodeId)).toBeGreaterThanOrEqual(client.acknowledged.length);
    }
  });

  it('a server takes the readings of a node that was added beside it while it runs', async () => {
    const { dir, file } = folder();
    const fleet = file('fleet.json', JSON.stringify(smallFleet()));
    expect(await runHere(['import', '--data', dir, '--fleet', fleet])).toMatchObject({ status: 0 });
    const server = prepareServer(dir, 'honest');
    onTestFinished(() => server.kill());
    const port = await server.listen();
    expect(await runHere(['node', 'add', 'N5', '--data', dir])).toMatchObject({ status: 0 });
    const client = new StormClient('N5', 1, 3);
    const done = client.done();
    const run = client.run(port);
    await done;
    client.stop();
    await run;
    await server.kill();
    expect(await countReadings(dir, 'N5')).toBe(3);
  });

  it('fails with all faults of a fleet and writes nothing', async () => {
    const { dir, file } = folder();
    const fleet = file('fleet.json', JSON.stringify({ ...smallFleet(), accounts: [{ id: 'A 1', name: 'x' }] }));
    const result = await runHere(['import', '--data', dir, '--fleet', fleet]);
    expect(result.status).toBe(1);
    expect(result.stderr).toContain('fleet.json has 2 faults; nothing was imported');
    expect(result.stderr).toContain('/accounts/0/id');
    expect(result.stderr).toContain('/sites/0/accountId');
  });

  it.each([
    [[], 2, '--data DIR'],
    [['--data', 'x'], 2, 'something to import'],
    [['--data', 'x', '--reading', 'y'], 2, '--readings'],
    [['--data', 'x', '--readings', '/nowhere/readings.csv'], 1, 'there is no such file'],
    [['--data', 'x', '--fleet', '/'], 1, 'is not a file'],
  ] as const)('%j ends with %i and says %s', async (args, status, words) => {
    const result = await runHere(['import', ...args]);
    expect(result.status).toBe(status);
    expect(result.stderr).toContain(words);
  });
});

describe('brimline node add', () => {
  it('prints credentials once, as text or JSON, and refuses to make them twice unasked', async () => {
    const { dir, file } = folder();
    const fleet = file('fleet.json', JSON.stringify(smallFleet()));
    await runHere(['import', '--data', dir, '--fleet', fleet]);
    const first = await runHere(['node', 'add', 'N1', '--data', dir]);
    expect(first.status).toBe(0);
    expect(first.stdout).toMatch(/user name\s+N1\n\s+password\s+[\w-]{32}\n/);
    const again = await runHere(['node', 'add', 'N1', '--data', dir]);
    expect(again).toMatchObject({ status: 1 });
    expect(again.stderr).toContain('--replace');
    const replaced = await runHere(['node', 'add', 'N1', '--data', dir, '--replace', '--json']);
    expect(JSON.parse(replaced.stdout)).toMatchObject({ id: 'N1', kind: 'node', username: 'N1' });
    const station = await runHere(['node', 'add', 'W1', '--data', dir, '--kind', 'station', '--site', 'S1', '--json']);
    expect(JSON.parse(station.stdout)).toMatchObject({ kind: 'station', siteId: 'S1' });
    const gateway = await runHere(['node', 'add', 'G1', '--data', dir, '--kind', 'gateway', '--site', 'S1']);
    expect(gateway.status).toBe(0);
    expect(await runHere(['node', 'add', 'N2', '--data', dir, '--gateway', 'G1'])).toMatchObject({ status: 0 });
  });

  it.each([
    [[], 2, 'needs an ID'],
    [['N1'], 2, '--data DIR'],
    [['N1', '--data', 'DIR', '--kind', 'sensor'], 2, 'node, gateway, station, subscriber'],
    [['N 1', '--data', 'DIR'], 1, '1 to 64'],
    [['W1', '--data', 'DIR', '--kind', 'station'], 1, '--site S'],
    [['W1', '--data', 'DIR', '--kind', 'station', '--site', 'S9'], 1, 'no site'],
    [['G1', '--data', 'DIR', '--kind', 'gateway'], 1, '--site S'],
    [['N1', '--data', 'DIR', '--gateway', 'G9'], 1, 'no gateway'],
    [['N1', '--data', 'DIR', '--site', 'S1'], 1, 'stations and gateways'],
  ] as const)('%j ends with %i and says %s', async (args, status, words) => {
    const { dir } = folder();
    const result = await runHere(['node', 'add', ...args.map((word) => (word === 'DIR' ? dir : word))]);
    expect(result.stderr).toContain(words);
    expect(result.status).toBe(status);
  });
});

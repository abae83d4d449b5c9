import { spawn, spawnSync } from 'node:child_process';
import { createReadStream, mkdirSync, mkdtempSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import { fileURLToPath } from 'node:url';
import { parseArgs } from 'node:util';
import { connectAsync, type MqttClient } from 'mqtt';
import { FILE_NAME } from '../../src/store/database.js';
import { freePort } from '../support/free-port.js';
import { Acts } from './acts.js';
import { count, damage, ledgerFaults, openLeft } from './checks.js';
import { importFleetFile } from './import.js';
import { OWNER, sleep } from './served.js';

const HELP = `Usage: npm run soak -- [--days N] [--containers N] [--seed S]

Lets a simulated fleet live through the real server at speed: its readings over MQTT in the order of their receipt, the
business clock moved along every six hours, jobs running by it. Prints every 30 days what the server holds in memory and
on disk, how long a page takes, and how long the stages need.

  --days N         days to live through   (365)
  --containers N   how many               (120)
  --seed S         of the fleet           (soak-1)`;

const HOUR_MS = 3_600_000;
const DAY_MS = 24 * HOUR_MS;
const STEP_MS = 6 * HOUR_MS;
const WEATHER_DAYS = 5;
const REPORT_DAYS = 30;
const CONNECTIONS = 10;
const LOOKS = 5;
/** Ticks come each second, so a step has to last that long for its jobs to run. */
const LEAST_STEP_MS = 1_100;

interface Row {
  readonly node: string;
  readonly receivedMs: number;
  readonly payload: string;
}

async function main(): Promise<number> {
  const { values } = parseArgs({
    options: {
      days: { type: 'string', default: '365' },
      containers: { type: 'string', default: '120' },
      seed: { type: 'string', default: 'soak-1' },
      help: { type: 'boolean', short: 'h', default: false },
    },
  });
  if (values.help) {
    console.log(HELP);
    return 0;
  }
  const dir = mkdtempSync(join(tmpdir(), 'brimline-soak-'));
  try {
    makeFleet(dir, values.seed, values.containers, values.days);
    return await live(dir);
  } finally {
    rmSync(dir, { recursive: true, force: true });
  }
}

function makeFleet(dir: string, seed: string, containers: string, days: string): void {
  const simulator = fileURLToPath(new URL('../../simulators/main.js', import.meta.url));
  const profile = ['--profile', 'mixed', '--containers', containers, '--days', days, '--origin-days', '0'];
  const made = spawnSync(process.execPath, [simulator, 'fleet', '--seed', seed, '--out', dir, ...profile]);
  if (made.status !== 0) throw new Error(`the fleet could not be simulated: ${made.stderr.toString()}`);
}

async function live(dir: string): Promise<number> {
  const data = join(dir, 'data');
  mkdirSync(data);
  await importFleetFile(data, readFileSync(join(dir, 'fleet.json'), 'utf8'));
  const [httpPort, mqttPort] = [await freePort(), await freePort()];
  const rows = readingsOf(join(dir, 'readings.csv'));
  const first = await rows.next();
  if (first.done === true) throw new Error('the fleet has no readings');
  const startMs = first.value.receivedMs;
  const server = startChild(data, httpPort, mqttPort, startMs);
  await server.ready;
  const weather = new WeatherFeed(data, join(dir, 'weather.csv'));
  const clients = await Promise.all(
    Array.from({ length: CONNECTIONS }, (_unused, i) =>
      connectAsync(`mqtt://127.0.0.1:${mqttPort}`, { clientId: `soak-${i}`, queueQoSZero: false }),
    ),
  );
  const person = new Acts(httpPort);
  await person.look();
  console.log('day   readings   rss MB  heap MB   store MB   page p50/worst ms   step s');
  let readings = 0;
  let row: IteratorResult<Row> = first;
  let steps: number[] = [];
  for (let untilMs = startMs + STEP_MS; row.done !== true; untilMs += STEP_MS) {
    const startedMs = performance.now();
    const batch: Row[] = [];
    while (row.done !== true && row.value.receivedMs < untilMs) {
      batch.push(row.value);
      row = await rows.next();
    }
    if ((untilMs - startMs - STEP_MS) % (WEATHER_DAYS * DAY_MS) === 0) weather.import(untilMs);
    // The clock first: readings from the time to come would be refused.
    await server.at(untilMs);
    await publish(clients, batch);
    readings += batch.length;
    const held = await server.at(untilMs);
    const took = performance.now() - startedMs;
    steps.push(took / 1000);
    if (took < LEAST_STEP_MS) await sleep(LEAST_STEP_MS - took);
    const day = Math.round((untilMs - startMs) / (24 * HOUR_MS));
    if (row.done === true || (untilMs - startMs) % (REPORT_DAYS * 24 * HOUR_MS) === 0) {
      const looks: number[] = [];
      for (let i = 0; i < LOOKS; i++) looks.push(await person.look());
      looks.sort((a, b) => a - b);
      const storeMb = (statSync(join(data, FILE_NAME)).size / 1e6).toFixed(0);
      const mean = steps.reduce((sum, one) => sum + one, 0) / steps.length;
      console.log(
        `${String(day).padStart(3)}${String(readings).padStart(11)}${held.rssMb.toFixed(0).padStart(9)}` +
          `${held.heapMb.toFixed(0).padStart(9)}${storeMb.padStart(11)}` +
          `${`${looks[LOOKS >> 1]?.toFixed(0)}/${looks.at(-1)?.toFixed(0)}`.padStart(20)}${mean.toFixed(2).padStart(9)}`,
      );
      steps = [];
    }
  }
  for (const client of clients) await client.endAsync(true);
  await server.stop();
  return check(data, readings);
}

function check(data: string, readings: number): number {
  const db = openLeft(data);
  try {
    const stored = count(db, 'SELECT count(*) FROM reading');
    const refused = count(db, 'SELECT count(*) FROM quarantine');
    const faults = [...damage(db, 'full'), ...ledgerFaults(db)];
    console.log(`${readings} published, ${stored} readings stored, ${refused} records in quarantine`);
    for (const fault of faults) console.log(`FAULT: ${fault}`);
    return faults.length > 0 ? 1 : 0;
  } finally {
    db.close();
  }
}

async function publish(clients: readonly MqttClient[], batch: readonly Row[]): Promise<void> {
  await Promise.all(
    clients.map(async (client, index) => {
      const own = batch.filter((_unused, at) => at % clients.length === index);
      await Promise.all(
        own.map(({ node, payload }) => client.publishAsync(`nodes/${node}/readings`, payload, { qos: 1 })),
      );
    }),
  );
}

async function* readingsOf(file: string): AsyncGenerator<Row> {
  const lines = createInterface({ input: createReadStream(file, 'utf8') });
  for await (const line of lines) {
    const [node, time, level, moisture, temperature, battery, received] = line.split(',');
    if (node === undefined || node === 'node' || time === undefined) continue;
    const records = [
      ['level', 'mm', level],
      ['moisture', '/100', moisture],
      ['temperature', 'Cel', temperature],
      ['battery', 'V', battery],
    ].flatMap(([n, u, v]) => (v === undefined || v === '' ? [] : [{ n, u, v: Number(v), t: Date.parse(time) / 1000 }]));
    const receivedMs = Date.parse(received === undefined || received === '' ? time : received);
    if (records.length > 0) yield { node, receivedMs, payload: JSON.stringify(records) };
  }
}

/** What was observed and forecast, handed in as it becomes known, some days at a time. */
class WeatherFeed {
  readonly #data: string;
  readonly #head: string;
  readonly #lines: readonly { readonly knownMs: number; readonly line: string }[];
  #next = 0;

  constructor(data: string, file: string) {
    const [head = '', ...lines] = readFileSync(file, 'utf8').trim().split('\n');
    this.#data = data;
    this.#head = head;
    this.#lines = lines
      .map((line) => {
        const columns = line.split(',');
        const issued = columns.at(-1) ?? '';
        const endOfDayMs = Date.parse(`${columns[1]}T00:00:00Z`) + DAY_MS;
        return { knownMs: issued === '' ? endOfDayMs : Date.parse(issued), line };
      })
      .sort((a, b) => a.knownMs - b.knownMs);
  }

  import(untilMs: number): void {
    const from = this.#next;
    while ((this.#lines[this.#next]?.knownMs ?? Number.POSITIVE_INFINITY) < untilMs) this.#next += 1;
    if (this.#next === from) return;
    const part = join(this.#data, 'weather-part.csv');
    const lines = this.#lines.slice(from, this.#next).map(({ line }) => line);
    writeFileSync(part, `${[this.#head, ...lines].join('\n')}\n`);
    const program = fileURLToPath(new URL('../../src/main.js', import.meta.url));
    const done = spawnSync(process.execPath, [program, 'import', '--data', this.#data, '--weather', part]);
    if (done.status !== 0) throw new Error(`the weather could not be imported: ${done.stderr.toString()}`);
  }
}

function startChild(data: string, httpPort: number, mqttPort: number, startMs: number) {
  const program = fileURLToPath(new URL('./soak-server.js', import.meta.url));
  const child = spawn(process.execPath, [program, data, String(httpPort), String(mqttPort), String(startMs)], {
    stdio: ['pipe', 'pipe', 'inherit'],
    env: {
      ...process.env,
      BRIMLINE_OWNER_LOGIN: OWNER.login,
      BRIMLINE_OWNER_PASSWORD: OWNER.password,
      BRIMLINE_OWNER_NAME: 'Soak',
    },
  });
  const lines = createInterface({ input: child.stdout })[Symbol.asyncIterator]();
  const answer = async (): Promise<string> => {
    const { value, done } = await lines.next();
    if (done === true) throw new Error('the server ended');
    return value;
  };
  return {
    ready: answer(),
    at: async (nowMs: number): Promise<{ rssMb: number; heapMb: number }> => {
      child.stdin.write(`at ${nowMs}\n`);
      return JSON.parse(await answer()) as { rssMb: number; heapMb: number };
    },
    stop: () =>
      new Promise<void>((resolve) => {
        child.once('exit', () => resolve());
        child.stdin.end('stop\n');
      }),
  };
}

process.exitCode = await main();

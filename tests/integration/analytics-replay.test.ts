import { execFile } from 'node:child_process';
import { mkdtemp, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { promisify } from 'node:util';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { gaussian, seededRng } from '../support/pot-series.js';
import { programArguments } from '../support/program-path.js';

const run = promisify(execFile);
const START_MS = Date.parse('2026-04-01T00:00:00Z');
const DAY_MS = 86_400_000;
const DAYS = 40;

const iso = (ms: number): string => new Date(ms).toISOString().replace('.000Z', 'Z');

const FLEET = {
  accounts: [{ id: 'A1', name: 'Account' }],
  sites: [
    {
      id: 'S1',
      accountId: 'A1',
      name: 'Roof',
      latitude: 41.2,
      longitude: 2.1,
      elevationM: 5,
      timeZone: 'Europe/Madrid',
      tap: true,
    },
    {
      id: 'S2',
      accountId: 'A1',
      name: 'Deck',
      latitude: 28.4,
      longitude: -81.3,
      elevationM: 20,
      timeZone: 'America/New_York',
      tap: true,
    },
  ],
  containers: ['C1', 'C2', 'C3'].map((id, index) => ({
    id,
    siteId: index === 2 ? 'S2' : 'S1',
    name: id,
    covered: index !== 1,
    installedOn: '2026-03-31',
    reservoir: {
      strapping: [
        [0, 0],
        [100, 15],
        [240, 36],
      ],
      overflowMm: 200,
      wickFootMm: 10,
    },
    soil: { litres: 60, surfaceM2: 0.25 },
    potKg: 30,
    nodeId: `N${index + 1}`,
  })),
};

interface Row {
  readonly receivedMs: number;
  readonly line: string;
}

/** Three pots; a tenth of the readings arrive hours late, some twice. */
function readingRows(): Row[] {
  const rng = seededRng(11);
  const rows: Row[] = [];
  for (const node of ['N1', 'N2', 'N3']) {
    let levelMm = 190;
    for (let i = 0; i < DAYS * 48; i++) {
      const timeMs = START_MS + i * 1_800_000;
      const hour = (timeMs / 3_600_000) % 24;
      levelMm -= (hour > 6 && hour < 20 ? 0.55 : 0.08) * (node === 'N3' ? 1.4 : 1);
      if (levelMm < 40 && Math.floor(hour) === 9) levelMm = 185;
      const seen = Math.max(0, Math.round((levelMm + 0.6 * gaussian(rng)) * 10) / 10);
      const receivedMs = timeMs + (rng() < 0.1 ? rng() * 9 * 3_600_000 : 20_000);
      const line = `${node},${iso(timeMs)},${seen},,,,${iso(Math.round(receivedMs / 1000) * 1000)}`;
      rows.push({ receivedMs, line });
      if (rng() < 0.02) rows.push({ receivedMs, line });
    }
  }
  return rows;
}

const HEADER = 'node,time,level_mm,moisture_pct,temperature_c,battery_v,received';

describe('brimline replay', () => {
  let dir = '';
  const rows = readingRows();
  const origins = [20, 25, 30, 35].map((day) => iso(START_MS + day * DAY_MS + 5.5 * 3_600_000));

  const replay = async (name: string, lines: readonly string[], times: readonly string[], threads = '2') => {
    const readings = join(dir, `${name}.csv`);
    await writeFile(readings, `${HEADER}\n${lines.join('\n')}\n`);
    await writeFile(join(dir, `${name}-origins.csv`), `time\n${times.join('\n')}\n`);
    const out = join(dir, name);
    const { stdout } = await run(process.execPath, [
      ...programArguments('src/main.ts'),
      'replay',
      ...['--fleet', join(dir, 'fleet.json'), '--readings', readings, '--weather', join(dir, 'weather.csv')],
      ...['--origins', join(dir, `${name}-origins.csv`), '--out', out, '--threads', threads],
    ]);
    const read = (file: string): Promise<string> => readFile(join(out, file), 'utf8');
    const files = await Promise.all(['forecasts.csv', 'events.csv', 'findings.csv'].map(read));
    return { stdout, forecasts: files[0]!, events: files[1]!, findings: files[2]! };
  };

  beforeAll(async () => {
    dir = await mkdtemp(join(tmpdir(), 'brimline-replay-'));
    await writeFile(join(dir, 'fleet.json'), JSON.stringify(FLEET));
    const weather = ['site,date,tmin_c,tmax_c,rain_mm,et0_mm,issued'];
    for (let day = 0; day < DAYS; day++) {
      const date = iso(START_MS + day * DAY_MS).slice(0, 10);
      for (const site of ['S1', 'S2']) weather.push(`${site},${date},12,24,${day % 6 === 0 ? 4 : 0},${4 + (day % 3)},`);
    }
    await writeFile(join(dir, 'weather.csv'), `${weather.join('\n')}\n`);
  });

  afterAll(async () => {
    await rm(dir, { recursive: true, force: true });
  });

  it('writes the same bytes whatever the order of the file and the number of threads', async () => {
    const lines = rows.map((row) => row.line);
    const shuffled = [...lines].sort((a, b) => (a.slice(-12) < b.slice(-12) ? -1 : 1));
    const one = await replay('one', lines, origins);
    const two = await replay('two', shuffled, origins, '0');
    expect(two.forecasts).toBe(one.forecasts);
    expect(two.events).toBe(one.events);
    expect(two.findings).toBe(one.findings);
    const table = one.forecasts.trim().split('\n');
    expect(table[0]).toBe(
      'container,origin,level_mm,litres,rate_l_per_day,dry_p10,dry_p50,dry_p90,stress_p10,stress_p50,stress_p90',
    );
    expect(table).toHaveLength(1 + 3 * origins.length);
    expect(one.events).toMatch(/^container,kind,start,end,litres,confidence\nC1,/);
    expect(one.findings.split('\n')[0]).toBe('container,kind,opened,closed,size,unit,height_mm,confidence');
  });

  it('says at an origin what it says when the file ends there: nothing received later counts', async () => {
    const originMs = Date.parse(origins[2]!);
    const all = await replay(
      'all',
      rows.map((row) => row.line),
      origins,
    );
    const known = rows.filter((row) => Math.round(row.receivedMs / 1000) * 1000 <= originMs).map((row) => row.line);
    const cut = await replay('cut', known, origins.slice(0, 3));
    const upTo = (text: string): string[] =>
      text.split('\n').filter((line) => origins.slice(0, 3).some((at) => line.includes(`,${at},`)));
    expect(upTo(cut.forecasts)).toEqual(upTo(all.forecasts));
    expect(upTo(cut.forecasts)).toHaveLength(9);
  });

  it('names bad rows by line and goes on', async () => {
    const lines = rows.slice(0, 400).map((row) => row.line);
    lines.splice(3, 0, 'N1,yesterday,100,,,,', 'N9,2026-04-02T00:00:00Z,100,,,,', 'N1,2026-04-02T00:00:10Z,abc,,,,');
    const { stdout } = await replay('bad', lines, origins.slice(0, 1));
    expect(stdout).toContain('403 rows: 400 taken, 3 refused');
    expect(stdout).toMatch(/line 5: time is .*yesterday/);
    expect(stdout).toMatch(/line 6: Node N9/);
  });
});

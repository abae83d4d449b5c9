import { describe, expect, it } from 'vitest';
import { csvLines, MAX_LINE_CHARACTERS, splitCells } from '../../src/app/readings/import-csv-lines.js';
import { importReadings, importWeather } from '../../src/app/readings/import-files.js';
import { DomainError } from '../../src/domain/errors.js';
import { fileOf, NOW_MS, openFleetStore, type TestApp } from '../support/ingest-fixtures.js';

const HEADER = 'node,time,level_mm,moisture_pct,temperature_c,battery_v';
const quiet = () => {};

const readings = (app: TestApp, text: string | Uint8Array, chunkBytes?: number) =>
  importReadings(app, { name: 'readings.csv', input: fileOf(text, chunkBytes) }, quiet);
const weather = (app: TestApp, text: string) => importWeather(app, { name: 'weather.csv', input: fileOf(text) }, quiet);

const stored = (app: TestApp, nodeId = 'N1') => app.store.readings.ofNode(nodeId, 0, NOW_MS + 1e9);

async function quarantineOf(app: TestApp) {
  return (await app.store.readings.quarantine({ limit: 500, cursor: null })).rows;
}

async function refusal(promise: Promise<unknown>): Promise<string> {
  try {
    await promise;
  } catch (error) {
    if (error instanceof DomainError) return `${error.code}: ${error.message}`;
    throw error;
  }
  return 'taken';
}

describe('lines of a file', () => {
  const lines = async (text: string, chunkBytes: number) => {
    const all = [];
    for await (const part of csvLines(fileOf(text, chunkBytes))) all.push(...part);
    return all;
  };

  it.each([1, 2, 3, 7, 1000])('are the same whatever the chunks, here of %i bytes', async (chunkBytes) => {
    expect((await lines('a,b\r\n\nc\n"d', chunkBytes)).map((one) => [one.line, one.text])).toEqual([
      [1, 'a,b'],
      [2, ''],
      [3, 'c'],
      [4, '"d'],
    ]);
  });

  it('that are overlong are cut, and the next line keeps its number', async () => {
    const [long, next] = await lines(`${'x'.repeat(10 * MAX_LINE_CHARACTERS)}\nnext\n`, 10_000);
    expect(long).toMatchObject({ line: 1, cutFromCharacters: 10 * MAX_LINE_CHARACTERS });
    expect(long?.text.length).toBeLessThan(5_000);
    expect(next).toMatchObject({ line: 2, text: 'next', cutFromCharacters: null });
  });

  it('lose blanks and a pair of quotes around each cell', () => {
    expect(splitCells('"N1", 2 ,"",""x')).toEqual(['N1', '2', '', '""x']);
  });
});

describe('importing readings', () => {
  it('takes good rows, names bad ones by line, and goes on', async () => {
    const app = await openFleetStore();
    const summary = await readings(
      app,
      [
        HEADER,
        'N1,2026-08-01T00:00:00Z,80.5,31,21.5,3.01',
        'N1,2026-08-01T00:15:00Z,,30.5,,',
        'N1,yesterday,80,31,21,3',
        'N1,2026-02-30T00:00:00Z,80,31,21,3',
        'N1,2026-08-01T00:30:00+02:00,80,31,21,3',
        'N1,2026-08-01T00:30:00Z,"80,5",31,21,3',
        'N1,2026-08-01T00:30:00Z,NaN,31,21,3',
        'N1,2026-08-01T00:30:00Z,Infinity,31,21,3',
        'N1,2026-08-01T00:30:00Z,1e400,31,21,3',
        'N1,2026-08-01T00:30:00Z,90000,31,21,3',
        'N1,2026-08-01T00:30:00Z,80,310,21,3',
        'N9,2026-08-01T00:30:00Z,80,31,21,3',
        'N1,2025-08-01T00:30:00Z,80,31,21,3',
        'N1,2027-08-01T00:30:00Z,80,31,21,3',
        'N1,2026-08-01T00:30:00Z,,,,',
        'two words,2026-08-01T00:30:00Z,80,31,21,3',
        '',
        '"N1","2026-08-01T01:00:00.250Z","79","31","21","3"',
      ].join('\r\n'),
    );
    expect(summary).toMatchObject({ rows: 17, taken: 3, repeated: 0, corrected: 0, quarantined: 14 });
    expect(summary.firstBadRows.map((row) => [row.line, row.refusal])).toEqual([
      [4, 'bad_row'],
      [5, 'bad_row'],
      [6, 'bad_row'],
      [7, 'bad_row'],
      [8, 'bad_row'],
      [9, 'bad_row'],
      [10, 'bad_row'],
      [11, 'impossible_value'],
      [12, 'impossible_value'],
      [13, 'unknown_node'],
      [14, 'before_first_assignment'],
      [15, 'too_far_ahead'],
      [16, 'no_quantity'],
      [17, 'bad_row'],
    ]);
    expect(summary.firstBadRows.every((row) => row.detail.length > 20)).toBe(true);
    expect((await stored(app)).map((row) => [row.timeMs % 1000, row.levelMm, row.moistureFraction])).toEqual([
      [0, 80.5, 0.31],
      [0, null, 0.305],
      [250, 79, 0.31],
    ]);
    expect((await quarantineOf(app)).map((row) => row.source)).toContain('file:readings.csv:13');
  });

  it('changes nothing when the same file comes again', async () => {
    const app = await openFleetStore();
    const text = `${HEADER}\nN1,2026-08-01T00:00:00Z,80,31,21,3\nN9,2026-08-01T00:00:00Z,80,31,21,3\nN1,x,1,1,1,1\n`;
    await readings(app, text);
    const seq = await app.store.changes.lastSeq();
    expect(await readings(app, text)).toMatchObject({ taken: 0, repeated: 1, corrected: 0, quarantined: 2 });
    expect(await app.store.changes.lastSeq()).toBe(seq);
    expect(await quarantineOf(app)).toHaveLength(2);
  });

  it('fills in what was missing, and corrects what was received later', async () => {
    const app = await openFleetStore();
    const header = `${HEADER},received`;
    const time = '2026-08-01T00:00:00Z';
    const file = (row: string) => `${header}\n${row}\n`;
    await readings(app, file(`N1,${time},80,,,,2026-08-01T01:00:00Z`));
    expect(await readings(app, file(`N1,${time},,31,,,2026-08-01T02:00:00Z`))).toMatchObject({ taken: 1 });
    expect(await readings(app, file(`N1,${time},82,,,,2026-08-01T03:00:00Z`))).toMatchObject({ corrected: 1 });
    // Received before the correction, so it comes too late to count.
    await readings(app, file(`N1,${time},81,,,,2026-08-01T02:30:00Z`));
    expect(await stored(app)).toMatchObject([
      { levelMm: 82, moistureFraction: 0.31, receivedMs: Date.UTC(2026, 7, 1, 1) },
    ]);
  });

  it('finds columns by name in any order and passes over the ones it does not know', async () => {
    const app = await openFleetStore();
    await readings(app, '\ufeffcolour,level_mm,TIME,node\nblue,80,2026-08-01T00:00:00Z,N1\n');
    expect(await stored(app)).toMatchObject([{ levelMm: 80, batteryV: null }]);
  });

  it.each([
    ['an empty file', ''],
    ['blank lines only', '\n\n\n'],
    ['no column of the node', 'nod,time,level_mm\nN1,2026-08-01T00:00:00Z,80\n'],
    ['no quantity', 'node,time\nN1,2026-08-01T00:00:00Z\n'],
    ['semicolons', 'node;time;level_mm\nN1;2026-08-01T00:00:00Z;80\n'],
    ['a column twice', 'node,time,level_mm,time\n'],
    ['a single line of 10 MB', 'x'.repeat(10_000_000)],
    ['UTF-16', Buffer.from('\ufeffnode,time,level_mm\n', 'utf16le')],
  ])('refuses a file with %s in words, and writes nothing', async (_what, text) => {
    const app = await openFleetStore();
    const seq = await app.store.changes.lastSeq();
    expect(await refusal(readings(app, text))).toMatch(/^file_unreadable: readings\.csv.{20,}/);
    expect(await app.store.changes.lastSeq()).toBe(seq);
  });

  it('says what a mistyped column may have been', async () => {
    const app = await openFleetStore();
    expect(await refusal(readings(app, 'nod,time,level_mm\n'))).toContain('"nod" may be meant for "node"');
  });

  it('keeps the bytes of a row that is not valid UTF-8', async () => {
    const app = await openFleetStore();
    const bytes = Buffer.concat([
      Buffer.from(`${HEADER}\nN1,`),
      Buffer.from([0xc3, 0x28]),
      Buffer.from(',80,31,21,3\n'),
    ]);
    expect(await readings(app, bytes)).toMatchObject({ quarantined: 1 });
    const [row] = await quarantineOf(app);
    expect(Buffer.from(row?.raw ?? []).includes(Buffer.from([0xc3, 0x28]))).toBe(true);
  });

  it('quarantines a line of 10 MB by its number and reads on', async () => {
    const app = await openFleetStore();
    const text = `${HEADER}\n${'9'.repeat(10_000_000)}\nN1,2026-08-01T00:00:00Z,80,31,21,3\n`;
    const summary = await readings(app, text, 100_000);
    expect(summary).toMatchObject({ taken: 1, quarantined: 1, firstBadRows: [{ line: 2 }] });
  });

  it('commits in parts of ten thousand rows', async () => {
    const app = await openFleetStore();
    const start = Date.UTC(2026, 5, 1);
    const rows = Array.from(
      { length: 25_000 },
      (_unused, i) => `N1,${new Date(start + i * 60_000).toISOString()},${80 + (i % 10)},31,21,3`,
    );
    const progress: number[] = [];
    const summary = await importReadings(
      app,
      { name: 'readings.csv', input: fileOf(`${HEADER}\n${rows.join('\n')}\n`, 1 << 22) },
      (done) => progress.push(done),
    );
    expect(summary).toMatchObject({ rows: 25_000, taken: 25_000, quarantined: 0 });
    expect(progress).toEqual([10_000, 20_000, 25_000]);
    expect(await stored(app)).toHaveLength(25_000);
  });
});

describe('importing weather', () => {
  const WEATHER = 'site,date,tmin_c,tmax_c,humidity_pct,wind_ms,solar_mj,rain_mm,et0_mm';

  it('takes observations and forecasts, and names bad rows by line', async () => {
    const app = await openFleetStore();
    const summary = await weather(
      app,
      [
        `${WEATHER},rain_probability,issued`,
        'S1,2026-08-29,18,29,60,2.1,22.5,0,5.1,,',
        'S1,2026-09-01,18,29,,,,4,,0.6,2026-08-30T06:00:00Z',
        'S1,2026-09-01,18,29,60,2.1,22.5,0,5.1,,',
        'S1,2026-08-28,29,18,60,2.1,22.5,0,5.1,,',
        'S9,2026-08-28,18,29,60,2.1,22.5,0,5.1,,',
        'S1,2026-08-28,18,29,60,2.1,22.5,0,5.1,60,',
        'S1,2026-13-28,18,29,60,2.1,22.5,0,5.1,,',
        'S1,2026-09-02,18,29,,,,4,,0.6,2026-12-30T06:00:00Z',
        'S1,2026-08-27,,,,,,,,,',
      ].join('\n'),
    );
    expect(summary).toMatchObject({ rows: 9, taken: 2, quarantined: 7 });
    expect(summary.firstBadRows.map((row) => [row.line, row.refusal])).toEqual([
      [4, 'too_far_ahead'],
      [5, 'impossible_value'],
      [6, 'unknown_site'],
      [7, 'impossible_value'],
      [8, 'bad_row'],
      [9, 'too_far_ahead'],
      [10, 'no_quantity'],
    ]);
    expect(await app.store.weather.observedDays('S1', '2026-08-01', '2026-08-31')).toMatchObject([
      { day: '2026-08-29', humidityFraction: 0.6, et0Mm: 5.1, issuedMs: null },
    ]);
    expect(await app.store.weather.forecastDays('S1', '2026-08-31', NOW_MS)).toMatchObject([
      { day: '2026-09-01', rainProbability: 0.6, issuedMs: Date.UTC(2026, 7, 30, 6) },
    ]);
  });

  it('changes nothing when the same file comes again, and counts repeats and corrections', async () => {
    const app = await openFleetStore();
    const observed = `${WEATHER}\nS1,2026-08-28,18,29,60,2.1,,0,\nS1,2026-08-29,18,29,60,2.1,,0,\n`;
    const forecast = `${WEATHER},issued\nS1,2026-09-01,18,29,60,2.1,,0,,2026-08-30T06:00:00Z\n`;
    await weather(app, observed);
    await weather(app, forecast);
    const seq = await app.store.changes.lastSeq();
    expect(await weather(app, observed)).toMatchObject({ taken: 0, repeated: 2 });
    expect(await weather(app, forecast)).toMatchObject({ taken: 0, repeated: 1 });
    expect(await app.store.changes.lastSeq()).toBe(seq);
    expect(await weather(app, `${WEATHER}\nS1,2026-08-28,18,30,,,,,\nS1,2026-08-29,,,,,21,,\n`)).toMatchObject({
      taken: 1,
      corrected: 1,
    });
    expect(await app.store.weather.observedDays('S1', '2026-08-28', '2026-08-29')).toMatchObject([
      { tmaxC: 30, rainMm: 0 },
      { tmaxC: 29, solarMjPerM2: 21 },
    ]);
  });
});

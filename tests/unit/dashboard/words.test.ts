import { describe, expect, it } from 'vitest';
import { unwire } from '../../../dashboard/src/api/unwire.js';
import { resolutionOf, waterColumns, windowOf } from '../../../dashboard/src/state/chart-data.js';
import { toCsv } from '../../../dashboard/src/state/csv.js';
import { addMonths, monthSpan } from '../../../dashboard/src/state/months.js';
import { formatRoute, parseRoute } from '../../../dashboard/src/state/route.js';
import { mayOpen } from '../../../dashboard/src/state/screens-of-role.js';
import { searchIndex, searchRows } from '../../../dashboard/src/state/search.js';
import { makeVoice } from '../../../dashboard/src/state/voice.js';
import { sayBy, sayDry, sayWork } from '../../../dashboard/src/state/words.js';
import { EN } from '../../../src/domain/texts/en/index.js';
import { toWire } from '../../../src/http/wire.js';

const NOW_MS = Date.parse('2026-08-31T04:41:00Z');
const HOUR_MS = 3_600_000;
const UNITS = { volume: 'L', length: 'mm', temperature: 'Cel' } as const;
const voice = makeVoice(EN, { locale: 'en-GB', timeZone: 'Europe/Madrid', units: UNITS });

describe('what the page says', () => {
  it('of a dry pot, a window, an open window and the horizon', () => {
    const at = (hours: number): number => NOW_MS + hours * HOUR_MS;
    expect(sayDry(voice, null, NOW_MS)).toBe('nobody knows when it runs dry');
    expect(sayDry(voice, { p10Ms: at(-2), p50Ms: at(-1), p90Ms: at(3) }, NOW_MS)).toBe('dry now');
    expect(sayDry(voice, { p10Ms: at(4), p50Ms: at(6), p90Ms: at(24) }, NOW_MS)).toBe(
      'dry today 12:41; 8 chances in 10 that it is between today 10:41 and tomorrow 06:41',
    );
    expect(sayDry(voice, { p10Ms: at(96), p50Ms: null, p90Ms: null }, NOW_MS)).toContain('1 chance in 10');
    expect(sayDry(voice, { p10Ms: null, p50Ms: null, p90Ms: null }, NOW_MS)).toBe('not dry within 60 days');
  });

  it('of a moment by which something is due, with the hour alone where it is today', () => {
    expect(sayBy(voice, NOW_MS + HOUR_MS, NOW_MS)).toBe('by 07:41');
    expect(sayBy(voice, NOW_MS + 20 * HOUR_MS, NOW_MS)).toBe('by tomorrow 02:41');
  });

  it('of work, with the number and its unit on one line', () => {
    expect(sayWork(voice, 40)).toBe('40\u00a0min');
    expect(sayWork(voice, 125)).toBe('2\u00a0h 5\u00a0min');
  });

  it('shows a message that it does not know, and hides nothing', () => {
    expect(voice.tell({ code: 'from.the.future', params: { litres: 3 } })).toBe('[from.the.future] {"litres":3}');
  });
});

describe('what comes over the wire', () => {
  it('turns back into what the server had, instants and all', () => {
    const row = {
      dueByMs: NOW_MS,
      createdMs: NOW_MS,
      asOfMs: NOW_MS,
      acknowledgedBy: 'P1',
      dry: { p10Ms: NOW_MS, p50Ms: null, p90Ms: null },
      transitions: [{ atMs: NOW_MS, from: 'planned', to: 'done' }],
      message: { code: 'x', params: { dueByMs: NOW_MS } },
      day: '2026-08-31',
    };
    expect(unwire(toWire(row))).toMatchObject(row);
  });

  it('reads a column of instants as numbers', () => {
    expect(unwire({ time: ['2026-08-31T04:41:00.000Z'] })).toEqual({ timeMs: [NOW_MS] });
  });
});

describe('where the page stands', () => {
  it('comes back from its own address', () => {
    for (const route of [
      { screen: 'today' },
      { screen: 'round', technicianId: 'P 1/ä', day: '2026-09-02' },
      { screen: 'round', technicianId: null, day: null },
      { screen: 'container', containerId: 'C1' },
      { screen: 'water', accountId: 'A1', siteId: 'S1' },
      { screen: 'water', accountId: null, siteId: null },
    ] as const) {
      expect(parseRoute(formatRoute(route))).toEqual(route);
    }
    expect(parseRoute('#/')).toBeNull();
    expect(parseRoute('#/%E0%A4%A')).toEqual({ screen: 'unknown', path: '%E0%A4%A' });
  });

  it('keeps a client to the own pots and water', () => {
    expect(mayOpen('client', 'today')).toBe(false);
    expect(mayOpen('client', 'container')).toBe(true);
    expect(mayOpen('technician', 'water')).toBe(false);
    expect(mayOpen('client', 'settings')).toBe(true);
  });
});

describe('finding a pot', () => {
  const index = searchIndex(
    [
      { name: 'Olive', site: 'Plaça del Mar' },
      { name: 'Bay, left', site: 'Quay' },
    ],
    (row) => [row.name, row.site],
  );

  it('takes the words in any order and without accents', () => {
    expect(searchRows(index, 'placa OLI').map((row) => row.name)).toEqual(['Olive']);
    expect(searchRows(index, '')).toHaveLength(2);
    expect(searchRows(index, 'olive quay')).toEqual([]);
  });
});

describe('files that the page saves', () => {
  it('quote what needs it, and run no formula in a spreadsheet', () => {
    expect(
      toCsv(
        ['name', 'litres'],
        [
          ['=1+1', 2],
          ['a "b", c', null],
          ['plain', -3],
        ],
      ),
    ).toBe('name,litres\r\n\'=1+1,2\r\n"a ""b"", c",\r\nplain,-3\r\n');
  });

  it('go from month to month over the year’s end', () => {
    expect(addMonths('2026-01', -1)).toBe('2025-12');
    expect(monthSpan('2028-02')).toEqual({ from: '2028-02-01', to: '2028-02-29' });
  });
});

describe('what the chart is given', () => {
  it('gets coarser the longer the time', () => {
    expect(resolutionOf(windowOf('2d', NOW_MS))).toBe('raw');
    expect(resolutionOf(windowOf('2w', NOW_MS))).toBe('raw');
    expect(resolutionOf(windowOf('2m', NOW_MS))).toBe('hour');
    expect(resolutionOf(windowOf('1y', NOW_MS))).toBe('day');
  });

  it('keeps a gap in the readings open, and its times in order', () => {
    const times = [0, 900_000, 20 * HOUR_MS, 21 * HOUR_MS];
    const fan = {
      early: {
        points: [
          { ms: 21 * HOUR_MS, value: 4 },
          { ms: 30 * HOUR_MS, value: 1 },
        ],
      },
      middle: {
        points: [
          { ms: 21 * HOUR_MS, value: 4 },
          { ms: 40 * HOUR_MS, value: 1 },
        ],
      },
      late: {
        points: [
          { ms: 21 * HOUR_MS, value: 4 },
          { ms: 50 * HOUR_MS, value: 1 },
        ],
      },
    };
    const columns = waterColumns(times, [9, 8, 5, 4], fan, 21 * HOUR_MS, 60 * HOUR_MS, 3 * HOUR_MS);
    expect(columns.measured.slice(0, 5)).toEqual([9, 8, null, 5, 4]);
    expect([...columns.seconds].sort((a, b) => a - b)).toEqual([...columns.seconds]);
    expect(new Set(columns.seconds).size).toBe(columns.seconds.length);
    expect(columns.middle.filter((value) => value !== null).length).toBeGreaterThan(10);
  });
});

import { describe, expect, it } from 'vitest';
import { releaseDaysAt } from '../../../src/alerts/care-rules.js';
import { reconcileTasks } from '../../../src/alerts/reconcile-tasks.js';
import type { CareFacts, PotSituation } from '../../../src/alerts/situation.js';
import { wantedTasks } from '../../../src/alerts/task-rules.js';
import { usualSiteTerms } from '../../../src/domain/crew.js';
import { addDays } from '../../../src/domain/local-day.js';
import type { WeatherDay } from '../../../src/domain/weather.js';
import { testContainer } from '../../support/garden.js';
import {
  DAY,
  findingOf,
  HOUR,
  MADRID,
  MONDAY,
  potWith,
  siteWith,
  statusWith,
  taskOf,
} from '../../support/situations.js';

const CARE: CareFacts = {
  fedDay: '2026-06-01',
  releaseDays: 90,
  flushedDay: '2026-06-01',
  rainedLitres: 0,
  isCommissioned: true,
};

const kinds = (pot: PotSituation, more: Parameters<typeof siteWith>[1] = {}) =>
  wantedTasks(siteWith([pot], more)).map(({ kind }) => kind);
const cared = (care: Partial<CareFacts>, more: Partial<PotSituation> = {}) =>
  potWith(null, { care: { ...CARE, ...care }, ...more });

const weather = (day: string, more: Partial<WeatherDay>): WeatherDay => ({
  siteId: 'S1',
  day,
  tminC: 12,
  tmaxC: 24,
  humidityFraction: null,
  windMPerS: null,
  solarMjPerM2: null,
  rainMm: 0,
  et0Mm: null,
  rainProbability: 0,
  issuedMs: MONDAY - HOUR,
  ...more,
});

describe('feeding', () => {
  it('goes by heat: a day at 30 °C releases about one and a half times what one at 21 °C does', () => {
    // Du, Zhou, Shaviv 2006, J. Polym. Environ., abstract: activation energy 37-46 kJ/mol, which is 1.57-1.75.
    expect(releaseDaysAt(21)).toBeCloseTo(1, 9);
    expect(releaseDaysAt(30)).toBeGreaterThan(1.57);
    expect(releaseDaysAt(30)).toBeLessThan(1.75);
    expect(releaseDaysAt(5)).toBeLessThan(0.45);
  });

  it('is asked for when the coated fertiliser has nearly run out, and of no pot whose temperatures nobody knows', () => {
    expect(kinds(cared({ releaseDays: 161 }))).toEqual([]);
    expect(kinds(cared({ releaseDays: 163 }))).toEqual(['feed']);
    expect(kinds(cared({ releaseDays: null }))).toEqual([]);
  });

  it('keeps its due date from day to day, and is one task', () => {
    const first = reconcileTasks(siteWith([cared({ releaseDays: 170 })])).all;
    const nowMs = MONDAY + 5 * DAY;
    const later = reconcileTasks(siteWith([cared({ releaseDays: 176 })], { tasks: first, nowMs })).all;
    expect(later).toMatchObject([{ kind: 'feed', state: 'proposed', dueByMs: first[0]!.dueByMs }]);
  });
});

describe('flushing salts', () => {
  it('is asked for after half a year without a flush, where no rain went through the soil', () => {
    const pot = (flushedDay: string, rainedLitres: number | null) => cared({ flushedDay, rainedLitres });
    expect(kinds(pot('2026-02-01', 0))).toEqual(['flush_salts']);
    expect(kinds(pot('2026-05-01', 0))).toEqual([]);
    expect(kinds(pot('2026-02-01', 500))).toEqual([]);
    expect(kinds(pot('2026-02-01', null))).toEqual([]);
  });

  it('waits for days without frost', () => {
    const outlook = [weather('2026-09-01', { tminC: 1 })];
    expect(kinds(cared({ flushedDay: '2026-02-01' }), { outlook })).toEqual([]);
  });
});

describe('commissioning', () => {
  it('is asked for while the wick of a new pot has shown nothing, and is moot once the pot is known to drink', () => {
    const learning = statusWith('C1', null);
    const status = { ...learning, forecast: { ...learning.forecast, knowledge: 'learning' as const } };
    expect(kinds(cared({ isCommissioned: false }, { status }))).toEqual(['commission']);
    expect(kinds(cared({ isCommissioned: true }, { status }))).toEqual([]);
    expect(kinds(cared({ isCommissioned: false }))).toEqual([]);
  });
});

describe('draining ahead of the weather', () => {
  const full = potWith(null, { status: statusWith('C1', null, { litres: 29, levelMm: 190 }) });

  it('leaves room in a full reservoir before a hard frost, and lets a light one be', () => {
    const frost = (tminC: number) => wantedTasks(siteWith([full], { outlook: [weather('2026-09-02', { tminC })] }));
    expect(frost(-2)).toEqual([]);
    expect(frost(-6)).toMatchObject([
      { kind: 'drain', litres: 5, dueByMs: MADRID.startMs('2026-09-02'), reason: [{ code: 'task.reason.frost' }] },
    ]);
    const half = potWith(null, { status: statusWith('C1', null, { litres: 15 }) });
    expect(kinds(half, { outlook: [weather('2026-09-02', { tminC: -6 })] })).toEqual([]);
  });

  it('makes room before a storm where the overflow does not run, in one task with nothing else to drain', () => {
    const outlook = [weather('2026-09-01', { rainMm: 45, rainProbability: 0.8 })];
    const open = { ...full, container: { ...testContainer('C1', 'S1'), covered: false } };
    expect(kinds(open, { outlook })).toEqual([]);
    const blocked = { ...open, findings: [findingOf('overflow_blocked')] };
    const wanted = wantedTasks(siteWith([blocked], { outlook }));
    expect(wanted.map(({ kind }) => kind).sort()).toEqual(['clear_overflow', 'drain']);
    const wet = { ...open, findings: [findingOf('overflow_blocked'), findingOf('waterlogged')] };
    const drains = wantedTasks(siteWith([wet], { outlook })).filter(({ kind }) => kind === 'drain');
    expect(drains).toHaveLength(1);
    expect(drains[0]?.reason.map(({ code }) => code)).toEqual(
      expect.arrayContaining(['task.reason.waterlogged', 'task.reason.storm']),
    );
    const covered = { ...blocked, container: { ...testContainer('C1', 'S1'), covered: true } };
    expect(kinds(covered, { outlook })).not.toContain('drain');
  });
});

describe('replanting', () => {
  it('is asked for when somebody has looked and the plants still do not draw', () => {
    const pot = potWith(null, { findings: [findingOf('demand_collapsed')] });
    expect(kinds(pot)).toEqual(['inspect']);
    const looked = taskOf('inspect', { state: 'done', changedMs: MONDAY - 4 * DAY });
    expect(kinds(pot, { tasks: [looked] })).toContain('replant');
  });

  it('is asked for around the days of the year that were agreed, once, with the work that a dead planting needs', () => {
    const today = MADRID.dayOf(MONDAY);
    const terms = { ...usualSiteTerms('S1'), replantOn: [addDays(today, 5).slice(5)] };
    const pot = potWith(null, {});
    expect(kinds(pot)).not.toContain('replant');
    const [task] = wantedTasks(siteWith([pot], { terms })).filter(({ kind }) => kind === 'replant');
    expect(task).toMatchObject({
      reason: [{ code: 'task.reason.replant_season', params: { agreedDay: addDays(today, 5) } }],
      dueByMs: MADRID.startMs(addDays(today, 19)),
      cautions: ['caution.lifting'],
    });
    expect(kinds(potWith(null, { replantedDay: addDays(today, -10) }), { terms })).not.toContain('replant');
    const dead = potWith(null, { findings: [findingOf('demand_collapsed')] });
    const looked = taskOf('inspect', { state: 'done', changedMs: MONDAY - 4 * DAY });
    const both = wantedTasks(siteWith([dead], { terms, tasks: [looked] })).filter(({ kind }) => kind === 'replant');
    expect(both).toHaveLength(1);
    expect(both[0]?.reason.map(({ code }) => code)).toEqual(
      expect.arrayContaining(['task.reason.replant', 'task.reason.replant_season']),
    );
  });
});

import { join } from 'node:path';
import Database from 'better-sqlite3';
import { describe, expect, test } from 'vitest';
import { WHOLE_FLEET } from '../../../src/domain/access.js';
import type { DerivedRecords } from '../../../src/domain/analysis.js';
import type { Store } from '../../../src/domain/ports/store.js';
import { FILE_NAME } from '../../../src/store/database.js';
import { openTempStore } from '../../support/temp-store.js';
import {
  changeSet,
  DAY,
  derivedOf,
  eventOf,
  findingOf,
  forecastOf,
  HOUR,
  idsOf,
  ledgerDayOf,
  NO_ROLLUP_VALUES,
  registryOf,
  statusOf,
  T0,
} from './worlds.js';

const { container: containerId, event: eventId } = idsOf('A');
const LOCAL_MIDNIGHT = T0 - 2 * HOUR;

const post = (store: Store, derived: DerivedRecords, atMs = T0 + 10 * DAY) =>
  store.commit(changeSet([{ kind: 'derived', containerId, derived }], { atMs }));

async function held(store: Store) {
  return {
    events: await store.pots.events(WHOLE_FLEET, containerId, 0, T0 + 100 * DAY),
    ledgerDays: await store.pots.ledgerDays(WHOLE_FLEET, { containerId, fromDay: '2026-01-01', toDay: '2027-01-01' }),
    hourRollups: await store.pots.hourRollups(WHOLE_FLEET, containerId, 0, T0 + 100 * DAY),
    dayRollups: await store.pots.dayRollups(WHOLE_FLEET, containerId, '2026-01-01', '2027-01-01'),
  };
}

function table(dir: string, text: string): unknown[] {
  const db = new Database(join(dir, FILE_NAME), { readonly: true });
  try {
    return db.prepare(text).raw().all();
  } finally {
    db.close();
  }
}

const hour = (hourMs: number) => ({ containerId, hourMs, ...NO_ROLLUP_VALUES });
const day = (name: string) => ({ containerId, day: name, ...NO_ROLLUP_VALUES });

describe('what was derived', () => {
  test('is read back as it was given', async () => {
    const { store } = await openTempStore();
    await store.commit(changeSet(registryOf('A')));
    const { fromMs: _fromMs, withdrawnEvents: _withdrawn, ...records } = derivedOf('A');
    await post(store, derivedOf('A'));
    expect(await held(store)).toEqual(records);
  });

  test('and is derived again the same writes nothing and logs nothing', async () => {
    const { store, dir } = await openTempStore();
    await store.commit(changeSet(registryOf('A')));
    const first = await post(store, derivedOf('A'));
    const before = table(dir, 'SELECT * FROM ledger_day');
    const again = await post(store, derivedOf('A'), T0 + 20 * DAY);
    expect(again.seq).toBe(first.seq);
    expect(table(dir, 'SELECT * FROM ledger_day')).toEqual(before);
    expect(table(dir, 'SELECT * FROM ledger_day_history')).toEqual([]);
  });

  test('from a moment on replaces what was derived from there, and leaves what came before', async () => {
    const { store } = await openTempStore();
    await store.commit(changeSet(registryOf('A')));
    const earlier = eventOf('A', { id: 'earlier', startMs: LOCAL_MIDNIGHT - HOUR, endMs: LOCAL_MIDNIGHT });
    const days = ['2026-06-09', '2026-06-10', '2026-06-11'];
    await post(store, {
      fromMs: LOCAL_MIDNIGHT - DAY,
      events: [earlier, eventOf('A'), eventOf('A', { id: 'later', startMs: T0 + DAY, endMs: T0 + DAY })],
      withdrawnEvents: [],
      ledgerDays: days.map((name) => ledgerDayOf('A', name)),
      hourRollups: [hour(LOCAL_MIDNIGHT - HOUR), hour(LOCAL_MIDNIGHT), hour(T0 + DAY)],
      dayRollups: days.map(day),
    });
    const grown = eventOf('A', { litres: 17 });
    const from = await store.changes.lastSeq();
    await post(store, {
      fromMs: LOCAL_MIDNIGHT,
      events: [grown],
      withdrawnEvents: [],
      ledgerDays: [ledgerDayOf('A', '2026-06-10', { refillCrewLitres: 7, closingLitres: 14 })],
      hourRollups: [hour(T0)],
      dayRollups: [day('2026-06-10')],
    });
    expect(await held(store)).toEqual({
      events: [earlier, grown],
      ledgerDays: [
        ledgerDayOf('A', '2026-06-09'),
        ledgerDayOf('A', '2026-06-10', { refillCrewLitres: 7, closingLitres: 14 }),
      ],
      hourRollups: [hour(LOCAL_MIDNIGHT - HOUR), hour(T0)],
      dayRollups: [day('2026-06-09'), day('2026-06-10')],
    });
    expect(await store.changes.after(from, 10)).toMatchObject([
      { kind: 'derived', fromMs: LOCAL_MIDNIGHT, toMs: null },
    ]);
  });

  test('takes out an event from before that moment where it turned out to be none', async () => {
    const { store } = await openTempStore();
    await store.commit(changeSet(registryOf('A')));
    await post(store, derivedOf('A'));
    const nothing = { events: [], ledgerDays: [], hourRollups: [], dayRollups: [] };
    await post(store, { ...nothing, fromMs: T0 + 10 * DAY, withdrawnEvents: [eventId] });
    expect((await held(store)).events).toEqual([]);
  });

  test('from the middle of an hour and a day leaves that hour and day where they are not given anew', async () => {
    const { store } = await openTempStore();
    await store.commit(changeSet(registryOf('A')));
    await post(store, {
      fromMs: LOCAL_MIDNIGHT,
      events: [],
      withdrawnEvents: [],
      ledgerDays: [ledgerDayOf('A', '2026-06-10'), ledgerDayOf('A', '2026-06-11')],
      hourRollups: [hour(T0), hour(T0 + HOUR)],
      dayRollups: [day('2026-06-10'), day('2026-06-11')],
    });
    await post(store, {
      fromMs: T0 + 1,
      events: [],
      withdrawnEvents: ['none'],
      ledgerDays: [],
      hourRollups: [],
      dayRollups: [],
    });
    expect(await held(store)).toEqual({
      events: [],
      ledgerDays: [ledgerDayOf('A', '2026-06-10')],
      hourRollups: [hour(T0)],
      dayRollups: [day('2026-06-10')],
    });
  });

  test('counts days by the site’s own calendar when the clocks change', async () => {
    const { store } = await openTempStore();
    await store.commit(changeSet(registryOf('A')));
    // Madrid puts its clocks back on 2026-10-25; that day begins at 22:00 and the next at 23:00 UTC.
    const days = ['2026-10-24', '2026-10-25', '2026-10-26'];
    const nothing = { events: [], withdrawnEvents: [], hourRollups: [], dayRollups: [] };
    await post(store, { fromMs: T0, ledgerDays: days.map((name) => ledgerDayOf('A', name)), ...nothing });
    await post(store, { fromMs: Date.UTC(2026, 9, 25, 22), ledgerDays: [], ...nothing });
    expect((await held(store)).ledgerDays.map((row) => row.day)).toEqual(['2026-10-24', '2026-10-25']);
    await post(store, { fromMs: Date.UTC(2026, 9, 24, 22), ledgerDays: [], ...nothing });
    expect((await held(store)).ledgerDays.map((row) => row.day)).toEqual(['2026-10-24']);
  });

  test('and is gone is kept as superseded, and stands again when it is derived again', async () => {
    const { store, dir } = await openTempStore();
    await store.commit(changeSet(registryOf('A')));
    await post(store, derivedOf('A'));
    await post(store, derivedOf('A', { events: [] }), T0 + 11 * DAY);
    expect((await held(store)).events).toEqual([]);
    expect(table(dir, 'SELECT id, litres, superseded_ms FROM pot_event')).toEqual([[eventId, 15, T0 + 11 * DAY]]);
    await post(store, derivedOf('A'));
    expect((await held(store)).events).toEqual([eventOf('A')]);
  });
});

test('a number that is none is refused, instead of being stored as unknown', async () => {
  const { store } = await openTempStore();
  await store.commit(changeSet(registryOf('A')));
  const hourRollups = [{ ...hour(T0), levelMeanMm: Number.NaN }];
  await expect(post(store, derivedOf('A', { hourRollups }))).rejects.toThrow('NaN cannot be stored');
  expect(await held(store)).toEqual({ events: [], ledgerDays: [], hourRollups: [], dayRollups: [] });
});

describe('a ledger day', () => {
  test('that was over when it was posted is kept as it stood when it is posted anew or withdrawn', async () => {
    const { store, dir } = await openTempStore();
    await store.commit(changeSet(registryOf('A')));
    const mended = ledgerDayOf('A', '2026-06-10', { leakLitres: 1, uptakeLitres: 3 });
    await post(store, derivedOf('A'), T0 + 2 * DAY);
    await post(store, derivedOf('A', { ledgerDays: [mended] }), T0 + 3 * DAY);
    await post(store, derivedOf('A', { ledgerDays: [] }), T0 + 4 * DAY);
    expect((await held(store)).ledgerDays).toEqual([]);
    expect(
      table(
        dir,
        'SELECT day, uptake_litres, leak_litres, posted_ms, superseded_ms FROM ledger_day_history ORDER BY posted_ms',
      ),
    ).toEqual([
      ['2026-06-10', 4, 0, T0 + 2 * DAY, T0 + 3 * DAY],
      ['2026-06-10', 3, 1, T0 + 3 * DAY, T0 + 4 * DAY],
    ]);
  });

  test('that still runs is posted anew with each reading, and leaves no trail', async () => {
    const { store, dir } = await openTempStore();
    await store.commit(changeSet(registryOf('A')));
    await post(store, derivedOf('A'), T0 + HOUR);
    await post(
      store,
      derivedOf('A', { ledgerDays: [ledgerDayOf('A', '2026-06-10', { coverage: 0.5 })] }),
      T0 + 2 * HOUR,
    );
    expect((await held(store)).ledgerDays).toMatchObject([{ coverage: 0.5 }]);
    expect(table(dir, 'SELECT * FROM ledger_day_history')).toEqual([]);
  });
});

describe('ledger sums', () => {
  test('add days and pots; opening is of the first day and closing of the last, and the sum closes', async () => {
    const { store } = await openTempStore();
    await store.commit(changeSet([...registryOf('A'), ...registryOf('B')]));
    const chain = (letter: string) => [
      ledgerDayOf(letter, '2026-06-29'),
      ledgerDayOf(letter, '2026-06-30', { openingLitres: 12, closingLitres: 14 }),
      ledgerDayOf(letter, '2026-07-01', { openingLitres: 14, uptakeLitres: 6, leakLitres: 2, closingLitres: 12 }),
    ];
    for (const letter of ['A', 'B']) {
      const derived = derivedOf(letter, { ledgerDays: chain(letter), hourRollups: [], dayRollups: [] });
      await store.commit(changeSet([{ kind: 'derived', containerId: idsOf(letter).container, derived }]));
    }
    const span = { fromDay: '2026-06-29', toDay: '2026-07-31' };
    const [whole] = await store.pots.ledgerSums(WHOLE_FLEET, { by: 'account', byMonth: false, ...span });
    expect(whole).toEqual({
      id: 'A-account',
      month: null,
      containers: 1,
      containerDays: 3,
      openingLitres: 10,
      refillCrewLitres: 15,
      refillOtherLitres: 0,
      rainLitres: 3,
      uptakeLitres: 14,
      leakLitres: 2,
      overflowLitres: 0,
      drainedLitres: 0,
      unexplainedLitres: 0,
      closingLitres: 12,
      sdLitres: Math.sqrt(3 * 0.3 ** 2),
    });
    const months = await store.pots.ledgerSums(WHOLE_FLEET, { by: 'site', byMonth: true, ...span });
    expect(
      months.map(({ id, month, openingLitres, closingLitres }) => [id, month, openingLitres, closingLitres]),
    ).toEqual([
      ['A-site', '2026-06', 10, 14],
      ['A-site', '2026-07', 14, 12],
      ['B-site', '2026-06', 10, 14],
      ['B-site', '2026-07', 14, 12],
    ]);
    await store.commit(
      changeSet([{ kind: 'site', row: { ...(await store.registry.sites(WHOLE_FLEET))[1]!, accountId: 'A-account' } }]),
    );
    const [both] = await store.pots.ledgerSums(WHOLE_FLEET, { by: 'account', byMonth: false, ...span });
    expect(both).toMatchObject({
      containers: 2,
      containerDays: 6,
      openingLitres: 20,
      uptakeLitres: 28,
      closingLitres: 24,
    });
  });

  test('of a period without days are none', async () => {
    const { store } = await openTempStore();
    await store.commit(changeSet(registryOf('A')));
    const query = { by: 'container', byMonth: true, fromDay: '2026-01-01', toDay: '2026-12-31' } as const;
    expect(await store.pots.ledgerSums(WHOLE_FLEET, query)).toEqual([]);
  });
});

describe('checkpoints', () => {
  const put = (store: Store, validUntilMs: number, atMs: readonly number[]) =>
    store.commit(
      changeSet([
        {
          kind: 'checkpoints',
          containerId,
          validUntilMs,
          rows: atMs.map((ms) => ({ atMs: ms, stateJson: `{"at":${ms}}` })),
        },
      ]),
    );

  test('after the instant until which they hold go, and the latest one not after an instant is found', async () => {
    const { store } = await openTempStore();
    await store.commit(changeSet(registryOf('A')));
    const seq = await store.changes.lastSeq();
    await put(store, T0, [T0, T0 + DAY, T0 + 2 * DAY]);
    expect(await store.pots.checkpoint(containerId, T0 + 2 * DAY - 1)).toEqual({
      atMs: T0 + DAY,
      stateJson: `{"at":${T0 + DAY}}`,
    });
    await put(store, T0, [T0 + DAY + 1]);
    expect(await store.pots.checkpoint(containerId, T0 + 9 * DAY)).toMatchObject({ atMs: T0 + DAY + 1 });
    expect(await store.pots.checkpoint(containerId, T0 - 1)).toBeNull();
    expect(await store.changes.lastSeq()).toBe(seq);
  });

  test('are thinned to the newest eight and one a week before, the same for one batch or many', async () => {
    const { store, dir } = await openTempStore();
    await store.commit(changeSet(registryOf('A')));
    const nights = Array.from({ length: 60 }, (_, index) => T0 + index * DAY);
    for (const night of nights) await put(store, night, [night]);
    const oneByOne = table(dir, 'SELECT at_ms FROM checkpoint ORDER BY at_ms').flat();
    expect(oneByOne.slice(-8)).toEqual(nights.slice(-8));
    // 52 nights before the newest eight touch eight or nine calendar weeks.
    expect(oneByOne.length - 8).toBeGreaterThanOrEqual(8);
    expect(oneByOne.length - 8).toBeLessThanOrEqual(9);
    await put(store, 0, nights);
    expect(table(dir, 'SELECT at_ms FROM checkpoint ORDER BY at_ms').flat()).toEqual(oneByOne);
  });
});

describe('what was said when', () => {
  test('a forecast is archived once and never rewritten', async () => {
    const { store } = await openTempStore();
    await store.commit(changeSet([...registryOf('A'), { kind: 'forecast', row: forecastOf('A') }]));
    const seq = await store.changes.lastSeq();
    await store.commit(changeSet([{ kind: 'forecast', row: { ...forecastOf('A'), litres: 1, dry: null } }]));
    expect(await store.changes.lastSeq()).toBe(seq);
    const unknown = { ...forecastOf('A', T0 + HOUR), knowledge: 'silent', dry: null, levelMm: null } as const;
    await store.commit(changeSet([{ kind: 'forecast', row: unknown }]));
    expect(await store.pots.forecasts(WHOLE_FLEET, containerId, T0, T0 + DAY)).toEqual([forecastOf('A'), unknown]);
  });

  test('a finding keeps each state that it was in', async () => {
    const { store, dir } = await openTempStore();
    await store.commit(changeSet([...registryOf('A'), { kind: 'finding', row: findingOf('A') }]));
    await store.commit(changeSet([{ kind: 'finding', row: findingOf('A') }], { atMs: T0 + HOUR }));
    const closed = findingOf('A', { size: 2, closedMs: T0 + 2 * DAY });
    await store.commit(changeSet([{ kind: 'finding', row: closed }], { atMs: T0 + 2 * DAY }));
    const ask = (openOnly: boolean, fromMs: number | null) =>
      store.pots.findings(WHOLE_FLEET, { containerId: null, openOnly, fromMs });
    expect(await ask(true, null)).toEqual([]);
    expect(await ask(false, null)).toEqual([closed]);
    expect(await ask(false, T0 + DAY)).toEqual([closed]);
    expect(await ask(false, T0 + 3 * DAY)).toEqual([]);
    expect(table(dir, 'SELECT recorded_ms, size, closed_ms FROM finding_history ORDER BY recorded_ms')).toEqual([
      [T0, 1.4, null],
      [T0 + 2 * DAY, 2, T0 + 2 * DAY],
    ]);
  });

  test('a status is replaced, with the forecast that belongs to it', async () => {
    const { store } = await openTempStore();
    await store.commit(changeSet([...registryOf('A'), { kind: 'status', row: statusOf('A') }]));
    await store.commit(changeSet([{ kind: 'status', row: statusOf('A', T0 + HOUR) }]));
    expect(await store.pots.statuses(WHOLE_FLEET)).toEqual([statusOf('A', T0 + HOUR)]);
  });

  test('of the corrections of an event the last counts, and the log says which time it touches', async () => {
    const { store, dir } = await openTempStore();
    await store.commit(changeSet(registryOf('A')));
    await post(store, derivedOf('A'));
    const before = { kind: 'refill', litres: 12, startMs: T0 + HOUR } as const;
    const correct = (correctedKind: 'rain' | 'none', litres: number | null, atMs: number) =>
      store.commit(
        changeSet([{ kind: 'event_correction', eventId, containerId, correctedKind, litres, startMs: null, before }], {
          atMs,
        }),
      );
    await correct('rain', 11, T0 + DAY);
    await correct('rain', 11, T0 + 2 * DAY);
    await correct('none', null, T0 + 3 * DAY);
    const said = { eventId, containerId, startMs: null, before, actorId: 'test' };
    expect(await store.pots.eventCorrections(containerId)).toEqual([
      { ...said, correctedKind: 'rain', litres: 11, atMs: T0 + DAY },
      { ...said, correctedKind: 'none', litres: null, atMs: T0 + 3 * DAY },
    ]);
    expect(table(dir, 'SELECT corrected_kind, litres, actor_id FROM event_correction')).toEqual([
      ['rain', 11, 'test'],
      ['none', null, 'test'],
    ]);
    expect((await store.changes.after(0, 100)).at(-1)).toMatchObject({
      kind: 'event_correction',
      key: eventId,
      containerId,
      fromMs: T0 + HOUR,
      toMs: T0 + 2 * HOUR,
    });
  });
});

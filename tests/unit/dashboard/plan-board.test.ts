import { describe, expect, it } from 'vitest';
import { cellKey, giveEdits, makeBoard } from '../../../dashboard/src/state/plan-board.js';

const visit = (siteId: string, startMinute: number) => ({
  siteId,
  startMinute,
  endMinute: startMinute + 30,
  litres: 20,
  missesWindow: false,
  reason: 'must',
  why: null,
  locked: siteId === 'S2',
});

const told = (siteId: string, personId: string, day: string) => ({ siteId, personId, day, startMinute: 480 });

const PLAN = {
  firstDay: '2026-10-24',
  dayCount: 3,
  draft: {
    wishes: [{ kind: 'pin' as const, personId: 'ana', day: '2026-10-24' }],
    rounds: [
      {
        personId: 'ana',
        day: '2026-10-24',
        startMinute: 420,
        finishMinute: 600,
        litres: 60,
        overtimeMinutes: 0,
        exceedsShift: false,
        runsDry: false,
        stops: [visit('S1', 430), visit('S2', 470), visit('S3', 520)],
      },
    ],
  },
  published: [
    {
      technicianId: 'gone',
      day: '2026-10-25',
      stops: [
        { siteId: 'S1', position: 1, state: 'planned', plan: null },
        { siteId: 'S3', position: 0, state: 'done', plan: visit('S3', 450) },
        { siteId: 'S4', position: 2, state: 'cancelled', plan: null },
      ],
    },
  ],
  changes: [
    { kind: 'added' as const, siteId: 'S2', from: null, to: told('S2', 'ana', '2026-10-24') },
    {
      kind: 'other_day' as const,
      siteId: 'S1',
      from: told('S1', 'gone', '2026-10-25'),
      to: told('S1', 'ana', '2026-10-24'),
    },
  ],
  absences: [
    { personId: 'ben', truckId: null, fromDay: '2026-10-20', toDay: '2026-10-25' },
    { personId: null, truckId: null, fromDay: '2026-10-26', toDay: '2026-10-26' },
    { personId: null, truckId: 'T1', fromDay: '2026-10-24', toDay: '2026-10-26' },
  ],
  people: [
    { id: 'ana', name: 'Ana' },
    { id: 'ben', name: 'Ben' },
  ],
};

describe('the board of the draft', () => {
  it('marks what is new or moved for people, what is locked and what is pinned', () => {
    const round = makeBoard(PLAN, 'draft').rounds.get(cellKey('ana', '2026-10-24'))!;
    expect(round.pinned).toBe(true);
    expect(round.stops.map(({ siteId, mark, locked }) => [siteId, mark, locked])).toEqual([
      ['S1', 'moved', false],
      ['S2', 'new', true],
      ['S3', null, false],
    ]);
  });

  it('shows who is away on which day, over the change of the clock, and a truck keeps nobody away', () => {
    const { days, away } = makeBoard(PLAN, 'draft');
    expect(days.map((one) => one.day)).toEqual(['2026-10-24', '2026-10-25', '2026-10-26']);
    expect([...away].toSorted()).toEqual([
      ['2026-10-24 ben', 'away'],
      ['2026-10-25 ben', 'away'],
      ['2026-10-26 ana', 'holiday'],
      ['2026-10-26 ben', 'holiday'],
    ]);
  });
});

it('the board of what was told keeps a row for who has left, leaves out what was cancelled, and says what is done', () => {
  const board = makeBoard(PLAN, 'published');
  expect(board.people.map((one) => one.id)).toEqual(['ana', 'ben', 'gone']);
  expect(board.rounds.get(cellKey('gone', '2026-10-25'))?.stops).toMatchObject([
    { siteId: 'S3', isDone: true, startMinute: 450 },
    { siteId: 'S1', isDone: false, startMinute: null },
  ]);
});

it('a round that is split from a stop on goes behind what is there, in its order', () => {
  const round = makeBoard(PLAN, 'draft').rounds.get(cellKey('ana', '2026-10-24'))!;
  expect(giveEdits(round, 1, { personId: 'ben', day: '2026-10-26', stopsThere: 4 })).toEqual([
    { kind: 'move', siteId: 'S2', fromDay: '2026-10-24', toDay: '2026-10-26', personId: 'ben', position: 4 },
    { kind: 'move', siteId: 'S3', fromDay: '2026-10-24', toDay: '2026-10-26', personId: 'ben', position: 5 },
  ]);
});

import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  changeDraft,
  draftOf,
  litresOfTyped,
  stepTyped,
  sumLitres,
  typedVolume,
  visitBody,
} from '../../../dashboard/src/state/recording.js';
import { roundProgress } from '../../../dashboard/src/state/round-order.js';
import { byPot, dueBand } from '../../../dashboard/src/state/stops.js';

const TASKS = [
  { id: 'T1', kind: 'refill', containerId: 'C1', litres: 18.4, pot: { name: 'Olive' } },
  { id: 'T2', kind: 'clear_overflow', containerId: 'C1', litres: null, pot: { name: 'Olive' } },
  { id: 'T3', kind: 'check_sensor', containerId: 'C2', litres: null, pot: { name: 'Bay' } },
];
const VISIT = {
  siteId: 'S1',
  technicianId: 'P1',
  startedAt: '2026-08-31T06:00:00.000Z',
  happenedAt: '2026-08-31T06:20:00.000Z',
  note: '  ',
};

describe('recording a stop', () => {
  it('is filled in as planned, and says of each task what was done', () => {
    const drafts = draftOf(TASKS, 'L');
    expect(drafts.map((draft) => draft.typed)).toEqual(['18', null, null]);
    expect(visitBody(drafts, 'L', VISIT)).toMatchObject({
      note: null,
      actions: [
        { containerId: 'C1', taskId: 'T1', work: 'refill', litres: 18, exception: null },
        { containerId: 'C1', taskId: 'T2', work: 'clear_overflow', litres: null },
        { containerId: 'C2', taskId: 'T3', work: 'other', litres: null },
      ],
    });
  });

  it('takes the meter’s figure in the person’s unit and sends litres', () => {
    const drafts = changeDraft(draftOf(TASKS, 'US_gal'), 'T1', { typed: '5,5' });
    expect(sumLitres(drafts, 'US_gal')).toBeCloseTo(20.8198, 3);
  });

  it('pours nothing where the work could not be done', () => {
    const drafts = changeDraft(draftOf(TASKS, 'L'), 'T1', { exception: 'no_access', note: 'locked' });
    expect(sumLitres(drafts, 'L')).toBe(0);
    expect(visitBody(drafts, 'L', VISIT).actions[0]).toMatchObject({
      litres: null,
      exception: 'no_access',
      note: 'locked',
    });
  });

  it('takes no figure that is no volume', () => {
    for (const typed of ['', 'x', '-3', '1e3', '5001', '1.2.3', '∞']) expect(litresOfTyped(typed, 'L')).toBeNull();
    expect(sumLitres(changeDraft(draftOf(TASKS, 'L'), 'T1', { typed: 'x' }), 'L')).toBeNull();
  });

  it('steps up and down again to where it began, and never below nothing', () => {
    fc.assert(
      fc.property(
        fc.integer({ min: 0, max: 400 }),
        fc.constantFrom('L' as const, 'US_gal' as const),
        (litres, unit) => {
          const typed = typedVolume(litres + 1, unit);
          expect(Number(stepTyped(stepTyped(typed, unit, 1), unit, -1))).toBeCloseTo(Number(typed), 6);
          expect(Number(stepTyped('0', unit, -1))).toBe(0);
        },
      ),
    );
  });
});

describe('the order of a round', () => {
  const stops = ['A', 'B', 'C', 'D'].map((id, position) => ({
    stop: { id, position, state: id === 'A' ? 'done' : id === 'D' ? 'cancelled' : 'planned' },
  }));

  it('goes on after what is done, here or on the server', () => {
    expect(roundProgress(stops, new Set(), null).next?.stop.id).toBe('B');
    const later = roundProgress(stops, new Set(['B']), null);
    expect(later.next?.stop.id).toBe('C');
    expect(later.done.map((one) => one.stop.id)).toEqual(['A', 'B']);
  });

  it('lets a technician go elsewhere first without losing the rest', () => {
    const progress = roundProgress(stops, new Set(), 'C');
    expect(progress.next?.stop.id).toBe('C');
    expect(progress.rest.map((one) => one.stop.id)).toEqual(['B']);
  });
});

describe('the stops of the day', () => {
  it('gather the tasks of a pot', () => {
    const work = byPot([
      { id: 1, pot: { containerId: 'C1' } },
      { id: 2, pot: { containerId: 'C2' } },
      { id: 3, pot: { containerId: 'C1' } },
    ]);
    expect(work.map((one) => one.tasks.map((task) => task.id))).toEqual([[1, 3], [2]]);
  });

  it('are overdue from the very moment they were due', () => {
    expect(dueBand(100, 100, 500)).toBe('overdue');
    expect(dueBand(499, 100, 500)).toBe('today');
    expect(dueBand(500, 100, 500)).toBe('later');
  });
});

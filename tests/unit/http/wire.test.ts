import { describe, expect, it } from 'vitest';
import { toWire, wireKey } from '../../../src/http/wire.js';

describe('the shape of rows in JSON', () => {
  it.each([
    ['createdMs', 'createdAt'],
    ['disabledAtMs', 'disabledAt'],
    ['dueByMs', 'dueBy'],
    ['dueFromMs', 'dueFrom'],
    ['conditionSinceMs', 'conditionSince'],
    ['shelvedUntilMs', 'shelvedUntil'],
    ['asOfMs', 'asOf'],
    ['fromMs', 'from'],
    ['toMs', 'to'],
    ['timeMs', 'time'],
    ['p10Ms', 'p10'],
    ['levelMm', 'levelMm'],
    ['litres', 'litres'],
  ])('names %s as %s', (inside, outside) => {
    expect(wireKey(inside)).toBe(outside);
  });

  it('writes instants as ISO 8601 in UTC, at any depth, and leaves what is not known null', () => {
    const row = { createdMs: 0, forecast: { dry: { p10Ms: 1_788_150_600_000, p90Ms: null } }, list: [{ atMs: 1 }] };
    expect(toWire(row)).toEqual({
      createdAt: '1970-01-01T00:00:00.000Z',
      forecast: { dry: { p10: '2026-08-31T04:30:00.000Z', p90: null } },
      list: [{ at: '1970-01-01T00:00:00.001Z' }],
    });
  });

  it('leaves the parameters of a message as they are, since the catalogue formats them by their names', () => {
    const message = { code: 'x', params: { dryMs: 5, levelMm: 2 } };
    expect(toWire({ message })).toEqual({ message });
  });

  it('does not change the row that it is given', () => {
    const row = Object.freeze({ atMs: 1, inner: Object.freeze({ timeMs: 2 }) });
    toWire(row);
    expect(row).toEqual({ atMs: 1, inner: { timeMs: 2 } });
  });
});

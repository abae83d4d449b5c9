import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { coalesce } from '../../../src/app/changes.js';
import { pageById } from '../../../src/app/paging.js';
import type { Change } from '../../../src/domain/change-set.js';
import { nearestName } from '../../../src/domain/nearest-name.js';
import { toWire, wireKey } from '../../../src/http/wire.js';

const id = fc.stringMatching(/^[A-Za-z0-9._-]{1,64}$/);

describe('pages of a list', () => {
  it('hold each row once, in order, whatever the size of a page', () => {
    fc.assert(
      fc.property(fc.uniqueArray(id, { maxLength: 60 }), fc.integer({ min: 1, max: 20 }), (ids, limit) => {
        const rows = ids.map((one) => ({ id: one }));
        const seen: string[] = [];
        let cursor: string | null = null;
        do {
          const page: ReturnType<typeof pageById<{ id: string }>> = pageById(rows, { limit, cursor });
          expect(page.rows.length).toBeLessThanOrEqual(limit);
          seen.push(...page.rows.map((row) => row.id));
          cursor = page.nextCursor;
        } while (cursor !== null);
        expect(seen).toEqual([...ids].sort());
      }),
    );
  });

  it('go on after a row that was removed meanwhile', () => {
    fc.assert(
      fc.property(fc.uniqueArray(id, { minLength: 3, maxLength: 30 }), (ids) => {
        const rows = ids.map((one) => ({ id: one }));
        const first = pageById(rows, { limit: 1, cursor: null });
        const left = rows.filter((row) => row.id !== first.rows[0]?.id);
        const rest = pageById(left, { limit: 100, cursor: first.nextCursor });
        expect(rest.rows.map((row) => row.id)).toEqual([...ids].sort().slice(1));
      }),
    );
  });
});

const instant = fc.integer({ min: 0, max: 4e12 });
const change: fc.Arbitrary<Change> = fc.record({
  seq: fc.nat(),
  atMs: instant,
  kind: fc.constantFrom('readings', 'status', 'site'),
  key: fc.constantFrom('C1', 'C2', 'N1'),
  actor: fc.constant({ kind: 'stage', id: 'x' } as const),
  siteId: fc.constantFrom('S1', null),
  containerId: fc.constantFrom('C1', 'C2', null),
  fromMs: fc.option(instant),
  toMs: fc.option(instant),
});

describe('changes told together', () => {
  it('keep the last of each thing, in order, over all the time that was touched', () => {
    fc.assert(
      fc.property(fc.array(change, { maxLength: 40 }), (drawn) => {
        const log = drawn.map((one, i) => ({ ...one, seq: i + 1 }));
        const told = coalesce(log);
        const thing = (one: Change) => `${one.kind} ${one.key} ${one.containerId}`;
        expect(new Set(told.map(thing))).toEqual(new Set(log.map(thing)));
        expect(told.map((one) => one.seq)).toEqual(told.map((one) => one.seq).sort((a, b) => a - b));
        for (const one of told) {
          const all = log.filter((other) => thing(other) === thing(one));
          expect(one.seq).toBe(Math.max(...all.map((other) => other.seq)));
          const starts = all.map((other) => other.fromMs);
          expect(one.fromMs).toBe(starts.includes(null) ? null : Math.min(...(starts as number[])));
          const ends = all.map((other) => other.toMs);
          expect(one.toMs).toBe(ends.includes(null) ? null : Math.max(...(ends as number[])));
        }
      }),
    );
  });
});

describe('rows on the wire', () => {
  it('keep every field, and lose no instant', () => {
    const row = fc.dictionary(fc.stringMatching(/^[a-z]{1,6}(Ms|Mm|By|AtMs|ByMs|SinceMs)?$/), fc.option(instant), {
      maxKeys: 8,
    });
    fc.assert(
      fc.property(row, (fields) => {
        const wire = toWire(fields) as Readonly<Record<string, unknown>>;
        for (const [key, value] of Object.entries(fields)) {
          const sent = wire[wireKey(key)];
          if (key.endsWith('Ms') && value !== null) expect(Date.parse(String(sent))).toBe(value);
          else if (!(wireKey(key) in fields) || wireKey(key) === key) expect(sent).toEqual(value);
        }
      }),
    );
  });
});

describe('the nearest name', () => {
  const names = ['serve', 'demo', 'import', 'backup', 'replay', 'score', 'node add'];

  it('is the name itself, or the one that a single slip of the finger away stands for', () => {
    fc.assert(
      fc.property(fc.constantFrom(...names), fc.nat(10), fc.stringMatching(/^[a-z]$/), (name, at, letter) => {
        const place = Math.min(at, name.length);
        expect(nearestName(name, names)).toBe(name);
        expect(nearestName(name.slice(0, place) + letter + name.slice(place), names)).toBe(name);
        expect(nearestName(name.slice(0, place) + name.slice(place + 1), names)).toBe(name);
      }),
    );
  });

  it('is none for what resembles nothing', () => {
    expect(nearestName('qqqqqqqq', names)).toBeNull();
  });
});

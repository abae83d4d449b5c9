import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { type AlarmEvent, type AlarmSettings, isHeld, step } from '../../src/alerts/alarm-life.js';
import type { Alarm, AlarmState, UnheldAlarmState } from '../../src/domain/alarm.js';
import { condition, LATCHING, PLAIN, restingAlarm } from '../support/alarm-point.js';

const MINUTE = 60_000;
const HOUR = 60 * MINUTE;

interface Move {
  /** Minutes that go by before the event; negative where the clock steps back. */
  readonly after: number;
  readonly event: (nowMs: number) => AlarmEvent;
}

const by = fc.constantFrom('dora', 'tom', 'rule:visit');
const event: fc.Arbitrary<(nowMs: number) => AlarmEvent> = fc.oneof(
  { weight: 4, arbitrary: fc.boolean().map((active) => (nowMs: number) => condition(active, nowMs)) },
  {
    weight: 2,
    arbitrary: fc.record({ active: fc.boolean(), ago: fc.integer({ min: 0, max: 300 }), priority: priority() }).map(
      ({ active, ago, priority: urgency }) =>
        (nowMs: number) =>
          condition(active, nowMs - ago * MINUTE, { readingMs: nowMs, priority: urgency }),
    ),
  },
  by.map((who) => () => ({ kind: 'acknowledge', by: who, note: null }) as const),
  fc.record({ who: by, hours: fc.integer({ min: -1, max: 200 }) }).map(({ who, hours }) => (nowMs: number) => ({
    kind: 'shelve' as const,
    by: who,
    untilMs: nowMs + hours * HOUR,
    reason: 'because',
  })),
  by.map((who) => () => ({ kind: 'unshelve', by: who }) as const),
  by.map((who) => () => ({ kind: 'suppress', by: who, reason: 'because' }) as const),
  by.map((who) => () => ({ kind: 'unsuppress', by: who }) as const),
  by.map((who) => () => ({ kind: 'take_out_of_service', by: who, reason: 'because' }) as const),
  by.map((who) => () => ({ kind: 'return_to_service', by: who }) as const),
  by.map((who) => () => ({ kind: 'reset', by: who, note: null }) as const),
  fc.constant(() => ({ kind: 'tick' }) as const),
);

function priority() {
  return fc.constantFrom('low' as const, 'medium' as const, 'high' as const);
}

const moves: fc.Arbitrary<readonly Move[]> = fc.array(fc.record({ after: fc.integer({ min: -30, max: 600 }), event }), {
  maxLength: 60,
});

const settings: fc.Arbitrary<AlarmSettings> = fc.record({
  onDelayMs: fc.constantFrom(0, 20 * MINUTE, 3 * HOUR),
  offDelayMs: fc.constantFrom(0, 20 * MINUTE, 3 * HOUR),
  latching: fc.boolean(),
  reAlarmAfterMs: fc.constantFrom(null, 4 * HOUR, 24 * HOUR),
  maxShelvingMs: fc.constant(7 * 24 * HOUR),
});

/** The arrows of the diagram among the states that say something of the condition, whatever caused them. */
const ARROWS: Readonly<Record<UnheldAlarmState, readonly UnheldAlarmState[]>> = {
  normal: ['unacknowledged'],
  unacknowledged: ['acknowledged', 'returned_unacknowledged', 'latched_unacknowledged'],
  acknowledged: ['normal', 'latched_acknowledged', 'unacknowledged'],
  returned_unacknowledged: ['normal', 'unacknowledged'],
  latched_unacknowledged: ['latched_acknowledged', 'unacknowledged', 'returned_unacknowledged'],
  latched_acknowledged: ['normal', 'unacknowledged'],
};

function live(
  list: readonly Move[],
  rules: AlarmSettings,
  see: (before: Alarm, event: AlarmEvent, after: Alarm, nowMs: number, result: ReturnType<typeof step>) => void,
): void {
  let alarm = restingAlarm();
  let nowMs = 1_000 * HOUR;
  for (const move of list) {
    nowMs += move.after * MINUTE;
    const happens = move.event(nowMs);
    const result = step(alarm, happens, nowMs, rules);
    see(alarm, happens, result.alarm, nowMs, result);
    alarm = result.alarm;
  }
}

describe('any order of events', () => {
  it('leads from one legal state to another, and each transition says where it came from', () => {
    fc.assert(
      fc.property(moves, settings, (list, rules) => {
        let shown: AlarmState = 'normal';
        live(list, rules, (before, _event, after, nowMs, result) => {
          for (const transition of result.transitions) {
            expect(transition.from).toBe(shown);
            expect(transition.atMs).toBe(nowMs);
            shown = transition.to;
          }
          expect(shown).toBe(after.state);
          if (!isHeld(after.state)) expect(after.state).toBe(after.beneath);
          expect(after.shelvedUntilMs !== null).toBe(after.state === 'shelved');
          expect(after.heldReason !== null).toBe(isHeld(after.state));
          if (!rules.latching) expect(after.beneath.startsWith('latched')).toBe(false);
          expect(legal(before.beneath, after.beneath)).toBe(true);
        });
      }),
      { numRuns: 500 },
    );
  });

  it('never loses an acknowledged alarm: it is over only when its condition is, and a latched one when it is reset', () => {
    fc.assert(
      fc.property(moves, settings, (list, rules) => {
        live(list, rules, (before, happens, after) => {
          const stood = before.beneath === 'acknowledged' || before.beneath === 'latched_acknowledged';
          if (!stood || after.beneath === before.beneath) return;
          if (after.beneath === 'normal') {
            const ended = happens.kind === 'condition' && !happens.active && !rules.latching;
            const reset = happens.kind === 'reset' && before.beneath === 'latched_acknowledged';
            expect(ended || reset).toBe(true);
          } else {
            expect(['latched_acknowledged', 'unacknowledged']).toContain(after.beneath);
          }
        });
      }),
      { numRuns: 500 },
    );
  });

  it('keeps who acknowledged for as long as the acknowledgement stands', () => {
    fc.assert(
      fc.property(moves, settings, (list, rules) => {
        live(list, rules, (_before, _event, after) => {
          const acknowledged = after.beneath === 'acknowledged' || after.beneath === 'latched_acknowledged';
          expect(after.acknowledgedBy !== null).toBe(acknowledged);
          expect(after.acknowledgedMs !== null).toBe(acknowledged);
          expect(after.raisedMs === null).toBe(after.beneath === 'normal');
        });
      }),
    );
  });

  it('announces nothing that is held, and nothing twice for one event', () => {
    fc.assert(
      fc.property(moves, settings, (list, rules) => {
        live(list, rules, (_before, _event, after, _nowMs, result) => {
          const announced = result.effects.filter((effect) => effect.kind === 'announce');
          if (isHeld(after.state) && result.transitions.length <= 1) expect(announced).toEqual([]);
          expect(announced.length).toBeLessThanOrEqual(2);
        });
      }),
    );
  });

  it('takes a condition that is told again as nothing new', () => {
    fc.assert(
      fc.property(moves, fc.boolean(), (list, latching) => {
        const rules = latching ? LATCHING : PLAIN;
        live(list, rules, (_before, happens, after, nowMs) => {
          if (happens.kind !== 'condition') return;
          const again = step(after, happens, nowMs, rules);
          expect(again.transitions).toEqual([]);
          expect(again.effects).toEqual([]);
        });
      }),
    );
  });
});

function legal(from: UnheldAlarmState, to: UnheldAlarmState): boolean {
  return from === to || ARROWS[from].includes(to);
}

import { describe, expect, it } from 'vitest';
import { type AlarmEvent, type AlarmSettings, step } from '../../src/alerts/alarm-life.js';
import type { Alarm, AlarmState } from '../../src/domain/alarm.js';
import { condition, LATCHING, PLAIN, restingAlarm } from '../support/alarm-point.js';

/*
 * ANSI/ISA-18.2-2016 and IEC 62682 (2014), alarm state transition diagram: A normal, B unacknowledged alarm,
 * C acknowledged alarm, D returned to normal unacknowledged, E latched unacknowledged, F latched acknowledged,
 * G shelved, H suppressed by design, I out of service. The transitions are from memory of the diagram and from readers'
 * summaries; the standards themselves were not at hand. OPC 10000-9 (OPC UA part 9) v1.05, section 4.8,
 * https://reference.opcfoundation.org/Core/Part9/v105/docs/4.8, says besides that a latched alarm stays until it is
 * reset.
 */
const STATES = {
  A: 'normal',
  B: 'unacknowledged',
  C: 'acknowledged',
  D: 'returned_unacknowledged',
  E: 'latched_unacknowledged',
  F: 'latched_acknowledged',
  G: 'shelved',
  H: 'suppressed_by_design',
  I: 'out_of_service',
} as const satisfies Record<string, AlarmState>;

type Letter = keyof typeof STATES;

const NOW = 1_000_000;
const LATER = 2_000_000;
const ON = condition(true, NOW);
const OFF = condition(false, NOW);
const ACK: AlarmEvent = { kind: 'acknowledge', by: 'dora', note: null };
const RESET: AlarmEvent = { kind: 'reset', by: 'dora', note: null };
const SHELVE: AlarmEvent = { kind: 'shelve', by: 'dora', untilMs: LATER, reason: 'sensor on order' };
const SUPPRESS: AlarmEvent = { kind: 'suppress', by: 'rule:visit', reason: 'visit' };
const TAKE_OUT: AlarmEvent = { kind: 'take_out_of_service', by: 'dora', reason: 'repair' };

/** The ways from rest into each state. */
const INTO: Readonly<Record<Exclude<Letter, 'G' | 'H' | 'I'>, readonly AlarmEvent[]>> = {
  A: [],
  B: [ON],
  C: [ON, ACK],
  D: [ON, OFF],
  E: [ON, OFF],
  F: [ON, ACK, OFF],
};

function run(settings: AlarmSettings, events: readonly AlarmEvent[], from: Alarm = restingAlarm()): Alarm {
  return events.reduce((alarm, event) => step(alarm, event, NOW, settings).alarm, from);
}

function inState(letter: keyof typeof INTO): { alarm: Alarm; settings: AlarmSettings } {
  const settings = letter === 'E' || letter === 'F' ? LATCHING : PLAIN;
  const alarm = run(settings, INTO[letter]);
  expect(alarm.state).toBe(STATES[letter]);
  return { alarm, settings };
}

describe('the transitions of the alarm state diagram', () => {
  const transitions: readonly (readonly [keyof typeof INTO, string, AlarmEvent, Letter])[] = [
    ['A', 'the condition begins', ON, 'B'],
    ['B', 'somebody acknowledges', ACK, 'C'],
    ['B', 'the condition ends', OFF, 'D'],
    ['C', 'the condition ends', OFF, 'A'],
    ['D', 'somebody acknowledges', ACK, 'A'],
    ['D', 'the condition begins again', ON, 'B'],
    ['E', 'somebody acknowledges', ACK, 'F'],
    ['E', 'the condition begins again', ON, 'B'],
    ['E', 'somebody resets it: the latch goes, the duty to see it stays', RESET, 'D'],
    ['F', 'somebody resets it', RESET, 'A'],
    ['F', 'the condition begins again', ON, 'B'],
  ];
  it.each(transitions)('%s: when %s, it becomes what the diagram says', (from, _what, event, to) => {
    const { alarm, settings } = inState(from);
    const result = step(alarm, event, NOW, settings);
    expect(result.refused).toBeNull();
    expect(result.alarm.state).toBe(STATES[to]);
    expect(result.transitions).toMatchObject([{ from: STATES[from], to: STATES[to], atMs: NOW }]);
  });

  it('B: a latching alarm whose condition ends is latched, seen or not', () => {
    expect(run(LATCHING, [ON, OFF]).state).toBe(STATES.E);
    expect(run(LATCHING, [ON, ACK, OFF]).state).toBe(STATES.F);
  });

  const holds = [
    ['G', SHELVE, { kind: 'unshelve', by: 'dora' }],
    ['H', SUPPRESS, { kind: 'unsuppress', by: 'rule:visit' }],
    ['I', TAKE_OUT, { kind: 'return_to_service', by: 'dora' }],
  ] as const;
  const from = Object.keys(INTO) as (keyof typeof INTO)[];
  const cases = holds.flatMap(([to, hold, release]) => from.map((letter) => [letter, to, hold, release] as const));
  it.each(cases)('%s to %s and back to what the condition implies', (letter, to, hold, release) => {
    const { alarm, settings } = inState(letter);
    const held = step(alarm, hold, NOW, settings);
    expect(held.alarm.state).toBe(STATES[to]);
    expect(held.transitions).toMatchObject([{ from: STATES[letter], to: STATES[to] }]);
    expect(step(held.alarm, release, NOW, settings).alarm.state).toBe(STATES[letter]);
  });

  it.each(holds)('leaving %s shows what the condition has come to imply meanwhile', (_to, hold, release) => {
    const begunMeanwhile = run(PLAIN, [hold, ON]);
    const released = step(begunMeanwhile, release, NOW, PLAIN);
    expect(released.alarm.state).toBe(STATES.B);
    expect(released.effects).toContainEqual({ kind: 'announce', alarmId: 'dry:C1', why: 'no_longer_held' });
    expect(run(PLAIN, [ON, ACK, hold, OFF, release]).state).toBe(STATES.A);
    expect(run(LATCHING, [ON, ACK, hold, OFF, release]).state).toBe(STATES.F);
  });

  it('G: shelving ends by itself at its limit', () => {
    const shelved = run(PLAIN, [ON, SHELVE]);
    expect(step(shelved, { kind: 'tick' }, LATER - 1, PLAIN).alarm.state).toBe(STATES.G);
    const after = step(shelved, { kind: 'tick' }, LATER, PLAIN);
    expect(after.alarm.state).toBe(STATES.B);
    expect(after.transitions).toMatchObject([{ cause: 'shelving_expired' }]);
  });

  it('G: shelving has a limit: nobody shelves into the past, or for longer than allowed', () => {
    const raised = run(PLAIN, [ON]);
    expect(step(raised, { ...SHELVE, untilMs: NOW } as AlarmEvent, NOW, PLAIN).refused).toBe('shelving_in_the_past');
    const tooLong = { ...SHELVE, untilMs: NOW + PLAIN.maxShelvingMs + 1 } as AlarmEvent;
    expect(step(raised, tooLong, NOW, PLAIN).refused).toBe('shelving_too_long');
  });

  it('refuses what the diagram has no arrow for, and changes nothing', () => {
    const refusals: readonly (readonly [keyof typeof INTO, AlarmEvent, string])[] = [
      ['A', ACK, 'nothing_to_acknowledge'],
      ['C', ACK, 'nothing_to_acknowledge'],
      ['F', ACK, 'nothing_to_acknowledge'],
      ['A', RESET, 'not_latched'],
      ['B', RESET, 'still_active'],
      ['C', RESET, 'still_active'],
      ['D', RESET, 'not_latched'],
      ['B', { kind: 'unshelve', by: 'dora' }, 'not_shelved'],
      ['B', { kind: 'unsuppress', by: 'dora' }, 'not_suppressed'],
      ['B', { kind: 'return_to_service', by: 'dora' }, 'not_out_of_service'],
    ];
    for (const [letter, event, why] of refusals) {
      const { alarm, settings } = inState(letter);
      const result = step(alarm, event, NOW, settings);
      expect(result).toMatchObject({ refused: why, transitions: [], effects: [] });
      expect(result.alarm).toEqual(alarm);
    }
    expect(step(run(PLAIN, [SHELVE]), SUPPRESS, NOW, PLAIN).refused).toBe('already_held');
  });
});

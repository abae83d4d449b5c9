import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { type AlarmEvent, step } from '../../../src/alerts/alarm-life.js';
import { ESCALATED, escalate, escalationTopic } from '../../../src/alerts/escalation.js';
import type { Alarm, AlarmTransition } from '../../../src/domain/alarm.js';
import type { Alert } from '../../../src/domain/work.js';
import { condition, LATCHING, restingAlarm } from '../../support/alarm-point.js';

const HOUR_MS = 3_600_000;
const RESPOND_WITHIN_MS = 8 * HOUR_MS;
const OWNERS = ['olga', 'otto'];

/** An alarm with its history and what owners were told, as the store would hold them. */
class Story {
  alarm: Alarm = restingAlarm({ kind: 'leak' });
  readonly history: AlarmTransition[] = [];
  alerts: Alert[] = [];

  event(event: AlarmEvent, atMs: number): void {
    const result = step(this.alarm, event, atMs, LATCHING);
    this.alarm = result.alarm;
    this.history.push(...result.transitions);
  }

  look(atMs: number): void {
    const standing = this.alerts.filter((alert) => alert.withdrawnMs === null);
    const result = escalate(this.alarm, this.history, standing, OWNERS, atMs, RESPOND_WITHIN_MS);
    if (result.transition !== null) this.history.push(result.transition);
    for (const alert of result.alerts) this.alerts = [...this.alerts.filter(({ id }) => id !== alert.id), alert];
  }

  get escalations(): number {
    return this.history.filter(({ cause }) => cause === ESCALATED).length;
  }

  get shown(): readonly string[] {
    return this.alerts.filter((alert) => alert.withdrawnMs === null).map(({ personId }) => personId);
  }
}

const ACKNOWLEDGE: AlarmEvent = { kind: 'acknowledge', by: 'dispatcher', note: null };
const SHELVE = (untilMs: number): AlarmEvent => ({
  kind: 'shelve',
  by: 'dispatcher',
  untilMs,
  reason: 'a part is on its way',
});

describe('an alarm that nobody acknowledges', () => {
  it('goes on to every owner once its time to respond has passed, and says so in its history', () => {
    const story = new Story();
    story.event(condition(true, 0), 0);
    story.look(RESPOND_WITHIN_MS - 1);
    expect(story.escalations).toBe(0);
    story.look(RESPOND_WITHIN_MS);
    expect(story.history.at(-1)).toEqual({
      alarmId: 'dry:C1',
      atMs: RESPOND_WITHIN_MS,
      from: 'unacknowledged',
      to: 'unacknowledged',
      cause: ESCALATED,
      actor: 'rule',
      note: null,
      priority: 'medium',
    });
    expect(story.shown).toEqual(OWNERS);
    expect(story.alerts[0]).toMatchObject({
      topic: escalationTopic('dry:C1'),
      message: [story.alarm.message, { code: 'alert.escalated', params: { calledMs: 0 } }],
    });
    story.look(RESPOND_WITHIN_MS + HOUR_MS);
    expect(story.escalations).toBe(1);
    expect(story.alerts).toHaveLength(2);
  });

  it('does not go on where it was acknowledged in time, and is taken back from the owners afterwards', () => {
    const story = new Story();
    story.event(condition(true, 0), 0);
    story.event(ACKNOWLEDGE, HOUR_MS);
    story.look(20 * HOUR_MS);
    expect(story.alerts).toEqual([]);

    const late = new Story();
    late.event(condition(true, 0), 0);
    late.look(9 * HOUR_MS);
    late.event(ACKNOWLEDGE, 10 * HOUR_MS);
    late.look(10 * HOUR_MS);
    expect(late.shown).toEqual([]);
  });

  it('goes on as well where the condition went and it stays latched, unseen', () => {
    const story = new Story();
    story.event(condition(true, 0), 0);
    story.event(condition(false, 2 * HOUR_MS), 2 * HOUR_MS);
    expect(story.alarm.state).toBe('latched_unacknowledged');
    story.look(RESPOND_WITHIN_MS);
    expect(story.escalations).toBe(1);
  });

  it('has its whole time again when it is let go after it was shelved', () => {
    const story = new Story();
    story.event(condition(true, 0), 0);
    story.event(SHELVE(48 * HOUR_MS), HOUR_MS);
    story.look(24 * HOUR_MS);
    expect(story.escalations).toBe(0);
    story.event({ kind: 'tick' }, 48 * HOUR_MS);
    expect(story.alarm.state).toBe('unacknowledged');
    story.look(55 * HOUR_MS);
    expect(story.escalations).toBe(0);
    story.look(56 * HOUR_MS);
    expect(story.escalations).toBe(1);
  });
});

describe('whatever happens', () => {
  const event = fc.oneof(
    fc.record({ kind: fc.constant('on' as const) }),
    fc.record({ kind: fc.constant('off' as const) }),
    fc.record({
      kind: fc.constantFrom('acknowledge' as const, 'reset' as const, 'tick' as const, 'unshelve' as const),
    }),
    fc.record({ kind: fc.constantFrom('suppress' as const, 'unsuppress' as const, 'shelve' as const) }),
    fc.record({ kind: fc.constantFrom('take_out_of_service' as const, 'return_to_service' as const) }),
  );

  it('an alarm goes on at most once for each time that it calls, and never while it is held', () => {
    fc.assert(
      fc.property(fc.array(fc.tuple(event, fc.integer({ min: 1, max: 20 })), { maxLength: 40 }), (events) => {
        const story = new Story();
        let nowMs = 0;
        for (const [{ kind }, hours] of events) {
          nowMs += hours * HOUR_MS;
          story.event(eventOf(kind, nowMs), nowMs);
          const before = story.escalations;
          story.look(nowMs);
          story.look(nowMs);
          expect(story.escalations - before).toBeLessThanOrEqual(1);
          if (story.escalations > before) {
            expect(['unacknowledged', 'latched_unacknowledged']).toContain(story.alarm.state);
          }
        }
        expect(mostEscalationsOfOneCall(story.history)).toBeLessThanOrEqual(1);
      }),
    );
  });

  function eventOf(kind: string, atMs: number): AlarmEvent {
    const by = 'dispatcher';
    const reason = 'because';
    switch (kind) {
      case 'on':
        return condition(true, atMs);
      case 'off':
        return condition(false, atMs);
      case 'shelve':
        return SHELVE(atMs + 5 * HOUR_MS);
      case 'acknowledge':
      case 'reset':
        return { kind, by, note: null };
      case 'suppress':
      case 'take_out_of_service':
        return { kind, by, reason };
      case 'unsuppress':
      case 'return_to_service':
      case 'unshelve':
        return { kind, by };
      default:
        return { kind: 'tick' };
    }
  }

  /** Counted from the history alone, without the rule that is tested. */
  function mostEscalationsOfOneCall(history: readonly AlarmTransition[]): number {
    let most = 0;
    let count = 0;
    for (const { cause, to } of history) {
      if (cause === ESCALATED) count += 1;
      else if (to !== 'unacknowledged' && to !== 'latched_unacknowledged') count = 0;
      most = Math.max(most, count);
    }
    return most;
  }
});

import { describe, expect, it } from 'vitest';
import { LogInThrottle } from '../../../../src/app/people/log-in-throttle.js';

const MINUTE_MS = 60_000;

function fail(throttle: LogInThrottle, times: number, login: string, address: string, nowMs: number): void {
  for (let i = 0; i < times; i++) throttle.failed(login, address, nowMs);
}

describe('slowing the guessing of passwords', () => {
  it('lets a person mistype a few times', () => {
    const throttle = new LogInThrottle();
    fail(throttle, 4, 'ada', 'here', 0);
    expect(throttle.waitMs('ada', 'here', 0)).toBe(0);
  });

  it('makes each further attempt wait twice as long, up to a quarter of an hour', () => {
    const throttle = new LogInThrottle();
    fail(throttle, 5, 'ada', 'here', 0);
    expect(throttle.waitMs('ada', 'here', 0)).toBe(30_000);
    fail(throttle, 1, 'ada', 'here', 0);
    expect(throttle.waitMs('ada', 'here', 0)).toBe(60_000);
    fail(throttle, 20, 'ada', 'here', 0);
    expect(throttle.waitMs('ada', 'here', 0)).toBe(15 * MINUTE_MS);
    expect(throttle.waitMs('ada', 'here', 15 * MINUTE_MS)).toBe(0);
  });

  it('does not lock others out: another address and another log-in go on', () => {
    const throttle = new LogInThrottle();
    fail(throttle, 10, 'ada', 'stranger', 0);
    expect(throttle.waitMs('ada', 'home', 0)).toBe(0);
    expect(throttle.waitMs('bert', 'stranger', 0)).toBe(0);
  });

  it('stops guesses that come from many addresses', () => {
    const throttle = new LogInThrottle();
    for (let i = 0; i < 50; i++) throttle.failed('ada', `address-${i}`, 0);
    expect(throttle.waitMs('ada', 'yet another', 0)).toBeGreaterThan(0);
  });

  it('forgets the wrong ones after the right one, and never counts right ones', () => {
    const throttle = new LogInThrottle();
    fail(throttle, 4, 'ada', 'here', 0);
    for (let i = 0; i < 200; i++) {
      throttle.failed('ada', 'here', 0);
      throttle.succeeded('ada', 'here');
    }
    expect(throttle.waitMs('ada', 'here', 0)).toBe(0);
    fail(throttle, 4, 'ada', 'here', 0);
    expect(throttle.waitMs('ada', 'here', 0)).toBe(0);
  });

  it('forgets after a quarter of an hour without attempts', () => {
    const throttle = new LogInThrottle();
    fail(throttle, 4, 'ada', 'here', 0);
    fail(throttle, 1, 'ada', 'here', 16 * MINUTE_MS);
    expect(throttle.waitMs('ada', 'here', 16 * MINUTE_MS)).toBe(0);
  });
});

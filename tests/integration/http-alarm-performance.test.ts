import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { Write } from '../../src/domain/change-set.js';
import { restingAlarm } from '../support/alarm-point.js';
import { startTestServer, type TestClient, TestClock, type TestServer } from '../support/server.js';
import { twoAccountsWrites } from '../support/two-accounts.js';

const NOW_MS = Date.UTC(2026, 5, 5, 8);
const MINUTE_MS = 60_000;

let server: TestServer;
let dispatcher: TestClient;

/** Twelve alarms within ten minutes, one of which stands ever since. */
function storm(fromMs: number): readonly Write[] {
  return Array.from({ length: 12 }, (_, index): Write[] => {
    const alarm = restingAlarm({ id: `leak:P${index}`, kind: 'leak', priority: index === 0 ? 'high' : 'low' });
    const line = { alarmId: alarm.id, actor: 'rule', note: null, priority: alarm.priority } as const;
    const atMs = fromMs + index * (MINUTE_MS / 2);
    const came = { ...line, atMs, from: 'normal', to: 'unacknowledged', cause: 'condition_on' } as const;
    const went = { ...line, atMs: atMs + 5 * MINUTE_MS, from: 'unacknowledged', to: 'normal', cause: 'reset' } as const;
    return [
      { kind: 'alarm', row: alarm },
      { kind: 'alarm_transition', row: came },
      ...(index === 0 ? [] : [{ kind: 'alarm_transition', row: went } as const]),
    ];
  }).flat();
}

beforeAll(async () => {
  server = await startTestServer({
    seed: [...twoAccountsWrites(), ...storm(NOW_MS - 36 * 60 * MINUTE_MS)],
    clock: new TestClock(NOW_MS),
  });
  dispatcher = await server.login('dispatcher');
});

afterAll(() => server.close());

describe('how the alarms did', () => {
  it('is measured over a period against the figures of the standard, and names what misbehaves with its cure', async () => {
    const answer = await dispatcher.get('/api/v1/alarms/performance?from=2026-06-03T08:00:00Z&to=2026-06-05T08:00:00Z');
    expect(answer.status, JSON.stringify(answer.body)).toBe(200);
    expect(answer.body).toMatchObject({
      performance: {
        from: '2026-06-03T08:00:00.000Z',
        operators: 1,
        alarms: 12,
        perOperatorDay: 6,
        floods: [{ alarms: 12 }],
        stale: [{ alarmId: 'leak:P0', siteName: 'Larkspur terrace', cure: 'performance.cure.stale' }],
      },
      targets: { alarmsPerDay: { acceptable: 144, manageable: 288 }, staleOnAnyDay: 5 },
    });
  });

  it('counts nothing outside of the period', async () => {
    const answer = await dispatcher.get('/api/v1/alarms/performance?from=2026-06-04T08:00:00Z&to=2026-06-05T08:00:00Z');
    expect(answer.body).toMatchObject({ performance: { alarms: 0, floods: [] } });
  });

  it.each([
    'from=2026-06-05T08:00:00Z&to=2026-06-03T08:00:00Z',
    'from=2020-01-01T00:00:00Z&to=2026-06-03T08:00:00Z',
    'from=yesterday&to=2026-06-03T08:00:00Z',
    'from=2026-06-03T08:00:00Z',
  ])('refuses the period %s in words', async (query) => {
    const answer = await dispatcher.get(`/api/v1/alarms/performance?${query}`);
    expect(answer.status).toBe(400);
    const { code, faults } = answer.body as { code: string; faults: readonly { pointer: string }[] };
    expect(code).toBe('invalid_input');
    expect(faults[0]?.pointer).toMatch(/^\?(from|to)$/);
  });
});

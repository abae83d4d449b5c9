import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { reconcileSite } from '../../src/alerts/reconcile-site.js';
import type { PotSituation, SiteSituation } from '../../src/alerts/situation.js';
import { stepTask } from '../../src/alerts/task-life.js';
import type { Alarm } from '../../src/domain/alarm.js';
import type { Write } from '../../src/domain/change-set.js';
import type { FindingKind } from '../../src/domain/pot.js';
import { EN } from '../../src/domain/texts/en/index.js';
import { type Reader, render } from '../../src/domain/texts/render.js';
import { type Alert, OPEN_TASK_STATES, type RoundStop, type Task } from '../../src/domain/work.js';
import { testContainer } from '../support/garden.js';
import { DAY, findingOf, gainOf, HOUR, MADRID, MONDAY, potWith, siteWith, stopOn } from '../support/situations.js';

const FINDINGS: readonly FindingKind[] = [
  'leak',
  'overflow_blocked',
  'wick_failed',
  'waterlogged',
  'sensor_stuck',
  'sensor_fouled',
  'node_silent',
  'battery_low',
  'clock_wrong',
  'nodes_swapped',
];

/** One turn of events at a site of two pots behind one gateway: how it looks, and what people do. */
const turn = fc.record({
  hours: fc.integer({ min: 0, max: 40 }),
  p10Days: fc.tuple(days(), days()),
  findings: fc.tuple(fc.subarray([...FINDINGS]), fc.subarray([...FINDINGS])),
  rained: fc.boolean(),
  crewIsFull: fc.boolean(),
  stop: fc.constantFrom(null, 'planned' as const, 'on_the_way' as const),
  act: fc.constantFrom('nothing', 'done', 'cancel', 'acknowledge', 'contradict'),
});

function days() {
  return fc.option(
    fc.integer({ min: -20, max: 120 }).map((tenths) => tenths / 10),
    { nil: null },
  );
}

type Turn = typeof turn extends fc.Arbitrary<infer Value> ? Value : never;

class Site {
  nowMs = MONDAY;
  readonly alarms = new Map<string, Alarm>();
  readonly tasks = new Map<string, Task>();
  readonly alerts = new Map<string, Alert>();
  stops: RoundStop[] = [];

  situation({ p10Days, findings, rained, crewIsFull }: Turn): SiteSituation {
    const pots = ['C1', 'C2'].map((id, index): PotSituation => {
      const opened = findings[index]!.map((kind) => findingOf(kind, { containerId: id, openedMs: this.nowMs - HOUR }));
      return {
        ...potWith(p10Days[index]!, { container: testContainer(id, 'S1') }, this.nowMs),
        findings: opened,
        gatewayId: 'G1',
        recentEvents: rained ? [gainOf('rain', 9, this.nowMs - HOUR)] : [],
        rainToCome: rained ? { byMs: this.nowMs + DAY, litres: 20 } : null,
      };
    });
    return siteWith(pots, {
      nowMs: this.nowMs,
      crewIsFull,
      alarms: [...this.alarms.values()],
      tasks: [...this.tasks.values()],
      stops: this.stops,
      alerts: [...this.alerts.values()].filter((alert) => alert.withdrawnMs === null),
    });
  }

  take(writes: readonly Write[]): void {
    for (const write of writes) {
      if (write.kind === 'alarm') this.alarms.set(write.row.id, write.row);
      if (write.kind === 'task') this.tasks.set(write.row.id, write.row);
      if (write.kind === 'alert') this.alerts.set(write.row.id, write.row);
      if (write.kind === 'round_stop') this.stops = this.stops.filter((stop) => stop.id !== write.row.id);
    }
  }

  act({ act }: Turn): void {
    const open = [...this.tasks.values()].find((task) => OPEN_TASK_STATES.some((state) => state === task.state));
    const message = { code: 'task.made', params: {} } as const;
    if (act === 'done' && open !== undefined) {
      this.tasks.set(open.id, stepTask(open, { kind: 'done' }, this.nowMs, 'tom', message).task);
    }
    if (act === 'cancel' && open !== undefined) {
      this.tasks.set(open.id, stepTask(open, { kind: 'cancel' }, this.nowMs, 'dora', message).task);
    }
    if (act === 'contradict') {
      for (const task of this.tasks.values()) {
        const reopened = stepTask(task, { kind: 'reopen', message }, this.nowMs, 'rule', message).task;
        const another = [...this.tasks.values()].some(
          (other) => other.id !== task.id && sameWork(other, task) && isOpen(other),
        );
        if (!another) this.tasks.set(task.id, reopened);
      }
    }
  }
}

const isOpen = (task: Task): boolean => OPEN_TASK_STATES.some((state) => state === task.state);
const sameWork = (a: Task, b: Task): boolean => a.containerId === b.containerId && a.kind === b.kind;

function live(turns: readonly Turn[], see: (site: Site, turn: Turn, writes: readonly Write[]) => void): void {
  const site = new Site();
  for (const next of turns) {
    site.nowMs += next.hours * HOUR;
    const day = MADRID.dayOf(site.nowMs);
    site.stops = next.stop === null ? [] : [stopOn(day, { state: next.stop })];
    const { writes } = reconcileSite(site.situation(next));
    site.take(writes);
    see(site, next, writes);
    site.act(next);
  }
}

const turns = fc.array(turn, { minLength: 1, maxLength: 15 });

describe('alarms, tasks and alerts of a site, whatever happens there', () => {
  it('never hold two open tasks of one kind at one pot', () => {
    fc.assert(
      fc.property(turns, (list) => {
        live(list, (site) => {
          const keys = [...site.tasks.values()].filter(isOpen).map((task) => `${task.containerId}|${task.kind}`);
          expect(new Set(keys).size).toBe(keys.length);
        });
      }),
      { numRuns: 60 },
    );
  });

  it('are settled after one look: a second look at the same writes nothing', () => {
    fc.assert(
      fc.property(turns, (list) => {
        live(list, (site, next) => {
          expect(reconcileSite(site.situation(next)).writes).toEqual([]);
        });
      }),
      { numRuns: 60 },
    );
  });

  it('write a transition for each change of a task’s state, and from where it stood', () => {
    fc.assert(
      fc.property(turns, (list) => {
        const states = new Map<string, Task['state'] | null>();
        live(list, (site, _next, writes) => {
          for (const write of writes) {
            if (write.kind !== 'task_transition') continue;
            const known = states.get(write.row.taskId) ?? null;
            expect(write.row.from).toBe(known);
            states.set(write.row.taskId, write.row.to);
          }
          for (const task of site.tasks.values()) expect(states.get(task.id)).toBe(task.state);
          site.act = () => undefined;
        });
      }),
      { numRuns: 40 },
    );
  });

  it('tell each person at most one thing about the site, and nothing about a site where all is well', () => {
    fc.assert(
      fc.property(turns, (list) => {
        live(list, (site) => {
          const standing = [...site.alerts.values()].filter((alert) => alert.withdrawnMs === null);
          const people = standing.map((alert) => alert.personId);
          expect(new Set(people).size).toBe(people.length);
          const open = [...site.tasks.values()].filter(isOpen);
          const unseen = [...site.alarms.values()].filter((alarm) => alarm.state.endsWith('unacknowledged'));
          if (open.length === 0 && unseen.length === 0) expect(standing).toEqual([]);
        });
      }),
      { numRuns: 40 },
    );
  });

  it('say only what can be said in words', () => {
    const reader: Reader = {
      locale: 'en-GB',
      units: { volume: 'US_gal', length: 'in', temperature: 'degF' },
      timeZone: 'Europe/Madrid',
    };
    fc.assert(
      fc.property(turns, (list) => {
        live(list, (_site, _next, writes) => {
          for (const write of writes) {
            const messages =
              write.kind === 'alert'
                ? write.row.message
                : write.kind === 'task'
                  ? write.row.reason
                  : write.kind === 'alarm'
                    ? [write.row.message]
                    : write.kind === 'task_transition'
                      ? [write.row.reason]
                      : [];
            for (const message of messages) expect(render(EN, message, reader)).not.toMatch(/undefined|NaN|\{/);
          }
        });
      }),
      { numRuns: 30 },
    );
  });
});

describe('tasks', () => {
  it('have an id of their own, also where one is called off and asked for again at the same moment', () => {
    const quiet: Turn = {
      hours: 0,
      p10Days: [null, null],
      findings: [[], []],
      rained: false,
      crewIsFull: false,
      stop: null,
      act: 'nothing',
    };
    const site = new Site();
    const look = (kinds: FindingKind[]) =>
      site.take(reconcileSite(site.situation({ ...quiet, findings: [kinds, []] })).writes);
    look(['nodes_swapped']);
    look([]);
    look(['sensor_fouled']);
    const [before, after, ...more] = [...site.tasks.values()];
    expect(more).toEqual([]);
    expect([before?.state, after?.state]).toEqual(['cancelled', 'proposed']);
    expect(after?.kind).toBe(before?.kind);
  });
});

describe('alerts', () => {
  it('go to the technician of the day once the stop is planned, and are withdrawn when it is moot', () => {
    const quiet: Turn = {
      hours: 0,
      p10Days: [0.5, 30],
      findings: [[], []],
      rained: false,
      crewIsFull: false,
      stop: null,
      act: 'nothing',
    };
    const site = new Site();
    // Past the cut-off: before it the morning's list says the same.
    site.nowMs += 3.5 * HOUR;
    const look = (next: Turn, stops: RoundStop[]) => {
      site.stops = stops;
      site.take(reconcileSite(site.situation(next)).writes);
      return [...site.alerts.values()].filter((alert) => alert.withdrawnMs === null);
    };
    const [first, ...none] = look(quiet, []);
    expect(none).toEqual([]);
    expect(first).toMatchObject({ personId: 'dora', topic: 'stop:S1', revision: 1, containerIds: ['C1'] });
    site.nowMs += HOUR;
    // The forecast moved by an hour: no news, and nothing is written.
    expect(look({ ...quiet, p10Days: [0.45, 30] }, [])).toEqual([first]);
    // Another pot joins: the same alert, told again.
    site.alerts.set(first!.id, { ...first!, readMs: site.nowMs });
    const [more] = look({ ...quiet, p10Days: [0.45, 0.6] }, []);
    expect(more).toMatchObject({ id: first!.id, revision: 2, readMs: null, containerIds: ['C1', 'C2'] });
    const onRound = look({ ...quiet, p10Days: [0.45, 0.6] }, [stopOn('2026-08-31')]);
    expect(onRound.map((alert) => alert.personId)).toEqual(['tom']);
    site.nowMs += DAY;
    expect(look({ ...quiet, p10Days: [30, 30] }, [])).toEqual([]);
  });
});

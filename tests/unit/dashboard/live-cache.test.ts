import { describe, expect, it } from 'vitest';
import { type ChangeNotice, LiveCache, type LiveQuery } from '../../../dashboard/src/state/live-cache.js';

const change = (kind: string): ChangeNotice => ({ seq: 1, kind, key: 'C1', siteId: null, containerId: 'C1' });

/** Timers that a test lets pass. */
class Pacing {
  now = 0;
  waiting: { atMs: number; run: () => void }[] = [];

  nowMs(): number {
    return this.now;
  }

  later(run: () => void, delayMs: number): () => void {
    const one = { atMs: this.now + delayMs, run };
    this.waiting.push(one);
    return () => {
      this.waiting = this.waiting.filter((other) => other !== one);
    };
  }

  async pass(ms: number): Promise<void> {
    this.now += ms;
    const due = this.waiting.filter((one) => one.atMs <= this.now);
    this.waiting = this.waiting.filter((one) => one.atMs > this.now);
    for (const one of due) one.run();
    await settled();
  }
}

const settled = (): Promise<void> => new Promise((resolve) => setImmediate(resolve));

function counted(): { query: LiveQuery<number>; loads: () => number; fail: (fault: Error | null) => void } {
  let loads = 0;
  let fault: Error | null = null;
  return {
    query: {
      key: 'view',
      load: async () => {
        loads += 1;
        if (fault !== null) throw fault;
        return loads;
      },
      touchedBy: (notice) => notice.kind === 'status',
    },
    loads: () => loads,
    fail: (next) => {
      fault = next;
    },
  };
}

describe('the cache of live views', () => {
  it('loads a view when it is first looked at, and tells who looks', async () => {
    const cache = new LiveCache(new Pacing());
    const { query } = counted();
    let told = 0;
    cache.watch(query, () => {
      told += 1;
    });
    await settled();
    expect(cache.state<number>('view')).toEqual({ data: 1, fault: null, loading: false });
    expect(told).toBeGreaterThan(0);
  });

  it('loads again after a change that touches the view, and not after another', async () => {
    const pacing = new Pacing();
    const cache = new LiveCache(pacing);
    const { query, loads } = counted();
    cache.watch(query, () => {});
    await settled();
    cache.apply([change('alarm')]);
    await pacing.pass(10_000);
    expect(loads()).toBe(1);
    cache.apply([change('status')]);
    await pacing.pass(10_000);
    expect(loads()).toBe(2);
  });

  it('makes one load of a burst of changes', async () => {
    const pacing = new Pacing();
    const cache = new LiveCache(pacing);
    const { query, loads } = counted();
    cache.watch(query, () => {});
    await settled();
    for (let i = 0; i < 50; i++) cache.apply([change('status')]);
    await pacing.pass(10_000);
    expect(loads()).toBe(2);
  });

  it('loads once more where a change comes while a load is under way', async () => {
    const pacing = new Pacing();
    const cache = new LiveCache(pacing);
    const answers: ((value: string) => void)[] = [];
    const query: LiveQuery<string> = {
      key: 'slow',
      load: () => new Promise((resolve) => answers.push(resolve)),
      touchedBy: () => true,
    };
    cache.watch(query, () => {});
    cache.apply([change('status')]);
    answers[0]!('before the change');
    await settled();
    await pacing.pass(10_000);
    answers[1]!('after it');
    await settled();
    expect(cache.state<string>('slow').data).toBe('after it');
    expect(answers).toHaveLength(2);
  });

  it('only marks a view that nobody looks at, and loads it when somebody does again', async () => {
    const pacing = new Pacing();
    const cache = new LiveCache(pacing);
    const { query, loads } = counted();
    const leave = cache.watch(query, () => {});
    await settled();
    leave();
    cache.apply([change('status')]);
    await pacing.pass(10_000);
    expect(loads()).toBe(1);
    cache.watch(query, () => {});
    await settled();
    expect(loads()).toBe(2);
  });

  it('keeps what was known where a load fails, and says so', async () => {
    const pacing = new Pacing();
    const cache = new LiveCache(pacing);
    const { query, fail } = counted();
    cache.watch(query, () => {});
    await settled();
    fail(new Error('no signal'));
    cache.apply([change('status')]);
    await pacing.pass(10_000);
    expect(cache.state<number>('view').data).toBe(1);
    expect(String(cache.state<number>('view').fault)).toContain('no signal');
    fail(null);
    cache.ageAll();
    await pacing.pass(10_000);
    expect(cache.state<number>('view').fault).toBeNull();
  });

  it('shows what was kept from before until the first answer, and never in its place', async () => {
    const cache = new LiveCache(new Pacing());
    const { query } = counted();
    cache.seed(query, -1);
    expect(cache.state<number>('view').data).toBe(-1);
    cache.watch(query, () => {});
    await settled();
    cache.seed(query, -2);
    expect(cache.state<number>('view').data).toBe(1);
  });
});

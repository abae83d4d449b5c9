import { describe, expect, it } from 'vitest';
import { GroupCommit } from '../../src/ingest/group-commit.js';

/** Commits numbers into a list; refuses those below zero, with everything that shares their commit. */
function recorder(maxBatch?: number, isolates = true) {
  const batches: number[][] = [];
  const group = new GroupCommit<number>(
    async (items) => {
      await new Promise<void>((resolve) => setImmediate(resolve));
      if (items.some((item) => item < 0)) throw new Error('the store refuses');
      batches.push([...items]);
    },
    () => isolates,
    maxBatch,
  );
  const settled = (item: number) =>
    new Promise<string>((resolve) =>
      group.add(item, (error) =>
        resolve(error === null && batches.flat().includes(item) ? 'stored' : (error?.message ?? 'too early')),
      ),
    );
  return { group, batches, settled };
}

describe('group commit', () => {
  it('stores what arrives in one turn of the event loop in one commit, and settles after it', async () => {
    const { batches, settled } = recorder();
    expect(await Promise.all([1, 2, 3].map(settled))).toEqual(['stored', 'stored', 'stored']);
    expect(batches).toEqual([[1, 2, 3]]);
  });

  it('gathers what arrives during a commit for the next one', async () => {
    const { batches, settled } = recorder();
    const first = settled(1);
    await new Promise<void>((resolve) => setImmediate(resolve));
    const others = [settled(2), settled(3)];
    await Promise.all([first, ...others]);
    expect(batches).toEqual([[1], [2, 3]]);
  });

  it('caps a commit, in the order of arrival', async () => {
    const { batches, settled } = recorder(2);
    await Promise.all([1, 2, 3, 4, 5].map(settled));
    expect(batches).toEqual([[1, 2], [3, 4], [5]]);
  });

  it('does not let one item that the store refuses hold up the others', async () => {
    const { settled } = recorder();
    expect(await Promise.all([1, -2, 3].map(settled))).toEqual(['stored', 'the store refuses', 'stored']);
  });

  it('does not try one by one where the store itself is at fault', async () => {
    const { group, settled } = recorder(10, false);
    expect(await Promise.all([1, -2, 3].map(settled))).toEqual(Array(3).fill('the store refuses'));
    expect(group.stats().failedCommits).toBe(1);
  });

  it('drains what is held', async () => {
    const { group, batches } = recorder(2);
    for (const item of [1, 2, 3]) group.add(item, () => {});
    await group.drain();
    expect(batches.flat()).toEqual([1, 2, 3]);
    expect(group.stats()).toMatchObject({ commits: 2, items: 3, largest: 2, waiting: 0, failedCommits: 0 });
  });
});

import { describe, expect, it } from 'vitest';
import { StageLoop } from '../../../src/commands/stage-loop.js';
import { silentLog } from '../../support/temp-store.js';

describe('stages by turns', () => {
  it('runs each until nothing is waiting, a step at a time', async () => {
    const steps: string[] = [];
    const left: Record<string, number> = { a: 2, b: 3 };
    const stage = (name: string) => ({
      name,
      step: async () => {
        if (left[name] === 0) return false;
        left[name]! -= 1;
        steps.push(name);
        return true;
      },
    });
    const loop = new StageLoop([stage('a'), stage('b')], silentLog, () => 0);
    await loop.idle();
    expect(steps).toEqual(['a', 'b', 'a', 'b', 'b']);
  });

  it('lets the others go on when one fails, tells of it, and tries it again after a wait', async () => {
    let nowMs = 0;
    let broken = true;
    let goodSteps = 0;
    let badSteps = 0;
    const loop = new StageLoop(
      [
        {
          name: 'bad',
          step: async () => {
            badSteps += 1;
            if (broken) throw new Error('no room');
            return false;
          },
        },
        { name: 'good', step: async () => goodSteps++ < 2 },
      ],
      silentLog,
      () => nowMs,
    );
    await loop.idle();
    expect(goodSteps).toBe(3);
    expect(badSteps).toBe(1);
    expect(loop.troubles()).toEqual([expect.stringMatching(/“bad”.*no room/)]);
    await loop.idle();
    expect(badSteps).toBe(1);
    broken = false;
    nowMs = 2_000;
    await loop.idle();
    expect(badSteps).toBe(2);
    expect(loop.troubles()).toEqual([]);
  });

  it('ends the step that runs when it is stopped, and takes no more', async () => {
    let finish: (() => void) | null = null;
    let steps = 0;
    const loop = new StageLoop(
      [
        {
          name: 'slow',
          step: () =>
            new Promise<boolean>((resolve) => {
              steps += 1;
              finish = () => resolve(true);
            }),
        },
      ],
      silentLog,
      () => 0,
    );
    loop.wake();
    let stopped = false;
    const stopping = loop.stop().then(() => {
      stopped = true;
    });
    await Promise.resolve();
    expect(stopped).toBe(false);
    finish!();
    await stopping;
    loop.wake();
    expect(steps).toBe(1);
  });
});

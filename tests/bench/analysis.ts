import { parseArgs } from 'node:util';
import { advance, assess, findingsAt, type PotState, startAnalysis } from '../../src/analytics/analysis.js';
import { SkillHistory } from '../../src/analytics/forecast-archive.js';
import { replayPot } from '../../src/app/replay/replay-pot.js';
import type { PotInput } from '../../src/domain/analysis.js';
import { potContext, potSeries } from '../support/pot-series.js';
import type { Benchmark } from './run.js';

const HELP = `Usage: npm run --silent bench analysis -- [--days N] [--rounds N]

Folds one simulated pot (15 min) and prints
  us_per_reading   CPU time of one more reading on top of N days: advance, then the findings of that moment
  naive_us         the same answer by fitting all N days anew, in the same run
  ratio            how many times the incremental way is cheaper
  assess_us        one full assessment with its forecast
  replay_us        CPU time for each reading of a whole replay of the pot

--days N    days of history (default 120)
--rounds N  rounds, incremental and naive interleaved; medians are printed (default 5)

Fails where the two ways do not give the same bytes, or incremental is less than 50 times cheaper.`;

// A refit costs what all readings cost together; anything near one would mean that the fold is not incremental.
const LEAST_RATIO = 50;
/** Readings folded one by one in a round. */
const READINGS = 400;
const ASSESSMENTS = 50;

export const benchmark: Benchmark = {
  name: 'analysis',
  summary: 'one more reading: incremental against fitting anew, and the speed of a replay',
  help: HELP,
  async run(args) {
    const { values } = parseArgs({
      args: [...args],
      options: { days: { type: 'string', default: '120' }, rounds: { type: 'string', default: '5' } },
    });
    const days = Number(values.days);
    const rounds = Number(values.rounds);
    const ctx = potContext();
    const inputs = potSeries(ctx, { days, intervalMinutes: 15 });
    const head = inputs.slice(0, -READINGS);
    const tail = inputs.slice(-READINGS);
    const before = advance(ctx, startAnalysis(ctx), head).state;
    const incremental: number[] = [];
    const naive: number[] = [];
    const assessing: number[] = [];
    for (let round = 0; round < rounds; round++) {
      let state: PotState = before;
      incremental.push(
        cpuUs(() => {
          for (const input of tail) {
            state = advance(ctx, state, [input]).state;
            findingsAt(ctx, state, input.timeMs);
          }
        }) / tail.length,
      );
      let whole: PotState = before;
      naive.push(
        cpuUs(() => {
          whole = advance(ctx, startAnalysis(ctx), inputs).state;
        }),
      );
      if (JSON.stringify(whole) !== JSON.stringify(state)) throw new Error('the two ways give different states');
      const nowMs = state.atMs;
      assessing.push(
        cpuUs(() => {
          for (let i = 0; i < ASSESSMENTS; i++) assess(ctx, state, nowMs + i, []);
        }) / ASSESSMENTS,
      );
    }
    const replaying = cpuUs(() => replay(inputs)) / inputs.length;
    const usPerReading = median(incremental);
    console.log('days,readings,us_per_reading,naive_us,ratio,assess_us,replay_us');
    const ratio = median(naive) / usPerReading;
    const cells = [usPerReading, median(naive), ratio, median(assessing), replaying];
    console.log([days, inputs.length, ...cells.map((value) => value.toFixed(1))].join(','));
    if (ratio < LEAST_RATIO) throw new Error(`incremental is only ${ratio.toFixed(0)} times cheaper than fitting anew`);
  },
};

function replay(inputs: readonly PotInput[]): void {
  const ctx = potContext();
  replayPot({
    ctx,
    promisedIntervalS: null,
    arrivals: inputs.map((input) => ({ receivedMs: input.timeMs, input })),
    forecasts: [],
    skill: new SkillHistory(ctx, [], []),
    originsMs: [],
    comparedMs: [],
  });
}

/** CPU time of this process, which other programs on the machine disturb less than the clock on the wall. */
function cpuUs(work: () => void): number {
  const before = process.cpuUsage();
  work();
  const used = process.cpuUsage(before);
  return used.user + used.system;
}

function median(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[sorted.length >> 1]!;
}

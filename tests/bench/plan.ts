import { setTimeout as sleep } from 'node:timers/promises';
import { parseArgs } from 'node:util';
import type { LoadedPlan } from '../../src/app/planning/plan-input.js';
import { PlanThread } from '../../src/app/planning/plan-thread.js';
import type { PlanInput } from '../../src/dispatch/build-problem.js';
import type { LaidStop } from '../../src/dispatch/crew.js';
import { stopsOfDraft } from '../../src/dispatch/desk.js';
import { withoutPerson } from '../../src/dispatch/replan.js';
import { TRAVEL_SETTINGS } from '../../src/dispatch/travel.js';
import type { Write } from '../../src/domain/change-set.js';
import type { PlanContent } from '../../src/domain/plan.js';
import { startTestServer, type TestClient, TestClock } from '../support/server.js';
import type { Benchmark } from './run.js';
import { containerOf, inputOf } from './season/run-season.js';
import { type BenchWorld, townWorld } from './season/world.js';

const HELP = `Usage: npm run --silent bench plan -- [--sites N] [--technicians N] [--seconds S] [--no-server]

How long the planner takes for a large fleet, in its thread: the first plan that can be used, offers for an urgent alarm, a
valid plan when somebody is sick; and how long the server keeps a request waiting while it plans. Prints CSV.

  --sites N         sites, two to six pots each (3000)
  --technicians N   technicians with a truck each (20)
  --seconds S       of search, in the thread and in the server (20)
  --no-server       leave the server out`;

/** A Monday in July. */
const DAY = 189;

export const benchmark: Benchmark = {
  name: 'plan',
  summary: 'first plan, offers, a sick technician and waiting requests at thousands of sites',
  help: HELP,
  async run(args) {
    const { values } = parseArgs({
      args: [...args],
      options: {
        sites: { type: 'string', default: '3000' },
        technicians: { type: 'string', default: '20' },
        seconds: { type: 'string', default: '20' },
        'no-server': { type: 'boolean' },
      },
    });
    const seconds = Number(values.seconds);
    const world = townWorld(Number(values.sites), Number(values.technicians), DAY + 1);
    const containers = world.pots.map((pot) =>
      containerOf(world, pot.id, pot.drawableLitres, pot.deadLitres, pot.site),
    );
    // Pots as they are found on any morning: anything from just filled to nearly due.
    const litres = Float64Array.from(
      world.pots,
      (pot, p) => pot.drawableLitres * (0.25 + (0.75 * ((p * 37) % 101)) / 101),
    );
    const plan = inputOf(world, containers, DAY, litres, []);
    console.log('what,value,unit');
    await measureThread(plan, seconds);
    if (values['no-server'] !== true) await measureServer(world, plan, seconds);
    say('peak memory', process.resourceUsage().maxRSS / 1024, 'MB');
  },
};

function say(what: string, value: number, unit: string): void {
  console.log(`${what},${value.toFixed(value < 10 ? 2 : 0)},${unit}`);
}

function loadedOf(plan: PlanInput): LoadedPlan {
  const desk = { plan, held: [], wishes: [], assumptions: [], personNames: {} };
  return { desk, published: [], travel: TRAVEL_SETTINGS };
}

async function measureThread(plan: PlanInput, seconds: number): Promise<void> {
  const thread = new PlanThread();
  const search = async (input: PlanInput, base: readonly LaidStop[], heat: number) => {
    const startedMs = performance.now();
    let firstMs = Number.NaN;
    let first: PlanContent | null = null;
    await thread.ask<'load'>({ kind: 'load', loaded: loadedOf(input) });
    const { content } = await thread.ask<'search'>(
      { kind: 'search', base, wishes: [], budget: { seconds }, seed: 1, heat },
      (one) => {
        firstMs = performance.now() - startedMs;
        first = one;
      },
    );
    return { content, firstMs, first: first as PlanContent | null, allMs: performance.now() - startedMs };
  };
  const night = await search(plan, [], 1);
  say('first plan', night.firstMs / 1000, 's');
  say('cost of the first plan', night.first?.totals.cost ?? Number.NaN, '');
  say('cost after the search', night.content.totals.cost, '');
  say('truck-days', night.content.totals.truckDays, '');
  say('pots whose risk is not kept', night.content.risks.length, '');
  const told = night.content.rounds.flatMap(({ personId, day, stops }) =>
    stops.map(({ siteId, startMinute }) => ({ siteId, personId, day, startMinute })),
  );
  const base = stopsOfDraft(night.content);
  const published = { ...plan, published: told };
  const desk = new PlanThread();
  await desk.ask<'load'>({ kind: 'load', loaded: loadedOf(published) });
  // The server does this as soon as a plan is made or upset.
  const laidMs = performance.now();
  await desk.ask<'prepare'>({ kind: 'prepare', base, wishes: [] });
  say('laying out before questions', (performance.now() - laidMs) / 1000, 's');
  for (const state of ['first', 'second']) {
    const startedMs = performance.now();
    await desk.ask<'offers'>({ kind: 'offers', siteId: plan.sites[7]!.site.id, base, wishes: [] });
    say(`offers ${state}`, (performance.now() - startedMs) / 1000, 's');
  }
  const startedMs = performance.now();
  const stop = base.find((one) => one.day === plan.firstDay)!;
  const edit = { kind: 'move', siteId: stop.siteId, fromDay: stop.day, toDay: stop.day, position: 0 } as const;
  await desk.ask<'edit'>({ kind: 'edit', base, wishes: [], edits: [{ ...edit, personId: stop.personId }] });
  say('consequences of a move', (performance.now() - startedMs) / 1000, 's');
  await desk.close();
  const sick = await search(withoutPerson(published, told[0]!.personId, [plan.firstDay]), base, 0.15);
  say('sick technician: valid plan', sick.firstMs / 1000, 's');
  const lost = sick.content.rounds.some((one) => one.personId === told[0]!.personId && one.day === plan.firstDay);
  if (lost) throw new Error('the sick technician still has a round');
  await thread.close();
}

async function measureServer(world: BenchWorld, plan: PlanInput, seconds: number): Promise<void> {
  const clock = new TestClock(plan.nowMs);
  const writes: Write[] = [
    { kind: 'account', row: { id: 'A1', name: 'All', dryRisk: 0.05 } },
    { kind: 'depot', row: { id: 'D1', name: 'Yard', ...world.depot } },
    ...world.tanks.map(
      (tankLitres, t): Write => ({
        kind: 'truck',
        row: { id: `TR${t}`, name: `Truck ${t}`, tankLitres, depotId: 'D1' },
      }),
    ),
    ...plan.sites.map((one): Write => ({ kind: 'site', row: one.site })),
    ...plan.sites.flatMap((one) => one.pots.map((pot): Write => ({ kind: 'container', row: pot.container }))),
    ...plan.sites.flatMap((one) => one.pots.map((pot): Write => ({ kind: 'status', row: pot.status! }))),
  ];
  const server = await startTestServer({
    clock,
    seed: writes,
    environment: { BRIMLINE_PLAN_ITERATIONS: '', BRIMLINE_PLAN_SECONDS: String(seconds) },
  });
  try {
    for (let t = 0; t < world.tanks.length; t++) await server.addPerson('technician', { id: `T${t}` });
    const client = await server.login('dispatcher');
    await server.settle();
    await waits(client, 'idle', async () => sleep(5_000));
    await waits(client, 'while planning', async () => {
      await client.post('/api/v1/plan/run');
      await server.running.planner.idle();
    });
    await sleep(10_000);
    const startedMs = performance.now();
    await client.post('/api/v1/plan/offers', { siteId: plan.sites[7]!.site.id });
    say('offers by the server, the first question after a run', (performance.now() - startedMs) / 1000, 's');
  } finally {
    await server.close();
  }
}

/** Asks for something small at a steady pace while something goes on, and says how long the answers took. */
async function waits(client: TestClient, when: string, during: () => Promise<void>): Promise<void> {
  const tookMs: number[] = [];
  let over = false;
  const asking = (async () => {
    while (!over) {
      const startedMs = performance.now();
      await client.get('/api/v1/session');
      tookMs.push(performance.now() - startedMs);
      await sleep(20);
    }
  })();
  await during();
  over = true;
  await asking;
  tookMs.sort((a, b) => a - b);
  const at = (share: number) => tookMs[Math.min(tookMs.length - 1, Math.floor(share * tookMs.length))]!;
  say(`requests ${when}: median`, at(0.5), 'ms');
  say(`requests ${when}: p99`, at(0.99), 'ms');
  say(`requests ${when}: worst`, tookMs.at(-1)!, 'ms');
}

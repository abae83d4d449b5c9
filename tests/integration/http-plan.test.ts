import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { Write } from '../../src/domain/change-set.js';
import { DAY_MS } from '../../src/domain/local-day.js';
import type { PotStatus } from '../../src/domain/pot.js';
import type {
  OfferJson,
  PlanConsequencesJson,
  PlanJson,
  RoundView,
  SiteStoryJson,
  SupposedJson,
} from '../../src/http/schemas/index.js';
import { siteDryIn } from '../support/dispatch-crew.js';
import { startTestServer, type TestClient, TestClock, type TestServer } from '../support/server.js';

/** Monday, 06:30 in Europe/Madrid. */
const NOW_MS = Date.UTC(2026, 5, 1, 4, 30);
const MONDAY = '2026-06-01';
const TUESDAY = '2026-06-02';

/** Sites whose one pot is dry in so many days, with a forecast that says so. */
const DRY_IN_DAYS = [1.9, 2.2, 3, 4, 6, 9];

function seed(): readonly Write[] {
  const sites = DRY_IN_DAYS.map((days, k) => siteDryIn(`S${k + 1}`, days, {}, NOW_MS));
  return [
    { kind: 'account', row: { id: 'A1', name: 'Larkspur House', dryRisk: 0.05 } },
    { kind: 'depot', row: { id: 'D1', name: 'Yard', latitude: 41.2, longitude: 1.7 } },
    { kind: 'truck', row: { id: 'T1', name: 'Truck 1', tankLitres: 400, depotId: 'D1' } },
    { kind: 'truck', row: { id: 'T2', name: 'Truck 2', tankLitres: 300, depotId: 'D1' } },
    ...sites.map(({ site }): Write => ({ kind: 'site', row: site })),
    ...sites.flatMap(({ pots }) => pots.map(({ container }): Write => ({ kind: 'container', row: container }))),
    ...sites.flatMap(({ pots }) =>
      pots.map(({ status }): Write => ({ kind: 'status', row: { ...(status as PotStatus), nodeId: null } })),
    ),
  ];
}

describe('the plan over HTTP', () => {
  const clock = new TestClock(NOW_MS);
  let server: TestServer;
  let dispatcher: TestClient;
  let ana: TestClient;

  beforeAll(async () => {
    server = await startTestServer({ clock, seed: seed() });
    ana = await server.login('technician', { id: 'ana', name: 'Ana' });
    await server.addPerson('technician', { id: 'ben', name: 'Ben' });
    dispatcher = await server.login('dispatcher');
  });
  afterAll(() => server.close());

  const plan = async () => (await dispatcher.get('/api/v1/plan')).body as PlanJson;
  const change = async (edits: readonly unknown[], dryRun: boolean) =>
    (await dispatcher.post('/api/v1/plan/changes', { edits, dryRun })).body as PlanConsequencesJson;
  const run = async () => {
    expect((await dispatcher.post('/api/v1/plan/run')).status).toBe(202);
    await server.running.planner.idle();
    return plan();
  };

  it('is empty before the first run, and then says who goes where with how much water, and why', async () => {
    expect((await plan()).draft).toBeNull();
    const { draft, state } = await run();
    expect(state).toMatchObject({ running: null, lastCause: 'asked', trouble: null });
    const stops = draft!.rounds.flatMap((round) => round.stops.map((stop) => ({ ...stop, day: round.day })));
    const first = (siteId: string) => stops.find((stop) => stop.siteId === siteId)!;
    expect(draft!.risks).toEqual([]);
    expect(first('S1').day <= TUESDAY).toBe(true);
    expect(first('S1').litres).toBeGreaterThan(10);
    expect(first('S1').tankLitres).toBeGreaterThanOrEqual(0);
    expect(first('S1').why.code).toMatch(/^round\.reason\./);
    expect(draft!.assumptions.length).toBeGreaterThan(0);
  });

  it('becomes the rounds that technicians see when it is published, and then nothing differs', async () => {
    const { draft, changes } = await plan();
    expect(changes.every((one) => one.kind === 'added')).toBe(true);
    const stale = await dispatcher.post('/api/v1/plan/publish', { seq: draft!.seq - 1 });
    expect(stale.status).toBe(409);
    const done = await dispatcher.post('/api/v1/plan/publish', { seq: draft!.seq });
    expect(done.body).toMatchObject({ stops: draft!.totals.stops });
    const after = await plan();
    expect(after.changes).toEqual([]);
    expect(after.nervousnessFraction).toBe(0);
    const own = draft!.rounds.find((round) => round.personId === 'ana')!;
    const seen = (await ana.get(`/api/v1/rounds?day=${own.day}`)).body as { items: RoundView[] };
    expect(seen.items[0]!.stops.map(({ stop }) => stop.siteId)).toEqual(own.stops.map((stop) => stop.siteId));
    expect(seen.items[0]!.stops[0]!.planned).toMatchObject({ startMinute: own.stops[0]!.startMinute });
  });

  it('stays as it is when it is made again without news', async () => {
    const before = await plan();
    const after = await run();
    expect(after.changes).toEqual([]);
    expect(after.draft!.totals).toEqual(before.draft!.totals);
  });

  it('tells what a change by hand brings before it is done, does it, and takes it back', async () => {
    const { draft } = await plan();
    const from = draft!.rounds.find((round) => round.stops.some((stop) => stop.siteId === 'S6'));
    const edit =
      from === undefined
        ? { kind: 'add', siteId: 'S6', day: TUESDAY, personId: 'ben' }
        : { kind: 'move', siteId: 'S6', fromDay: from.day, toDay: TUESDAY, personId: 'ben' };
    const tried = await change([edit], true);
    expect(tried).toMatchObject({ done: false, refused: [] });
    expect(tried.rounds.some((round) => round.day === TUESDAY && round.personId === 'ben')).toBe(true);
    expect((await plan()).draft!.seq).toBe(draft!.seq);

    const done = await change([edit], false);
    expect(done.done).toBe(true);
    const changed = await plan();
    const moved = changed.draft!.rounds.find((round) => round.day === TUESDAY && round.personId === 'ben')!;
    expect(moved.stops.find((stop) => stop.siteId === 'S6')).toMatchObject({ locked: true, reason: 'locked' });
    expect(changed.changes.map((one) => one.siteId)).toContain('S6');
    // A run keeps what was put there by hand.
    const again = await run();
    const still = again.draft!.rounds.find((round) => round.day === TUESDAY && round.personId === 'ben')!;
    expect(still.stops.some((stop) => stop.siteId === 'S6')).toBe(true);
    await dispatcher.post('/api/v1/plan/undo');
    await dispatcher.post('/api/v1/plan/undo');
    expect((await plan()).draft!.wishes).toEqual([]);
  });

  it('names what a change breaks, and refuses only what has no meaning, with the reason', async () => {
    const kept = await change(
      [
        { kind: 'not_before', siteId: 'S1', day: '2026-06-10' },
        { kind: 'drop', siteId: 'S1', day: dayOf('S1', await plan()) },
      ],
      true,
    );
    expect(kept.effects.map((effect) => effect.message.code)).toContain('plan.effect.risk');
    const sunday = await change([{ kind: 'add', siteId: 'S6', day: '2026-06-07', personId: 'ana' }], true);
    expect(sunday.refused.map((message) => message.code)).toEqual(['plan.refused.no_round']);
    const nowhere = await change([{ kind: 'drop', siteId: 'S6', day: '2026-06-07' }], false);
    expect(nowhere).toMatchObject({ done: false });
    expect(nowhere.refused.map((message) => message.code)).toEqual(['plan.refused.no_stop']);
  });

  it('gives the work of somebody who is away to the others', async () => {
    const before = await plan();
    const person = before.draft!.rounds.find((round) => round.day <= TUESDAY)!.personId;
    const absence = { personId: person, fromDay: MONDAY, toDay: TUESDAY, reason: 'sick' };
    const { body } = await dispatcher.post('/api/v1/absences', absence);
    const after = await run();
    expect(after.draft!.rounds.some((round) => round.personId === person && round.day <= TUESDAY)).toBe(false);
    expect(after.draft!.risks).toEqual([]);
    expect(after.nervousnessFraction).toBeGreaterThan(0);
    await dispatcher.delete(`/api/v1/absences/${(body as { id: string }).id}`);
  });

  it('ranks offers for an urgent site, and puts the chosen one on the round of today at once', async () => {
    const { body } = await dispatcher.post('/api/v1/plan/offers', { siteId: 'S5' });
    const { items } = body as { items: OfferJson[] };
    expect(items.map((offer) => offer.personId).sort()).toEqual(['ana', 'ben']);
    expect(items[0]!.extraCost).toBeLessThanOrEqual(items[1]!.extraCost);
    expect(items[0]!.riskAfterFraction).toBeLessThanOrEqual(items[0]!.riskBeforeFraction);
    const taken = await dispatcher.post('/api/v1/plan/offers/accept', {
      siteId: 'S5',
      personId: items[0]!.personId,
    });
    expect(taken.body).toEqual({ refused: [] });
    await server.running.planner.idle();
    const { published } = await plan();
    const round = published.find((one) => one.day === MONDAY && one.technicianId === items[0]!.personId)!;
    expect(round.stops.map((stop) => stop.siteId)).toEqual(items[0]!.order);
  });

  it('says why a site is not on today, and what a supposition costs', async () => {
    await change([{ kind: 'drop', siteId: 'S6', day: dayOf('S6', await plan()) }], false);
    const { body } = await dispatcher.get('/api/v1/plan/sites/S6');
    const story = body as SiteStoryJson;
    expect(story.riskByDay).toHaveLength(14);
    expect(story.whyNotToday?.code).toMatch(/^round\.not_today\./);
    const supposed = (await dispatcher.post('/api/v1/plan/what-if', { hotterByC: 8, dryRiskFraction: 0.01 }))
      .body as SupposedJson;
    expect(supposed.supposed.litres).toBeGreaterThan(supposed.asIs.litres);
  });

  it('leaves what is done, and goes on from there', async () => {
    clock.set(NOW_MS + 0.2 * DAY_MS);
    const { published } = await plan();
    const today = published.find((one) => one.day === MONDAY)!;
    const stop = today.stops[0]!;
    await server.store.commit({
      atMs: clock.nowMs(),
      actor: { kind: 'command', id: 'test' },
      writes: [{ kind: 'round_stop', row: { ...bare(stop), state: 'done' } }],
      cursor: null,
    });
    const { draft } = await run();
    const mine = draft!.rounds.filter((round) => round.day === MONDAY).flatMap((round) => round.stops);
    expect(mine.some((one) => one.siteId === stop.siteId)).toBe(false);
    await dispatcher.post('/api/v1/plan/publish', {});
    const kept = (await plan()).published.find((one) => one.technicianId === today.technicianId && one.day === MONDAY)!;
    expect(kept.stops[0]).toMatchObject({ id: stop.id, state: 'done', position: 0 });
  });
});

function dayOf(siteId: string, { draft }: PlanJson): string {
  return draft!.rounds.find((round) => round.stops.some((stop) => stop.siteId === siteId))!.day;
}

function bare<Stop extends { readonly plan: unknown }>({ plan: _plan, ...stop }: Stop): Omit<Stop, 'plan'> {
  return stop;
}

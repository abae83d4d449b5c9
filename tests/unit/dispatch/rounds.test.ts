import { describe, expect, it } from 'vitest';
import { visitsByCustomer } from '../../../src/dispatch/evaluate.js';
import { explainNotToday, explainStop, lockCost } from '../../../src/dispatch/explain.js';
import { asPublished, publishedPlan, readRounds } from '../../../src/dispatch/rounds.js';
import { solve } from '../../../src/dispatch/solve.js';
import { addDays, DAY_MS } from '../../../src/domain/local-day.js';
import { EN } from '../../../src/domain/texts/en/index.js';
import { render } from '../../../src/domain/texts/render.js';
import { built, crewDays, FIRST_DAY, NOW_MS, planInput, siteDryIn, taskAt } from '../../support/dispatch-crew.js';
import { seeded } from '../../support/dispatch-problems.js';

const READER = {
  locale: 'en-GB',
  units: { volume: 'L', length: 'mm', temperature: 'Cel' },
  timeZone: 'Europe/Madrid',
} as const;

function planned(input: Parameters<typeof built>[0], iterations = 200) {
  const problem = built(input);
  const { plan } = solve(problem.problem, seeded(1), { iterations });
  return { problem, plan, visits: visitsByCustomer(problem.problem, plan) };
}

describe('rounds from forecasts', () => {
  it('visit each site by its last safe day and leave alone what lasts', () => {
    const { problem, plan, visits } = planned(
      planInput([siteDryIn('S1', 1.8), siteDryIn('S2', 4), siteDryIn('S3', 40)]),
    );
    const rounds = readRounds(problem, plan);
    expect(rounds.riskMissed).toEqual([]);
    expect(rounds.evaluation.feasible).toBe(true);
    expect(visits[0]![0]!.day).toBeLessThanOrEqual(problem.outlooks[0]!.latestDay[0]!);
    expect(visits[1]![0]!.day).toBeLessThanOrEqual(problem.outlooks[1]!.latestDay[0]!);
  });

  it('name the pots whose risk cannot be kept, with the chance', () => {
    const input = planInput([siteDryIn('S1', 0.3)]);
    const late = planned({ ...input, crew: input.crew.filter((one) => one.day >= addDays(FIRST_DAY, 2)) });
    const [missed] = readRounds(late.problem, late.plan).riskMissed;
    expect(missed).toMatchObject({ siteId: 'S1', containerId: 'S1-pot', visitDay: addDays(FIRST_DAY, 2) });
    expect(missed!.chanceDry).toBeGreaterThan(0.99);
  });

  it('fill each pot with what it will have drawn by then', () => {
    const { problem, plan } = planned(planInput([siteDryIn('S1', 1.8)]));
    const [visit] = readRounds(problem, plan).visits;
    const day = Math.round((Date.parse(visit!.day) - Date.parse(FIRST_DAY)) / DAY_MS);
    // 44 L full, 11.2 L now, 4 L a day; the last 4 L stay below the wick.
    expect(visit!.fills).toEqual([{ containerId: 'S1-pot', litres: Math.min(40, 44 - 11.2 + 4 * day) }]);
    expect(visit!.litres).toBeCloseTo(visit!.fills[0]!.litres, 9);
  });

  it('fill the tank on the way where one tank is not enough', () => {
    const sites = ['S1', 'S2', 'S3', 'S4'].map((id) => siteDryIn(id, 0.9));
    const crew = crewDays(['ana'], { tankLitres: 70, tankLitresAtStart: 70 });
    const { problem, plan } = planned(planInput(sites, { crew }));
    const { visits, evaluation } = readRounds(problem, plan);
    const today = visits.filter((one) => one.day === FIRST_DAY);
    expect(today).toHaveLength(4);
    expect(evaluation.tours.every((tour) => !tour.runsDry)).toBe(true);
    expect(today.some((one) => one.refillAfterPlace !== null)).toBe(true);
  });

  it('stay as they are told: published stops read back as the same plan', () => {
    const input = planInput([siteDryIn('S1', 1.8), siteDryIn('S2', 2.5), siteDryIn('S3', 5)]);
    const { problem, plan } = planned(input);
    const again = built({ ...input, published: asPublished(readRounds(problem, plan)) });
    expect(publishedPlan(again).cost).toBeCloseTo(plan.cost, 6);
  });
});

describe('explanations', () => {
  const sites = [
    siteDryIn('S1', 0.9),
    siteDryIn('S2', 30, { tasks: [taskAt('S2')] }),
    siteDryIn('S3', 30, { tasks: [taskAt('S3', { origin: 'finding' })] }),
    siteDryIn('S4', 30, { locks: [{ day: FIRST_DAY, personId: 'ben', position: null }] }),
    siteDryIn('S5', 30, { agreedBy: FIRST_DAY }),
    siteDryIn('S6', 30, { tasks: [taskAt('S6', { origin: 'forecast', kind: 'feed' })] }),
    siteDryIn('S7', 4.2),
  ];
  const { problem, plan } = planned(planInput(sites));

  it('give each stop its reason', () => {
    const reasons = [0, 1, 2, 3, 4, 5].map((c) => explainStop(problem, plan, c, 0).reason);
    expect(reasons).toEqual(['must', 'client_call', 'alarm', 'locked', 'agreement', 'care']);
  });

  it('say of an early visit which trip it saves', () => {
    const forced = planInput([siteDryIn('S7', 4.2)], {
      crew: crewDays(['ana']).filter((one) => one.day === FIRST_DAY),
    });
    const early = planned(forced);
    const { reason, message } = explainStop(early.problem, early.plan, 0, 0);
    expect(reason).toBe('top_up');
    expect(message.params.extraMinutes).toBeGreaterThan(0);
  });

  it('read as sentences', () => {
    for (const [c] of sites.entries()) {
      const day = visitsByCustomer(problem.problem, plan)[c]![0]?.day;
      if (day !== undefined) expect(render(EN, explainStop(problem, plan, c, day).message, READER)).not.toMatch(/[{}]/);
      expect(render(EN, explainNotToday(problem, plan, c), READER)).not.toMatch(/[{}]/);
    }
  });

  it('tell when a site comes that is not visited today', () => {
    const later = planned(
      planInput([siteDryIn('S7', 4.2, { windows: [[], ...siteDryIn('S7', 4.2).windows.slice(1)] })]),
    );
    expect(explainNotToday(later.problem, later.plan, 0).code).toBe('round.not_today.closed');
  });

  it('tell what a lock costs, and that one to the planned day costs nothing', () => {
    const lockedTo = (personId: string | null, day: string) =>
      planned(planInput([siteDryIn('S1', 0.9), siteDryIn('S2', 3.5, { locks: [{ day, personId, position: null }] })]));
    const far = lockedTo(null, addDays(FIRST_DAY, 1));
    const message = lockCost(far.problem, far.plan, 1, seeded(2), 200);
    expect(message.code).toBe('round.lock_costs');
    expect(message.params.extraCost).toBeGreaterThan(50);
    const near = lockedTo(null, FIRST_DAY);
    expect(lockCost(near.problem, near.plan, 1, seeded(2), 200).code).toBe('round.lock_free');
  });

  it('name a visit that was planned for yesterday as carried over', () => {
    const published = [{ siteId: 'S1', personId: 'ana', day: addDays(FIRST_DAY, -1), startMinute: 500 }];
    const late = planned(planInput([siteDryIn('S1', 0.9)], { published }));
    expect(explainStop(late.problem, late.plan, 0, 0).reason).toBe('carry_over');
  });

  it('refuse to explain a visit that is not there', () => {
    expect(() => explainStop(problem, plan, 0, 5)).toThrow(/no visit/);
    expect(NOW_MS).toBeLessThan(Date.parse('2026-09-07T05:00:00Z'));
  });
});

describe('a place in the round that is locked', () => {
  it('is kept, first and last alike', () => {
    const lockTo = (position: 'first' | 'last') => ({ locks: [{ day: FIRST_DAY, personId: 'ana', position }] });
    const sites = [siteDryIn('S1', 1.8, lockTo('last')), ...['S2', 'S3', 'S4'].map((id) => siteDryIn(id, 0.9))];
    const input = planInput([...sites, siteDryIn('S5', 1.8, lockTo('first'))], { crew: crewDays(['ana']) });
    const { problem, plan } = planned(input);
    const today = readRounds(problem, plan).visits.filter((visit) => visit.day === FIRST_DAY);
    expect(today[0]!.siteId).toBe('S5');
    expect(today.at(-1)!.siteId).toBe('S1');
  });
});

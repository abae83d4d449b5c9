import { describe, expect, it } from 'vitest';
import { differences } from '../../../src/dispatch/differences.js';
import { firmnessOf, nervousness, offerUrgent, replan, withoutPerson } from '../../../src/dispatch/replan.js';
import { asPublished, publishedPlan, readRounds } from '../../../src/dispatch/rounds.js';
import { solve } from '../../../src/dispatch/solve.js';
import { addDays } from '../../../src/domain/local-day.js';
import type { RoundStop } from '../../../src/domain/work.js';
import { built, crewDays, FIRST_DAY, planInput, siteDryIn } from '../../support/dispatch-crew.js';
import { seeded } from '../../support/dispatch-problems.js';

const sites = Array.from({ length: 9 }, (_, k) => siteDryIn(`S${k + 1}`, 0.9 + 0.5 * k));

/** The plan of the night, as it is told, and the input that knows of it. */
function night() {
  const input = planInput(sites);
  const problem = built(input);
  const { plan } = solve(problem.problem, seeded(3), { iterations: 400 });
  return { ...input, published: asPublished(readRounds(problem, plan)) };
}

describe('planning again', () => {
  it('leaves the plan as it is where there is no news', () => {
    const input = night();
    const problem = built(input);
    const again = replan(problem, seeded(4), { iterations: 200 });
    expect(asPublished(readRounds(problem, again))).toEqual(input.published);
    expect(nervousness(input.published, asPublished(readRounds(problem, again)), FIRST_DAY)).toBe(0);
    expect(differences(input.published, asPublished(readRounds(problem, again)))).toEqual([]);
  });

  it('gives the work of a sick technician to the others and disturbs little else', () => {
    const input = night();
    const sick = input.published.find((one) => one.day === FIRST_DAY)!.personId;
    const problem = built(withoutPerson(input, sick, [FIRST_DAY]));
    const rounds = readRounds(problem, replan(problem, seeded(4), { iterations: 200 }));
    expect(rounds.visits.some((one) => one.day === FIRST_DAY && one.personId === sick)).toBe(false);
    expect(rounds.evaluation.feasible).toBe(true);
    expect(rounds.riskMissed).toEqual([]);
    // 0.5 for another technician and 0.2 for another time at most: no visit changes its day.
    expect(nervousness(input.published, asPublished(rounds), FIRST_DAY)).toBeLessThanOrEqual(0.7);
  });

  it('keeps what is done and under way, moves today and tomorrow at a price, and is free after that', () => {
    const stop = (day: string, state: RoundStop['state']): RoundStop => ({
      id: 'R1',
      technicianId: 'ana',
      day,
      siteId: 'S1',
      position: 0,
      state,
    });
    expect(firmnessOf(stop(FIRST_DAY, 'done'), FIRST_DAY, false)).toBe('frozen');
    expect(firmnessOf(stop(FIRST_DAY, 'planned'), FIRST_DAY, true)).toBe('frozen');
    expect(firmnessOf(stop(FIRST_DAY, 'planned'), FIRST_DAY, false)).toBe('firm');
    expect(firmnessOf(stop(addDays(FIRST_DAY, 1), 'planned'), FIRST_DAY, true)).toBe('firm');
    expect(firmnessOf(stop(addDays(FIRST_DAY, 2), 'planned'), FIRST_DAY, false)).toBe('flexible');
  });

  it('counts a moved day in full, another technician by half and an hour by a fifth', () => {
    const old = { siteId: 'S1', personId: 'ana', day: FIRST_DAY, startMinute: 500 };
    expect(nervousness([old], [], FIRST_DAY)).toBe(1);
    expect(nervousness([old], [{ ...old, day: addDays(FIRST_DAY, 1) }], FIRST_DAY)).toBe(1);
    expect(nervousness([old], [{ ...old, personId: 'ben' }], FIRST_DAY)).toBe(0.5);
    expect(nervousness([old], [{ ...old, startMinute: 560 }], FIRST_DAY)).toBeCloseTo(0.2, 12);
  });

  it('lists what changed between what was told and a draft', () => {
    const stop = { siteId: 'S1', personId: 'ana', day: FIRST_DAY, startMinute: 500 };
    const kinds = (draft: (typeof stop)[]) => differences([stop], draft).map((one) => one.kind);
    expect(kinds([{ ...stop, day: addDays(FIRST_DAY, 1) }])).toEqual(['other_day']);
    expect(kinds([{ ...stop, personId: 'ben' }])).toEqual(['other_technician']);
    expect(kinds([{ ...stop, startMinute: 540 }])).toEqual(['other_time']);
    expect(kinds([])).toEqual(['dropped']);
    expect(kinds([stop, { ...stop, siteId: 'S2' }])).toEqual(['added']);
  });
});

describe('an urgent alarm', () => {
  it('gets offers by different technicians, cheapest first, with who is later', () => {
    const told = (siteId: string, personId: string, startMinute: number) => ({
      siteId,
      personId,
      day: FIRST_DAY,
      startMinute,
    });
    const published = [told('S1', 'ana', 450), told('S2', 'ana', 500), told('S3', 'ben', 450), told('S4', 'ben', 500)];
    const input = planInput(sites, { published });
    const problem = built(input);
    const plan = publishedPlan(problem);
    const urgent = 8;
    const offers = offerUrgent(problem, plan, {
      customer: urgent,
      day: 0,
      litres: 20,
      minutes: 16,
      frozenStops: new Map(),
    });
    expect(offers.length).toBe(2);
    expect(new Set(offers.map((one) => one.tour)).size).toBe(2);
    expect(offers[0]!.extraCost).toBeLessThanOrEqual(offers[1]!.extraCost);
    for (const offer of offers) {
      expect(offer.plan.stops[offer.position]!.customer).toBe(urgent);
      expect(offer.missed).toEqual([]);
      const behind = offer.plan.stops.slice(offer.position + 1).map((one) => input.sites[one.customer]!.site.id);
      expect(offer.later.map((one) => one.siteId)).toEqual(behind);
    }
  });

  it('comes behind the stops that are frozen', () => {
    const problem = built(night());
    const plan = publishedPlan(problem);
    const today = plan.tours.find((one) => problem.problem.tours[one.tour]!.day === 0)!;
    const frozenStops = new Map([[today.tour, today.stops.length]]);
    const offers = offerUrgent(problem, plan, { customer: 8, day: 0, litres: 20, minutes: 16, frozenStops });
    const same = offers.find((one) => one.tour === today.tour)!;
    expect(same.position).toBe(today.stops.length);
  });

  it('fills the tank before a stop that would find it empty', () => {
    const crew = crewDays(['ana'], { tankLitres: 50, tankLitresAtStart: 10 });
    const problem = built(planInput([siteDryIn('S1', 3)], { crew }));
    const [offer] = offerUrgent(
      problem,
      { tours: [], cost: 0 },
      { customer: 0, day: 0, litres: 40, minutes: 17, frozenStops: new Map() },
    );
    expect(offer!.plan.refillAtStart).not.toBeNull();
  });
});

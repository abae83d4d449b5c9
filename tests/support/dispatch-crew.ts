import { type BuiltProblem, buildProblem, type PlanInput, planPoints } from '../../src/dispatch/build-problem.js';
import { type CrewDay, PLAN_SETTINGS, type PlannedSite } from '../../src/dispatch/crew.js';
import { estimateTravel, TRAVEL_SETTINGS } from '../../src/dispatch/travel.js';
import { addDays, DAY_MS } from '../../src/domain/local-day.js';
import type { Task } from '../../src/domain/work.js';

export const FIRST_DAY = '2026-09-07';
/** 06:30 in Madrid on a Monday. */
export const NOW_MS = Date.UTC(2026, 8, 7, 4, 30);
const DEPOT = { latitude: 41.2, longitude: 1.7 };
export const DAYS = 6;

/** A site with one pot that is dry in about `dryInDays`. */
export function siteDryIn(
  id: string,
  dryInDays: number,
  change: Partial<PlannedSite> = {},
  nowMs = NOW_MS,
): PlannedSite {
  const number = Number(id.slice(1));
  const rate = 4;
  const at = (days: number) => nowMs + days * DAY_MS;
  return {
    site: {
      id,
      accountId: 'A1',
      name: id,
      latitude: DEPOT.latitude + 0.02 * Math.cos(number),
      longitude: DEPOT.longitude + 0.02 * Math.sin(number),
      elevationM: 10,
      timeZone: 'Europe/Madrid',
      tap: false,
    },
    dryRisk: 0.05,
    pots: [
      {
        container: {
          id: `${id}-pot`,
          siteId: id,
          name: `${id} pot`,
          place: null,
          covered: true,
          installedOn: '2026-03-01',
          removedOn: null,
          reservoir: {
            strapping: [
              [0, 0],
              [100, 44],
            ],
            overflowMm: 100,
            wickFootMm: 9,
          },
          soil: null,
          potKg: null,
          plants: [],
        },
        status: {
          containerId: `${id}-pot`,
          atMs: nowMs,
          nodeId: 'N1',
          lastReadingMs: nowMs,
          levelMm: 50,
          litres: 4 + rate * dryInDays,
          capacityLitres: 44,
          deadLitres: 4,
          moistureFraction: null,
          temperatureC: null,
          batteryV: null,
          forecast: {
            containerId: `${id}-pot`,
            originMs: nowMs,
            knowledge: 'known',
            levelMm: 50,
            litres: 4 + rate * dryInDays,
            rateLitresPerDay: rate,
            rateSdLitresPerDay: 0.2,
            dry: { p10Ms: at(0.9 * dryInDays), p50Ms: at(dryInDays), p90Ms: at(1.1 * dryInDays) },
            stress: null,
            dataDays: 30,
            basis: [],
          },
        },
        targetFraction: 1,
      },
    ],
    tasks: [],
    windows: Array.from({ length: DAYS }, () => [{ fromMinute: 420, toMinute: 960 }]),
    skills: [],
    forbiddenPeople: [],
    locks: [],
    agreedBy: null,
    useFactors: [1],
    ...change,
  };
}

export function crewDays(people: readonly string[], change: Partial<CrewDay> = {}): readonly CrewDay[] {
  return Array.from({ length: DAYS }, (_, d) => addDays(FIRST_DAY, d)).flatMap((day) =>
    people.map((personId) => ({
      personId,
      day,
      start: DEPOT,
      end: DEPOT,
      openMinute: 420,
      closeMinute: 900,
      overtimeMinutes: 60,
      pause: { fromMinute: 720, minutes: 30 },
      tankLitres: 400,
      tankLitresAtStart: 400,
      skills: [],
      ...change,
    })),
  );
}

export function planInput(sites: readonly PlannedSite[], change: Partial<PlanInput> = {}): PlanInput {
  return {
    nowMs: NOW_MS,
    firstDay: FIRST_DAY,
    dayCount: DAYS,
    timeZone: 'Europe/Madrid',
    sites,
    crew: crewDays(['ana', 'ben']),
    depots: [{ id: 'D1', name: 'Depot', ...DEPOT }],
    published: [],
    settings: PLAN_SETTINGS,
    ...change,
  };
}

export function built(input: PlanInput): BuiltProblem {
  return buildProblem(input, estimateTravel(planPoints(input), TRAVEL_SETTINGS));
}

export function taskAt(siteId: string, change: Partial<Task> = {}): Task {
  return {
    id: `task-${siteId}`,
    kind: 'inspect',
    siteId,
    containerId: `${siteId}-pot`,
    state: 'proposed',
    origin: 'person',
    reason: [],
    findingId: null,
    litres: null,
    minutes: 10,
    dueFromMs: NOW_MS,
    dueByMs: NOW_MS + 0.4 * DAY_MS,
    cautions: [],
    createdMs: NOW_MS,
    changedMs: NOW_MS,
    verification: null,
    ...change,
  };
}

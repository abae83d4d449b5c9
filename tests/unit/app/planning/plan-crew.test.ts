import { describe, expect, it } from 'vitest';
import { METRIC_UNITS } from '../../../../src/app/people/people.js';
import { type CrewQuestion, crewDaysOf } from '../../../../src/app/planning/plan-crew.js';
import { useFactorsOf, windowsOf } from '../../../../src/app/planning/plan-input.js';
import { type Absence, usualCrewTerms, usualSiteTerms } from '../../../../src/domain/crew.js';
import type { Person } from '../../../../src/domain/registry.js';
import { siteDryIn } from '../../../support/dispatch-crew.js';

const MONDAY = '2026-06-01';
const YARD = { id: 'D1', name: 'Yard', latitude: 41.2, longitude: 1.7 };

const technician = (id: string): Person => ({
  id,
  name: id,
  login: id,
  role: 'technician',
  accountId: null,
  language: 'en',
  units: METRIC_UNITS,
  disabledAtMs: null,
});

function question(change: Partial<CrewQuestion> = {}): CrewQuestion {
  return {
    technicians: [technician('ana'), technician('ben')],
    terms: new Map(),
    trucks: [{ id: 'T1', name: 'Truck 1', tankLitres: 500, depotId: 'D1' }],
    depots: [YARD],
    sites: [],
    absences: [],
    firstDay: MONDAY,
    dayCount: 7,
    nowMinute: 6 * 60,
    underway: new Map(),
    ...change,
  };
}

const away = (change: Partial<Absence>): Absence => ({
  id: 'A1',
  personId: null,
  truckId: null,
  fromDay: MONDAY,
  toDay: MONDAY,
  reason: null,
  endedMs: null,
  ...change,
});

describe('the days of the crew', () => {
  it('are its shifts, with the truck that is entered or free, and say what was taken for granted', () => {
    const { crew, assumptions } = crewDaysOf(question());
    expect(crew.filter((one) => one.personId === 'ana').map((one) => one.day)).toHaveLength(5);
    expect(crew[0]).toMatchObject({ personId: 'ana', tankLitres: 500, openMinute: 420, closeMinute: 960 });
    expect(crew.find((one) => one.personId === 'ben')).toMatchObject({ tankLitres: 0 });
    expect(assumptions.map((message) => message.code)).toContain('plan.assumed.no_truck_left');
    const claimed = crewDaysOf(question({ terms: new Map([['ben', { ...usualCrewTerms('ben'), truckId: 'T1' }]]) }));
    expect(claimed.crew.find((one) => one.personId === 'ben')).toMatchObject({ tankLitres: 500 });
  });

  it('leave out who is away, empty the tank of a truck that is, and rest on a holiday of the firm', () => {
    const days = (absences: readonly Absence[]) =>
      crewDaysOf(question({ absences })).crew.filter((one) => one.day === MONDAY);
    expect(days([away({ personId: 'ana' })]).map((one) => one.personId)).toEqual(['ben']);
    expect(days([away({ truckId: 'T1' })]).map((one) => one.tankLitres)).toEqual([0, 0]);
    expect(days([away({})])).toEqual([]);
  });

  it('go on from where somebody is, and end with the shift', () => {
    const at = { latitude: 41.3, longitude: 1.8 };
    const underway = new Map([['ana', { at, fromMinute: 700, tankLitres: 120 }]]);
    const { crew } = crewDaysOf(question({ nowMinute: 650, underway }));
    expect(crew[0]).toMatchObject({ start: at, openMinute: 700, tankLitresAtStart: 120, pause: { fromMinute: 720 } });
    expect(crew.find((one) => one.personId === 'ben')).toMatchObject({ openMinute: 650 });
    expect(crewDaysOf(question({ nowMinute: 18 * 60 })).crew.some((one) => one.day === MONDAY)).toBe(false);
  });
});

describe('the windows of a site', () => {
  const terms = usualSiteTerms('S1');

  it('are open all day where nothing is entered', () => {
    expect(windowsOf(terms, MONDAY)).toEqual([{ fromMinute: 0, toMinute: 1440 }]);
  });

  it('follow its hours, its closed days and the days on which watering is allowed', () => {
    const hours = [
      { weekday: 1, fromMinute: 840, toMinute: 960 },
      { weekday: 1, fromMinute: 480, toMinute: 720 },
    ];
    expect(windowsOf({ ...terms, hours }, MONDAY).map((one) => one.fromMinute)).toEqual([480, 840]);
    expect(windowsOf({ ...terms, hours }, '2026-06-02')).toEqual([]);
    expect(windowsOf({ ...terms, closed: [{ fromDay: MONDAY, toDay: MONDAY }] }, MONDAY)).toEqual([]);
    expect(windowsOf({ ...terms, wateringWeekdays: [2, 5] }, MONDAY)).toEqual([]);
    expect(windowsOf({ ...terms, wateringWeekdays: [1] }, MONDAY)).not.toEqual([]);
  });
});

describe('the use of the days to come', () => {
  const { site } = siteDryIn('S1', 5);
  const day = (name: string, et0Mm: number | null) => ({
    siteId: 'S1',
    day: name,
    tminC: null,
    tmaxC: null,
    humidityFraction: null,
    windMPerS: null,
    solarMjPerM2: null,
    rainMm: null,
    et0Mm,
    rainProbability: null,
    issuedMs: 1,
  });

  it('follows the forecast of evapotranspiration, within bounds, and its mean after it', () => {
    const outlook = [day(MONDAY, 4), day('2026-06-02', 6), day('2026-06-03', 40)];
    expect(useFactorsOf(site, outlook, MONDAY, 4)).toEqual([1, 1.5, 2, 2]);
    expect(useFactorsOf(site, [], MONDAY, 4)).toEqual([1]);
  });
});

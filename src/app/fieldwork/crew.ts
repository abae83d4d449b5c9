import { randomUUID } from 'node:crypto';
import { type Principal, WHOLE_FLEET } from '../../domain/access.js';
import type { Write } from '../../domain/change-set.js';
import {
  type Absence,
  type CrewTerms,
  type DaySpan,
  type SiteTerms,
  usualCrewTerms,
  usualSiteTerms,
  type WeekdayHours,
} from '../../domain/crew.js';
import { DomainError, type InputFault } from '../../domain/errors.js';
import type { PersonId, SiteId } from '../../domain/ids.js';
import { LocalDays } from '../../domain/local-day.js';
import type { Depot, Person, Role, Truck } from '../../domain/registry.js';
import { type App, allowed } from '../context.js';
import type { SaveMode } from '../registry.js';
import { firmZone } from './voices.js';

/** One person who goes on rounds, with how the person works. */
export interface CrewMember {
  readonly personId: PersonId;
  readonly name: string;
  readonly role: Role;
  readonly terms: CrewTerms;
}

/** Who and what there is to work with. */
export interface Crew {
  readonly people: readonly CrewMember[];
  readonly trucks: readonly Truck[];
  readonly depots: readonly Depot[];
  /** Those of today and later. */
  readonly absences: readonly Absence[];
}

export const goesOnRounds = (person: Person): boolean => person.role === 'technician' && person.disabledAtMs === null;

/** The crew with its trucks and depots, and who or what is away from today on. */
export async function crew(app: App, who: Principal): Promise<Crew> {
  allowed(who, 'crew.read');
  const [everybody, terms, trucks, depots, zone] = await Promise.all([
    app.store.people.people(),
    app.store.crew.crewTerms(),
    app.store.registry.trucks(),
    app.store.registry.depots(),
    firmZone(app),
  ]);
  const today = new LocalDays(zone).dayOf(app.clock.nowMs());
  const termsOf = new Map(terms.map((row) => [row.personId, row]));
  return {
    people: everybody
      .filter(goesOnRounds)
      .map(({ id, name, role }) => ({ personId: id, name, role, terms: termsOf.get(id) ?? usualCrewTerms(id) }))
      .sort((a, b) => a.name.localeCompare(b.name) || (a.personId < b.personId ? -1 : 1)),
    trucks,
    depots,
    absences: await app.store.crew.absences({ fromDay: today }),
  };
}

/** Sets how a person works. @throws DomainError `not_found`, `invalid_input` with a fault for each field */
export async function setCrewTerms(app: App, who: Principal, row: CrewTerms): Promise<CrewTerms> {
  allowed(who, 'crew.write');
  const person = await app.store.people.person(row.personId);
  if (person === null || !goesOnRounds(person)) {
    throw new DomainError('not_found', `There is no technician with the id “${row.personId}”.`);
  }
  const faults = hoursFaults('/shifts', row.shifts);
  for (const [index, { weekday }] of row.shifts.entries()) {
    if (row.shifts.findIndex((one) => one.weekday === weekday) !== index) {
      faults.push({ pointer: `/shifts/${index}/weekday`, detail: 'is there twice; a person has one shift a day' });
    }
  }
  if (row.truckId !== null && !(await hasTruck(app, row.truckId))) {
    faults.push({ pointer: '/truckId', detail: `there is no truck “${row.truckId}”` });
  }
  refuse('Nobody can work like that.', faults);
  await commit(app, who, { kind: 'crew_terms', row });
  return row;
}

/** When and by whom a site may be worked at; the usual where nobody said otherwise. */
export async function siteTerms(app: App, who: Principal, siteId: SiteId): Promise<SiteTerms> {
  allowed(who, 'crew.read');
  await requireSite(app, siteId);
  const known = (await app.store.crew.siteTerms()).find((row) => row.siteId === siteId);
  return known ?? usualSiteTerms(siteId);
}

/** Sets when and by whom a site may be worked at. @throws DomainError `not_found`, `invalid_input` */
export async function setSiteTerms(app: App, who: Principal, row: SiteTerms): Promise<SiteTerms> {
  allowed(who, 'crew.write');
  await requireSite(app, row.siteId);
  const faults = [
    ...hoursFaults('/hours', row.hours),
    ...row.closed.flatMap((span, index) => spanFaults(`/closed/${index}`, span)),
  ];
  const people = new Set((await app.store.people.people()).map((person) => person.id));
  for (const [index, id] of row.forbiddenPeople.entries()) {
    if (!people.has(id)) faults.push({ pointer: `/forbiddenPeople/${index}`, detail: `there is no person “${id}”` });
  }
  refuse('A site cannot be worked at like that.', faults);
  await commit(app, who, { kind: 'site_terms', row });
  return row;
}

/** Enters days on which a person is off, a truck is in repair, or, with neither named, nobody works. */
export async function addAbsence(app: App, who: Principal, input: Omit<Absence, 'id' | 'endedMs'>): Promise<Absence> {
  allowed(who, 'crew.write');
  const faults = [...spanFaults('', input)];
  if (input.personId !== null && input.truckId !== null) {
    faults.push({ pointer: '/truckId', detail: 'is given beside a person; enter one absence for each' });
  }
  if (input.personId !== null && (await app.store.people.person(input.personId)) === null) {
    faults.push({ pointer: '/personId', detail: `there is no person “${input.personId}”` });
  }
  if (input.truckId !== null && !(await hasTruck(app, input.truckId))) {
    faults.push({ pointer: '/truckId', detail: `there is no truck “${input.truckId}”` });
  }
  refuse('Nobody can be away like that.', faults);
  const row: Absence = { ...input, id: `away-${randomUUID()}`, endedMs: null };
  await commit(app, who, { kind: 'absence', row });
  return row;
}

/** Takes an absence back; it stays on record. */
export async function endAbsence(app: App, who: Principal, id: string): Promise<void> {
  allowed(who, 'crew.write');
  const row = await app.store.crew.absence(id);
  if (row === null || row.endedMs !== null) throw new DomainError('not_found', `No absence bears the id ${id}.`);
  await commit(app, who, { kind: 'absence', row: { ...row, endedMs: app.clock.nowMs() } });
}

export async function saveDepot(app: App, who: Principal, mode: SaveMode, row: Depot): Promise<Depot> {
  allowed(who, 'crew.write');
  const known = await app.store.registry.depots();
  checkMode(
    mode,
    'depot',
    row.id,
    known.some((one) => one.id === row.id),
  );
  await commit(app, who, { kind: 'depot', row });
  return row;
}

export async function saveTruck(app: App, who: Principal, mode: SaveMode, row: Truck): Promise<Truck> {
  allowed(who, 'crew.write');
  checkMode(mode, 'truck', row.id, await hasTruck(app, row.id));
  const depots = await app.store.registry.depots();
  if (row.depotId !== null && !depots.some((one) => one.id === row.depotId)) {
    refuse('The truck stands nowhere.', [{ pointer: '/depotId', detail: `there is no depot “${row.depotId}”` }]);
  }
  await commit(app, who, { kind: 'truck', row });
  return row;
}

async function hasTruck(app: App, id: string): Promise<boolean> {
  return (await app.store.registry.trucks()).some((truck) => truck.id === id);
}

async function requireSite(app: App, id: SiteId): Promise<void> {
  if ((await app.store.registry.site(WHOLE_FLEET, id)) === null) {
    throw new DomainError('not_found', `There is no site with the id “${id}”.`);
  }
}

function checkMode(mode: SaveMode, what: string, id: string, exists: boolean): void {
  if (mode === 'create' && exists) {
    throw new DomainError('conflict', `There is a ${what} with the id “${id}” already. Choose another id.`);
  }
  if (mode === 'replace' && !exists) throw new DomainError('not_found', `There is no ${what} with the id “${id}”.`);
}

function hoursFaults(pointer: string, hours: readonly WeekdayHours[]): InputFault[] {
  return hours.flatMap(({ fromMinute, toMinute }, index) =>
    toMinute > fromMinute ? [] : [{ pointer: `${pointer}/${index}/toMinute`, detail: 'is not after the beginning' }],
  );
}

function spanFaults(pointer: string, { fromDay, toDay }: DaySpan): InputFault[] {
  return toDay >= fromDay ? [] : [{ pointer: `${pointer}/toDay`, detail: `is ${toDay}, before ${fromDay}` }];
}

function refuse(words: string, faults: readonly InputFault[]): void {
  if (faults.length > 0) throw new DomainError('invalid_input', words, { faults });
}

async function commit(app: App, who: Principal, write: Write): Promise<void> {
  await app.store.commit({
    atMs: app.clock.nowMs(),
    actor: { kind: 'person', id: who.personId },
    writes: [write],
    cursor: null,
  });
}

import { isoWeekday } from '../../alerts/work-calendar.js';
import type { CrewDay } from '../../dispatch/crew.js';
import type { HeldStop } from '../../dispatch/desk.js';
import type { GeoPoint } from '../../dispatch/travel.js';
import { type Absence, type CrewTerms, usualCrewTerms, type WeekdayHours } from '../../domain/crew.js';
import type { LocalDay, PersonId } from '../../domain/ids.js';
import { addDays } from '../../domain/local-day.js';
import type { Message } from '../../domain/message.js';
import type { Depot, Person, Site, Truck } from '../../domain/registry.js';

/** Tank of everybody while no truck is entered at all; an assumption, so that a first plan says something. */
const ASSUMED_TANK_LITRES = 300;

/** Where somebody's day goes on from, after what is done and held. */
export interface Underway {
  readonly at: GeoPoint;
  readonly fromMinute: number;
  /** Null: not known. */
  readonly tankLitres: number | null;
}

export interface CrewQuestion {
  readonly technicians: readonly Person[];
  readonly terms: ReadonlyMap<PersonId, CrewTerms>;
  readonly trucks: readonly Truck[];
  readonly depots: readonly Depot[];
  readonly sites: readonly Site[];
  readonly absences: readonly Absence[];
  readonly firstDay: LocalDay;
  readonly dayCount: number;
  readonly nowMinute: number;
  /** By person, for those whose day has begun. */
  readonly underway: ReadonlyMap<PersonId, Underway>;
}

export interface CrewAnswer {
  readonly crew: readonly CrewDay[];
  readonly assumptions: readonly Message[];
}

/** Each technician's working days of the plan, with truck, hours and where they start. */
export function crewDaysOf(question: CrewQuestion): CrewAnswer {
  const { technicians, terms, trucks, depots, dayCount, firstDay } = question;
  const assumptions: Message[] = [];
  if (technicians.length === 0) assumptions.push({ code: 'plan.assumed.no_crew', params: {} });
  if (depots.length === 0) assumptions.push({ code: 'plan.assumed.no_depot', params: {} });
  if (trucks.length === 0) {
    assumptions.push({ code: 'plan.assumed.no_trucks', params: { tankLitres: ASSUMED_TANK_LITRES } });
  }
  const truckOf = trucksByPerson(question);
  const crew: CrewDay[] = [];
  for (const person of technicians) {
    const own = terms.get(person.id) ?? usualCrewTerms(person.id);
    if (!terms.has(person.id)) assumptions.push({ code: 'plan.assumed.terms', params: { person: person.name } });
    const truck = truckOf.get(person.id) ?? null;
    if (truck === null && trucks.length > 0) {
      assumptions.push({ code: 'plan.assumed.no_truck_left', params: { person: person.name } });
    }
    const base = own.home ?? yardOf(question, truck);
    for (let d = 0; d < dayCount; d++) {
      const day = addDays(firstDay, d);
      const shift = shiftOf(own, day);
      if (shift === null || isAway(question.absences, { personId: person.id }, day)) continue;
      const one = crewDay(question, own, shift, truck, base, day);
      if (one !== null) crew.push(one);
    }
  }
  return { crew, assumptions };
}

function crewDay(
  question: CrewQuestion,
  own: CrewTerms,
  shift: WeekdayHours,
  truck: Truck | null,
  base: GeoPoint,
  day: LocalDay,
): CrewDay | null {
  const { trucks, absences, underway, nowMinute, firstDay } = question;
  const today = day === firstDay;
  const begun = today ? (underway.get(own.personId) ?? null) : null;
  const openMinute = Math.max(shift.fromMinute, today ? nowMinute : 0, begun?.fromMinute ?? 0);
  if (openMinute >= shift.toMinute + own.overtimeMinutes) return null;
  const truckHere = truck !== null && !isAway(absences, { truckId: truck.id }, day);
  const tankLitres = trucks.length === 0 ? ASSUMED_TANK_LITRES : truckHere ? truck.tankLitres : 0;
  return {
    personId: own.personId,
    day,
    start: begun?.at ?? base,
    end: base,
    openMinute,
    // Who has been at work for long has no shift left, but may still have overtime.
    closeMinute: Math.max(openMinute, shift.toMinute),
    overtimeMinutes: Math.max(0, shift.toMinute + own.overtimeMinutes - Math.max(openMinute, shift.toMinute)),
    pause: own.pause !== null && own.pause.fromMinute >= openMinute ? own.pause : null,
    tankLitres,
    tankLitresAtStart: Math.min(tankLitres, Math.max(0, begun?.tankLitres ?? tankLitres)),
    skills: own.skills,
  };
}

/** The truck that is entered for somebody, else one that nobody has, in order of ids. */
export function trucksByPerson({
  technicians,
  terms,
  trucks,
}: Pick<CrewQuestion, 'technicians' | 'terms' | 'trucks'>): ReadonlyMap<PersonId, Truck> {
  const byId = new Map(trucks.map((truck) => [truck.id, truck]));
  const out = new Map<PersonId, Truck>();
  const taken = new Set<string>();
  for (const { id } of technicians) {
    const truck = byId.get(terms.get(id)?.truckId ?? '');
    if (truck === undefined) continue;
    out.set(id, truck);
    taken.add(truck.id);
  }
  const free = trucks.filter((truck) => !taken.has(truck.id));
  for (const { id } of technicians) {
    if (out.has(id)) continue;
    const truck = free.shift();
    if (truck !== undefined) out.set(id, truck);
  }
  return out;
}

function yardOf({ depots, sites }: CrewQuestion, truck: Truck | null): GeoPoint {
  const depot = depots.find((one) => one.id === truck?.depotId) ?? depots[0];
  if (depot !== undefined) return { latitude: depot.latitude, longitude: depot.longitude };
  const count = Math.max(1, sites.length);
  return {
    latitude: sites.reduce((sum, site) => sum + site.latitude, 0) / count,
    longitude: sites.reduce((sum, site) => sum + site.longitude, 0) / count,
  };
}

/** Away by one's own or the truck's absence; a holiday of the firm keeps everybody away. */
export function isAway(
  absences: readonly Absence[],
  whom: { readonly personId: PersonId } | { readonly truckId: string },
  day: LocalDay,
): boolean {
  return absences.some((one) => {
    if (one.fromDay > day || one.toDay < day) return false;
    if (one.personId === null && one.truckId === null) return 'personId' in whom;
    return 'personId' in whom ? one.personId === whom.personId : one.truckId === whom.truckId;
  });
}

/** The shift of a day; null for a free one. */
export function shiftOf(terms: CrewTerms, day: LocalDay): WeekdayHours | null {
  return terms.shifts.find((one) => one.weekday === isoWeekday(day)) ?? null;
}

/** Where each person's day goes on after the stops that are done and held. */
export function underwayOf(
  held: readonly (HeldStop & { readonly tankLitres: number | null })[],
  done: readonly { readonly personId: PersonId; readonly siteId: string; readonly tankLitres: number | null }[],
  sites: ReadonlyMap<string, Site>,
  nowMinute: number,
): ReadonlyMap<PersonId, Underway> {
  const out = new Map<PersonId, Underway>();
  for (const { personId, siteId, tankLitres } of done) {
    const site = sites.get(siteId);
    if (site !== undefined) out.set(personId, { at: site, fromMinute: nowMinute, tankLitres });
  }
  for (const { personId, stop, tankLitres } of held) {
    const site = sites.get(stop.siteId);
    if (site === undefined) continue;
    out.set(personId, { at: site, fromMinute: Math.max(nowMinute, stop.endMinute), tankLitres });
  }
  return out;
}

import { z } from 'zod';
import { id, list, localDay, longId, number, text } from './common.js';
import { role } from './people.js';

const minute = number(0, 1_440)
  .int('is not a whole number')
  .meta({ description: 'Minutes after midnight on the wall' });

const weekday = number(1, 7).int('is not a whole number').meta({ description: '1 is Monday, 7 is Sunday (ISO 8601)' });

const weekdayHours = z.object({ weekday, fromMinute: minute, toMinute: minute });

const daySpan = { fromDay: localDay, toDay: localDay };

const skills = list(text(80)).meta({ description: 'Skills, tickets and keys, in the firm’s own words' });

const crewFields = {
  shifts: list(weekdayHours).meta({ description: 'At most one a weekday; a weekday without one is free' }),
  pause: z.object({ fromMinute: minute, minutes: number(0, 240) }).nullable(),
  overtimeMinutes: number(0, 480).meta({ description: 'How long a shift may run over' }),
  truckId: id.nullable().meta({ description: 'Null: any truck that is free' }),
  home: z
    .object({ latitude: number(-90, 90), longitude: number(-180, 180) })
    .nullable()
    .meta({ description: 'Where the day starts and ends; null: at the truck’s depot' }),
  skills,
};

export const crewTerms = z.object({ personId: id, ...crewFields }).meta({ id: 'CrewTerms' });
export const crewTermsBody = z.object(crewFields);

const monthDay = z
  .string()
  // Of a leap year, so that 29 February is one.
  .refine((text) => /^\d{2}-\d{2}$/.test(text) && localDay.safeParse(`2028-${text}`).success, {
    error: 'is no day of the year; write month and day as in 04-15',
  })
  .meta({ examples: ['04-15'] });

const siteFields = {
  hours: list(weekdayHours).meta({
    description: 'When the crew may come; empty: at any time. With some, a weekday without one is closed',
  }),
  closed: list(z.object(daySpan)).meta({ description: 'Days on which nobody may come, both included' }),
  wateringWeekdays: list(weekday)
    .nullable()
    .meta({ description: 'Weekdays on which watering is allowed, where a restriction names them; null: on all' }),
  skills,
  forbiddenPeople: list(id),
  visitEveryDays: number(1, 366)
    .int('is not a whole number')
    .nullable()
    .meta({ description: 'A visit at least every so many days was agreed; null: as the water asks' }),
  replantOn: z.array(monthDay).max(12, 'are more than twelve').readonly().meta({
    description: 'Days of the year around which the pots are replanted for the season',
  }),
};

export const siteTerms = z.object({ siteId: id, ...siteFields }).meta({ id: 'SiteTerms' });
export const siteTermsBody = z.object({ ...siteFields, replantOn: siteFields.replantOn.default([]) });

const absenceFields = {
  personId: id.nullable(),
  truckId: id.nullable(),
  ...daySpan,
  reason: text(200).nullable(),
};

export const absence = z
  .object({ id: longId, ...absenceFields })
  .meta({ id: 'Absence', description: 'Neither person nor truck: a holiday of the whole firm' });
export const newAbsence = z.object({
  ...absenceFields,
  personId: absenceFields.personId.default(null),
  truckId: absenceFields.truckId.default(null),
  reason: absenceFields.reason.default(null),
});

export const depot = z
  .object({ id, name: text(200), latitude: number(-90, 90), longitude: number(-180, 180) })
  .meta({ id: 'Depot' });
export const truck = z
  .object({ id, name: text(200), tankLitres: number(0, 50_000), depotId: id.nullable() })
  .meta({ id: 'Truck' });
export const depotChange = depot.omit({ id: true });
export const truckChange = truck.omit({ id: true });

export const crew = z
  .object({
    people: list(z.object({ personId: id, name: z.string(), role, terms: crewTerms })),
    trucks: list(truck),
    depots: list(depot),
    absences: list(absence).meta({ description: 'Of today and later' }),
  })
  .meta({ id: 'Crew' });

export type CrewJson = z.infer<typeof crew>;
export type CrewTermsBody = z.input<typeof crewTermsBody>;
export type SiteTermsJson = z.infer<typeof siteTerms>;
export type SiteTermsBody = z.input<typeof siteTermsBody>;
export type NewAbsenceBody = z.input<typeof newAbsence>;
export type AbsenceJson = z.infer<typeof absence>;
export type DepotJson = z.infer<typeof depot>;
export type TruckJson = z.infer<typeof truck>;

import ical, { ICalCalendarMethod, ICalEventStatus } from 'ical-generator';

/** One stop as a calendar shows it. */
export interface CalendarStop {
  readonly id: string;
  /** Grows with each change, so that calendars replace what they hold (RFC 5545 section 3.8.7.4). */
  readonly revision: number;
  readonly changedMs: number;
  /** `YYYY-MM-DD`, shown as a whole day while the hour is not planned. */
  readonly day: string;
  readonly startMs: number | null;
  readonly endMs: number | null;
  readonly title: string;
  readonly lines: readonly string[];
  readonly latitude: number;
  readonly longitude: number;
  readonly cancelled: boolean;
}

/** The rounds of one technician as an iCalendar feed, RFC 5545. */
export function calendarFeed(name: string, stops: readonly CalendarStop[]): string {
  const calendar = ical({
    name,
    method: ICalCalendarMethod.PUBLISH,
    prodId: { company: 'Brimline', product: 'rounds' },
  });
  for (const stop of stops) {
    const isTimed = stop.startMs !== null && stop.endMs !== null;
    calendar.createEvent({
      id: stop.id,
      sequence: stop.revision,
      stamp: new Date(stop.changedMs),
      start: isTimed ? new Date(stop.startMs) : new Date(`${stop.day}T00:00:00Z`),
      ...(isTimed ? { end: new Date(stop.endMs) } : { allDay: true }),
      summary: stop.title,
      description: stop.lines.join('\n'),
      location: { title: stop.title, geo: { lat: stop.latitude, lon: stop.longitude } },
      status: stop.cancelled ? ICalEventStatus.CANCELLED : ICalEventStatus.CONFIRMED,
    });
  }
  return calendar.toString();
}

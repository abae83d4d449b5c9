import { describe, expect, it } from 'vitest';
import { type CalendarStop, calendarFeed } from '../../../src/notify/calendar.js';

const STOP: CalendarStop = {
  id: 'stop-12',
  revision: 3,
  changedMs: Date.UTC(2026, 7, 31, 5),
  day: '2026-09-01',
  startMs: null,
  endMs: null,
  title: 'Harbour terrace; 2 pots, 41 L',
  lines: ['Olive by the door: 18 L', 'Bañera de romero junto a la barandilla del ático, detrás del depósito: 23 L'],
  latitude: 41.2,
  longitude: 2.1,
  cancelled: false,
};

/** RFC 5545 section 3.1: a line break followed by a space or tab is taken out. */
const unfold = (feed: string): string => feed.replace(/\r\n[ \t]/g, '');

describe('the calendar feed', () => {
  it('folds lines at 75 octets and ends them with CRLF (RFC 5545 section 3.1)', () => {
    const feed = calendarFeed('Rounds', [STOP]);
    for (const line of feed.split('\r\n')) expect(Buffer.byteLength(line)).toBeLessThanOrEqual(75);
    expect(feed.replaceAll('\r\n', '')).not.toContain('\n');
  });

  it('escapes commas and semicolons, and gives each event what the standard demands (3.3.11, 3.6.1)', () => {
    const feed = unfold(calendarFeed('Rounds', [STOP]));
    expect(feed).toContain('SUMMARY:Harbour terrace\\; 2 pots\\, 41 L');
    expect(feed).toContain('UID:stop-12');
    expect(feed).toContain('DTSTAMP:20260831T050000Z');
    expect(feed).toContain('DTSTART;VALUE=DATE:20260901');
    expect(feed).toContain('GEO:41.2;2.1');
  });

  it('keeps the identity of a changed or cancelled stop, with a higher sequence (3.8.7.4, 3.8.1.11)', () => {
    const feed = unfold(calendarFeed('Rounds', [{ ...STOP, revision: 4, cancelled: true }]));
    expect(feed).toContain('UID:stop-12');
    expect(feed).toContain('SEQUENCE:4');
    expect(feed).toContain('STATUS:CANCELLED');
  });

  it('shows the hour where it is planned', () => {
    const startMs = Date.UTC(2026, 8, 1, 6, 30);
    const feed = calendarFeed('Rounds', [{ ...STOP, startMs, endMs: startMs + 1_800_000 }]);
    expect(feed).toContain('DTSTART:20260901T063000Z');
    expect(feed).toContain('DTEND:20260901T070000Z');
  });
});

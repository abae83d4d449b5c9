import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { fromClock, sayWeekdays, toClock, weekdayName, wordsOf } from '../../../dashboard/src/state/week.js';

describe('a clock on a form', () => {
  it('gives back every minute of the day', () => {
    fc.assert(
      fc.property(fc.integer({ min: 0, max: 1_439 }), (minute) => {
        expect(fromClock(toClock(minute))).toBe(minute);
      }),
    );
  });

  it('rounds what a plan computed to the minute', () => {
    expect([toClock(424.743), toClock(479.6), toClock(1_440)]).toEqual(['07:05', '08:00', '23:59']);
  });

  it('takes nothing that is no clock', () => {
    expect([fromClock(''), fromClock('24:00'), fromClock('seven')]).toEqual([null, null, null]);
  });
});

describe('weekdays', () => {
  it('begin with Monday, and three in a row are said as a span', () => {
    expect(weekdayName(1, 'en-GB', 'long')).toBe('Monday');
    expect(sayWeekdays([5, 1, 2, 4, 3], 'en-GB')).toBe('Mon–Fri');
    expect(sayWeekdays([1, 2, 4, 6, 7, 5], 'en-GB')).toBe('Mon, Tue, Thu–Sun');
    expect(sayWeekdays([], 'en-GB')).toBe('');
  });
});

it('a line of words parted by commas holds each of them once, and no empty one', () => {
  expect(wordsOf(' roof ladder, key 14,, roof ladder ,')).toEqual(['roof ladder', 'key 14']);
});

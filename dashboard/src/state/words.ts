import { formatInstant, formatNumber } from '../../../src/domain/texts/render.js';
import type { Quantiles } from './dry-axis.js';
import type { Voice } from './voice.js';
import { addDays, dayOf } from './zone.js';

/** An instant as people say it: with the hour where that matters, else the day. */
export function sayWhen(voice: Voice, ms: number, nowMs: number): string {
  const zone = voice.reader.timeZone;
  const day = dayOf(ms, zone);
  const today = dayOf(nowMs, zone);
  if (day === today) return voice.say('when.today', { atMs: ms });
  if (day === addDays(today, 1)) return voice.say('when.tomorrow', { atMs: ms });
  if (day === addDays(today, -1)) return voice.say('when.yesterday', { atMs: ms });
  return voice.say('when.day', { atMs: ms });
}

/** The last moment for something: the hour alone where it is today. */
export function sayBy(voice: Voice, ms: number, nowMs: number): string {
  return dayOf(ms, voice.reader.timeZone) === dayOf(nowMs, voice.reader.timeZone)
    ? voice.say('when.by_today', { atMs: ms })
    : voice.say('when.by', { when: sayWhen(voice, ms, nowMs) });
}

/** The dry moment with its uncertainty in words; p10 to p90 hold eight chances in ten. */
export function sayDry(voice: Voice, dry: Quantiles | null, nowMs: number): string {
  if (dry === null) return voice.say('dry.unknown');
  const { p10Ms, p50Ms, p90Ms } = dry;
  if (p50Ms !== null && p50Ms <= nowMs) return voice.say('dry.now');
  if (p10Ms === null) return voice.say('dry.beyond');
  const p10 = sayWhen(voice, p10Ms, nowMs);
  if (p50Ms === null) return voice.say('dry.early_only', { p10 });
  const p50 = sayWhen(voice, p50Ms, nowMs);
  if (p90Ms === null) return voice.say('dry.window_open', { p10, p50 });
  return voice.say('dry.window', { p10, p50, p90: sayWhen(voice, p90Ms, nowMs) });
}

/** Work time: minutes below an hour and a half, hours and minutes above. */
export function sayWork(voice: Voice, minutes: number): string {
  const whole = Math.round(minutes);
  if (whole < 90) return voice.say('quantity.minutes', { workMinutes: whole });
  return voice.say('quantity.hours_minutes', {
    hours: Math.floor(whole / 60),
    restMinutes: whole % 60,
  });
}

/** `Monday 31 August`, of a site-local day. */
export function sayDay(voice: Voice, day: string): string {
  return new Intl.DateTimeFormat(voice.reader.locale, {
    timeZone: 'UTC',
    weekday: 'long',
    day: 'numeric',
    month: 'long',
  }).format(Date.parse(`${day}T12:00:00Z`));
}

/** `August 2026`, of a month `YYYY-MM`. */
export function sayMonth(voice: Voice, month: string): string {
  return new Intl.DateTimeFormat(voice.reader.locale, { timeZone: 'UTC', month: 'long', year: 'numeric' }).format(
    Date.parse(`${month}-15T12:00:00Z`),
  );
}

export function sayShare(voice: Voice, fraction: number): string {
  return `${formatNumber(fraction * 100, voice.reader, 0)} %`;
}

/** `Mon 31 Aug`, of a site-local day. */
export function sayShortDay(voice: Voice, day: string): string {
  return formatInstant(Date.parse(`${day}T12:00:00Z`), { ...voice.reader, timeZone: 'UTC' }, 'day');
}

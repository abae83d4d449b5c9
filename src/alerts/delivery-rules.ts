import type { AlarmKind, AlarmPriority } from '../domain/alarm.js';
import type { EpochMs, LocalDay, PersonId, SiteId } from '../domain/ids.js';
import { addDays, LocalDays } from '../domain/local-day.js';
import type { ContactRules, DailyWindow } from '../domain/notify.js';
import { isoWeekday } from './work-calendar.js';

const PRIORITY_RANK: Readonly<Record<AlarmPriority, number>> = { low: 0, medium: 1, high: 2 };

/** What is to be told, as far as the rules ask. */
export interface Occasion {
  readonly siteId: SiteId | null;
  readonly priority: AlarmPriority;
  /** Of the alarms that stand behind it; empty where it is about a stop or a round alone. */
  readonly kinds: readonly AlarmKind[];
  /** It cannot wait for the morning: breaks quiet hours. */
  readonly urgent: boolean;
}

export type DeliveryDecision =
  | { readonly kind: 'now' }
  /** Kept for the digest; nothing is sent by itself. */
  | { readonly kind: 'digest'; readonly atMs: EpochMs }
  | { readonly kind: 'stand_in'; readonly personId: PersonId }
  | { readonly kind: 'not_wanted' };

/** Says when a person hears of something; a person who is away without a stand-in hears of it all the same. */
export function decideDelivery(rules: ContactRules, occasion: Occasion, nowMs: EpochMs): DeliveryDecision {
  const days = new LocalDays(rules.timeZone);
  const today = days.dayOf(nowMs);
  const isAway = rules.away.some(({ fromDay, toDay }) => fromDay <= today && today <= toDay);
  if (isAway && rules.standInId !== null) return { kind: 'stand_in', personId: rules.standInId };

  const wantsSite = rules.siteIds === null || occasion.siteId === null || rules.siteIds.includes(occasion.siteId);
  if (!wantsSite || PRIORITY_RANK[occasion.priority] < PRIORITY_RANK[rules.minimumPriority]) {
    return { kind: 'not_wanted' };
  }
  if (occasion.kinds.length > 0 && !occasion.kinds.some((kind) => rules.kinds?.includes(kind) ?? true)) {
    return { kind: 'not_wanted' };
  }
  const minute = days.wallHour(nowMs) * 60;
  const isQuiet = rules.quiet !== null && isWithin(rules.quiet, minute);
  if (occasion.urgent || (!isQuiet && isAtWork(rules, today, minute))) return { kind: 'now' };
  return { kind: 'digest', atMs: nextDigestMs(rules, nowMs) };
}

function isAtWork(rules: ContactRules, day: LocalDay, minute: number): boolean {
  const hours = rules.working?.filter(({ weekday }) => weekday === isoWeekday(day));
  return hours === undefined || hours.some(({ fromMinute, toMinute }) => minute >= fromMinute && minute < toMinute);
}

const MOST_DAYS_HELD = 14;

/**
 * The first digest after `nowMs`, at the person's wall clock, on a day on which the person works; who works on no day at
 * all has one every day.
 */
export function nextDigestMs(rules: ContactRules, nowMs: EpochMs): EpochMs {
  const days = new LocalDays(rules.timeZone);
  const today = days.dayOf(nowMs);
  const [hour, minute] = [Math.floor(rules.digestMinute / 60), rules.digestMinute % 60];
  const first = days.atMs(today, hour, minute) > nowMs ? 0 : 1;
  for (let ahead = first; ahead < MOST_DAYS_HELD; ahead += 1) {
    const day = addDays(today, ahead);
    const works = rules.working?.some(({ weekday }) => weekday === isoWeekday(day)) ?? true;
    if (works) return days.atMs(day, hour, minute);
  }
  return days.atMs(addDays(today, first), hour, minute);
}

function isWithin(window: DailyWindow, minute: number): boolean {
  return window.fromMinute <= window.toMinute
    ? minute >= window.fromMinute && minute < window.toMinute
    : minute >= window.fromMinute || minute < window.toMinute;
}

/**
 * Milliseconds to wait before the next attempt: doubling from 30 s to 1 h, spread by a quarter either way so that a
 * channel that comes back is not hit by all at once.
 * @param attempts attempts made so far, at least 1
 * @param spread uniform in [0, 1)
 */
export function backOffMs(attempts: number, spread: number): number {
  const base = Math.min(30_000 * 2 ** (attempts - 1), 3_600_000);
  return Math.round(base * (0.75 + spread / 2));
}

/** A day and a half of hourly attempts; what is still undelivered then wants a person. */
export const MAX_ATTEMPTS = 40;

export interface BreakerState {
  readonly failuresInRow: number;
  readonly openUntilMs: EpochMs | null;
}

export const BREAKER_CLOSED: BreakerState = { failuresInRow: 0, openUntilMs: null };

// Five failures in a row are hardly chance; a minute is long enough not to hammer and short enough not to delay.
const BREAKER_FAILURES = 5;
const BREAKER_PAUSE_MS = 60_000;

/** A channel that fails again and again is left alone for a while, then tried with one message. */
export function afterAttempt(breaker: BreakerState, delivered: boolean, nowMs: EpochMs): BreakerState {
  if (delivered) return BREAKER_CLOSED;
  const failuresInRow = breaker.failuresInRow + 1;
  return { failuresInRow, openUntilMs: failuresInRow >= BREAKER_FAILURES ? nowMs + BREAKER_PAUSE_MS : null };
}

export function mayTry(breaker: BreakerState, nowMs: EpochMs): boolean {
  return breaker.openUntilMs === null || nowMs >= breaker.openUntilMs;
}

import type { Alarm, AlarmPriority, AlarmState, AlarmTransition, UnheldAlarmState } from '../domain/alarm.js';
import type { EpochMs } from '../domain/ids.js';
import type { Message } from '../domain/message.js';
import { saysTheSame } from './messages.js';

/** How an alarm point behaves; the catalogue has defaults for each kind. */
export interface AlarmSettings {
  /** The condition must have held this long, in reading time, before the alarm is raised. */
  readonly onDelayMs: number;
  /** The condition must have been gone this long, in reading time, before the alarm returns to normal. */
  readonly offDelayMs: number;
  /** Stays latched after the condition is gone, until a person resets it. */
  readonly latching: boolean;
  /** An acknowledged alarm whose condition still holds is announced again after this long; null: never. */
  readonly reAlarmAfterMs: number | null;
  /** Nobody shelves it for longer. */
  readonly maxShelvingMs: number;
}

export type AlarmEvent =
  | {
      readonly kind: 'condition';
      readonly active: boolean;
      /** When it began or ended, in reading time. */
      readonly sinceMs: EpochMs;
      /** The latest instant of which the readings speak; delays end by it. */
      readonly readingMs: EpochMs;
      /** It ended because somebody decided so: there is no wavering to wait out. */
      readonly endedByDecision: boolean;
      readonly priority: AlarmPriority;
      readonly message: Message;
    }
  | { readonly kind: 'acknowledge'; readonly by: string; readonly note: string | null }
  | { readonly kind: 'shelve'; readonly by: string; readonly untilMs: EpochMs; readonly reason: string }
  | { readonly kind: 'unshelve'; readonly by: string }
  | { readonly kind: 'suppress'; readonly by: string; readonly reason: string }
  | { readonly kind: 'unsuppress'; readonly by: string }
  | { readonly kind: 'take_out_of_service'; readonly by: string; readonly reason: string }
  | { readonly kind: 'return_to_service'; readonly by: string }
  | { readonly kind: 'reset'; readonly by: string; readonly note: string | null }
  /** Time goes by: shelving ends, an old acknowledgement runs out. */
  | { readonly kind: 'tick' };

/** What follows outside: somebody should hear of the alarm, or need not any more. */
export type AlarmEffect =
  | {
      readonly kind: 'announce';
      readonly alarmId: string;
      readonly why: 'raised' | 'raised_again' | 'more_urgent' | 'no_longer_held';
    }
  | { readonly kind: 'silence'; readonly alarmId: string };

/** Why an event was not taken. */
export type AlarmRefusal =
  | 'nothing_to_acknowledge'
  | 'not_latched'
  | 'still_active'
  | 'already_held'
  | 'not_shelved'
  | 'not_suppressed'
  | 'not_out_of_service'
  | 'shelving_in_the_past'
  | 'shelving_too_long';

export interface AlarmStep {
  readonly alarm: Alarm;
  readonly transitions: readonly AlarmTransition[];
  readonly effects: readonly AlarmEffect[];
  readonly refused: AlarmRefusal | null;
}

const HELD_STATES: ReadonlySet<AlarmState> = new Set(['shelved', 'suppressed_by_design', 'out_of_service']);

export function isHeld(state: AlarmState): boolean {
  return HELD_STATES.has(state);
}

const URGENCY: Readonly<Record<AlarmPriority, number>> = { low: 0, medium: 1, high: 2 };

/** Actor of what happens by itself. */
export const BY_ITSELF = 'rule';

/**
 * The life cycle of ANSI/ISA-18.2-2016 and IEC 62682 as a pure function: one event in, the alarm after it out.
 *
 * What the condition and the acknowledgements imply is carried on in `beneath` while the alarm is shelved, suppressed or
 * out of service, so that leaving such a state shows what the condition implies then, and nothing is lost on the way.
 * @param nowMs business clock, for stamps and for the end of shelving; delays count in the event's reading time
 */
export function step(alarm: Alarm, event: AlarmEvent, nowMs: EpochMs, settings: AlarmSettings): AlarmStep {
  const life = new Life(alarm, nowMs);
  life.endShelving();
  const refused = life.take(event, settings);
  life.remind(settings);
  return life.result(refused);
}

class Life {
  #alarm: Alarm;
  readonly #nowMs: EpochMs;
  readonly #transitions: AlarmTransition[] = [];
  readonly #effects: AlarmEffect[] = [];

  constructor(alarm: Alarm, nowMs: EpochMs) {
    this.#alarm = alarm;
    this.#nowMs = nowMs;
  }

  result(refused: AlarmRefusal | null): AlarmStep {
    return { alarm: this.#alarm, transitions: this.#transitions, effects: this.#effects, refused };
  }

  endShelving(): void {
    const { state, shelvedUntilMs } = this.#alarm;
    if (state === 'shelved' && shelvedUntilMs !== null && this.#nowMs >= shelvedUntilMs) {
      this.#release('shelving_expired', BY_ITSELF);
    }
  }

  /** An acknowledgement is a promise to act; where nothing came of it, the alarm is announced again. */
  remind(settings: AlarmSettings): void {
    const { acknowledgedMs, beneath, conditionActive } = this.#alarm;
    const dueAgain =
      settings.reAlarmAfterMs !== null &&
      beneath === 'acknowledged' &&
      conditionActive &&
      acknowledgedMs !== null &&
      this.#nowMs - acknowledgedMs >= settings.reAlarmAfterMs;
    if (!dueAgain) return;
    this.#alarm = { ...this.#alarm, acknowledgedMs: null, acknowledgedBy: null };
    this.#become('unacknowledged', 'not_dealt_with', BY_ITSELF, null, 'raised_again');
  }

  take(event: AlarmEvent, settings: AlarmSettings): AlarmRefusal | null {
    switch (event.kind) {
      case 'tick':
        return null;
      case 'condition':
        this.#condition(event, settings);
        return null;
      case 'acknowledge':
        return this.#acknowledge(event.by, event.note);
      case 'reset':
        return this.#reset(event.by, event.note);
      case 'shelve': {
        if (event.untilMs <= this.#nowMs) return 'shelving_in_the_past';
        if (event.untilMs - this.#nowMs > settings.maxShelvingMs) return 'shelving_too_long';
        return this.#hold('shelved', 'shelve', event.by, event.reason, event.untilMs);
      }
      case 'suppress':
        return this.#hold('suppressed_by_design', 'suppress', event.by, event.reason, null);
      case 'take_out_of_service':
        return this.#hold('out_of_service', 'take_out_of_service', event.by, event.reason, null);
      case 'unshelve':
        if (this.#alarm.state !== 'shelved') return 'not_shelved';
        this.#release('unshelve', event.by);
        return null;
      case 'unsuppress':
        if (this.#alarm.state !== 'suppressed_by_design') return 'not_suppressed';
        this.#release('unsuppress', event.by);
        return null;
      case 'return_to_service':
        if (this.#alarm.state !== 'out_of_service') return 'not_out_of_service';
        this.#release('return_to_service', event.by);
        return null;
    }
  }

  #condition(event: Extract<AlarmEvent, { kind: 'condition' }>, settings: AlarmSettings): void {
    const before = this.#alarm;
    if (event.active !== before.conditionActive) {
      this.#alarm = { ...this.#alarm, conditionActive: event.active, conditionSinceMs: event.sinceMs };
    }
    const lastedMs = event.readingMs - this.#alarm.conditionSinceMs;
    if (event.active) {
      if (!saysTheSame(before.message, event.message)) this.#alarm = { ...this.#alarm, message: event.message };
      const moreUrgent = URGENCY[event.priority] > URGENCY[before.priority];
      if (event.priority !== before.priority) this.#alarm = { ...this.#alarm, priority: event.priority };
      if (lastedMs >= settings.onDelayMs) this.#conditionHolds(moreUrgent);
    } else if (event.endedByDecision || lastedMs >= settings.offDelayMs) {
      this.#conditionIsGone(settings);
    }
  }

  #conditionHolds(moreUrgent: boolean): void {
    switch (this.#alarm.beneath) {
      case 'normal':
        this.#raise('condition_on', 'raised');
        return;
      case 'returned_unacknowledged':
      case 'latched_unacknowledged':
      case 'latched_acknowledged':
        this.#raise('condition_on_again', 'raised_again');
        return;
      case 'acknowledged':
        if (!moreUrgent) return;
        this.#alarm = { ...this.#alarm, acknowledgedMs: null, acknowledgedBy: null };
        this.#become('unacknowledged', 'more_urgent', BY_ITSELF, null, 'more_urgent');
        return;
      case 'unacknowledged':
        if (moreUrgent && !isHeld(this.#alarm.state)) this.#announce('more_urgent');
        return;
    }
  }

  #conditionIsGone(settings: AlarmSettings): void {
    switch (this.#alarm.beneath) {
      case 'unacknowledged':
        this.#become(
          settings.latching ? 'latched_unacknowledged' : 'returned_unacknowledged',
          'condition_off',
          BY_ITSELF,
          null,
        );
        return;
      case 'acknowledged':
        this.#become(settings.latching ? 'latched_acknowledged' : 'normal', 'condition_off', BY_ITSELF, null);
        return;
      case 'normal':
      case 'returned_unacknowledged':
      case 'latched_unacknowledged':
      case 'latched_acknowledged':
        return;
    }
  }

  #acknowledge(by: string, note: string | null): AlarmRefusal | null {
    const next: Partial<Record<UnheldAlarmState, UnheldAlarmState>> = {
      unacknowledged: 'acknowledged',
      returned_unacknowledged: 'normal',
      latched_unacknowledged: 'latched_acknowledged',
    };
    const to = next[this.#alarm.beneath];
    if (to === undefined) return 'nothing_to_acknowledge';
    this.#alarm = { ...this.#alarm, acknowledgedMs: this.#nowMs, acknowledgedBy: by };
    this.#become(to, 'acknowledge', by, note);
    return null;
  }

  #reset(by: string, note: string | null): AlarmRefusal | null {
    switch (this.#alarm.beneath) {
      case 'latched_acknowledged':
        this.#become('normal', 'reset', by, note);
        return null;
      case 'latched_unacknowledged':
        // Reset takes the latch away, not the duty to see it.
        this.#become('returned_unacknowledged', 'reset', by, note);
        return null;
      case 'unacknowledged':
      case 'acknowledged':
        return 'still_active';
      case 'normal':
      case 'returned_unacknowledged':
        return 'not_latched';
    }
  }

  #hold(
    state: 'shelved' | 'suppressed_by_design' | 'out_of_service',
    cause: string,
    by: string,
    reason: string,
    untilMs: EpochMs | null,
  ): AlarmRefusal | null {
    if (isHeld(this.#alarm.state)) return 'already_held';
    this.#record(state, cause, by, reason);
    this.#alarm = { ...this.#alarm, state, heldReason: reason, heldBy: by, shelvedUntilMs: untilMs };
    this.#silence();
    return null;
  }

  #release(cause: string, by: string): void {
    const { beneath } = this.#alarm;
    this.#record(beneath, cause, by, null);
    this.#alarm = { ...this.#alarm, state: beneath, heldReason: null, heldBy: null, shelvedUntilMs: null };
    if (beneath === 'unacknowledged' || beneath === 'latched_unacknowledged') this.#announce('no_longer_held');
  }

  #raise(cause: string, why: 'raised' | 'raised_again'): void {
    this.#alarm = { ...this.#alarm, raisedMs: this.#nowMs, acknowledgedMs: null, acknowledgedBy: null };
    this.#become('unacknowledged', cause, BY_ITSELF, null, why);
  }

  #become(
    to: UnheldAlarmState,
    cause: string,
    by: string,
    note: string | null,
    why: Extract<AlarmEffect, { kind: 'announce' }>['why'] | null = null,
  ): void {
    const held = isHeld(this.#alarm.state);
    // While held the shown state stays; a person's act is on record all the same.
    if (!held) this.#record(to, cause, by, note);
    else if (by !== BY_ITSELF) this.#record(this.#alarm.state, cause, by, note);
    const cleared = to === 'normal' ? { raisedMs: null, acknowledgedMs: null, acknowledgedBy: null } : {};
    this.#alarm = { ...this.#alarm, ...cleared, beneath: to, state: held ? this.#alarm.state : to };
    if (held) return;
    if (why !== null) this.#announce(why);
    else if (to !== 'unacknowledged') this.#silence();
  }

  #announce(why: Extract<AlarmEffect, { kind: 'announce' }>['why']): void {
    this.#effects.push({ kind: 'announce', alarmId: this.#alarm.id, why });
  }

  #silence(): void {
    this.#effects.push({ kind: 'silence', alarmId: this.#alarm.id });
  }

  #record(to: AlarmState, cause: string, actor: string, note: string | null): void {
    this.#transitions.push({
      alarmId: this.#alarm.id,
      atMs: this.#nowMs,
      from: this.#alarm.state,
      to,
      cause,
      actor,
      note,
      priority: this.#alarm.priority,
    });
  }
}

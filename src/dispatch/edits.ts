import type { LocalDay, PersonId, SiteId } from '../domain/ids.js';
import { addDays } from '../domain/local-day.js';
import type { Message } from '../domain/message.js';
import type { PlanWish } from '../domain/plan.js';
import type { LaidStop } from './crew.js';

/** One thing that the dispatcher does to the draft by hand. */
export type PlanEdit =
  | {
      readonly kind: 'move';
      readonly siteId: SiteId;
      readonly fromDay: LocalDay;
      readonly toDay: LocalDay;
      readonly personId: PersonId;
      /** Index among the round's stops; null: where it costs least. */
      readonly position: number | null;
    }
  | {
      readonly kind: 'add';
      readonly siteId: SiteId;
      readonly day: LocalDay;
      readonly personId: PersonId;
      readonly position: number | null;
    }
  /** Nobody comes that day; the planner looks for a later one. */
  | { readonly kind: 'drop'; readonly siteId: SiteId; readonly day: LocalDay }
  | {
      readonly kind: 'lock';
      readonly siteId: SiteId;
      readonly day: LocalDay;
      readonly personId: PersonId | null;
      readonly position: 'first' | 'last' | null;
    }
  | { readonly kind: 'unlock'; readonly siteId: SiteId; readonly day: LocalDay | null }
  | { readonly kind: 'forbid'; readonly siteId: SiteId; readonly personId: PersonId }
  | { readonly kind: 'permit'; readonly siteId: SiteId; readonly personId: PersonId }
  | { readonly kind: 'not_before'; readonly siteId: SiteId; readonly day: LocalDay }
  | { readonly kind: 'any_day'; readonly siteId: SiteId }
  | { readonly kind: 'pin'; readonly personId: PersonId; readonly day: LocalDay }
  | { readonly kind: 'release'; readonly personId: PersonId; readonly day: LocalDay };

/** A draft that is being changed. */
export interface Editing {
  readonly stops: readonly LaidStop[];
  readonly wishes: readonly PlanWish[];
  /** Stops whose place in the round is still to be found; by site and day. */
  readonly toPlace: readonly { readonly siteId: SiteId; readonly day: LocalDay }[];
  /** What could not be done, and why. */
  readonly refused: readonly Message[];
}

/**
 * Does edits in order. What a person puts somewhere is locked there, so that the next run keeps it; what is taken off a
 * day is not put back on it. Nothing is refused for being unwise: only what has no meaning.
 * @param held sites whose stop of today can no longer move
 */
export function applyEdits(
  stops: readonly LaidStop[],
  wishes: readonly PlanWish[],
  edits: readonly PlanEdit[],
  held: ReadonlySet<SiteId>,
  today: LocalDay,
): Editing {
  let state: Editing = { stops, wishes, toPlace: [], refused: [] };
  for (const edit of edits) state = applyEdit(state, edit, held, today);
  return state;
}

function applyEdit(state: Editing, edit: PlanEdit, held: ReadonlySet<SiteId>, today: LocalDay): Editing {
  const { wishes } = state;
  switch (edit.kind) {
    case 'move': {
      const { siteId, fromDay } = edit;
      if (fromDay === today && held.has(siteId)) return refuse(state, { code: 'plan.refused.held', params: {} });
      const standing = state.stops.some((stop) => stop.siteId === siteId && stop.day === fromDay);
      if (!standing) return refuse(state, { code: 'plan.refused.no_stop', params: { day: fromDay } });
      return put(without(state, siteId, fromDay), { ...edit, day: edit.toDay });
    }
    case 'add':
      return put(state, edit);
    case 'drop': {
      if (edit.day === today && held.has(edit.siteId)) return refuse(state, { code: 'plan.refused.held', params: {} });
      const standing = state.stops.some((stop) => stop.siteId === edit.siteId && stop.day === edit.day);
      if (!standing) return refuse(state, { code: 'plan.refused.no_stop', params: { day: edit.day } });
      const next = without(state, edit.siteId, edit.day);
      return { ...next, wishes: [...sans(next.wishes, edit.siteId, 'not_before'), notBefore(edit.siteId, edit.day)] };
    }
    case 'lock': {
      const { siteId, day, personId, position } = edit;
      const others = wishes.filter((wish) => wish.kind !== 'lock' || wish.siteId !== siteId || wish.day !== day);
      return { ...state, wishes: [...others, { kind: 'lock', siteId, day, personId, position }] };
    }
    case 'unlock':
      return {
        ...state,
        wishes: wishes.filter(
          (wish) => wish.kind !== 'lock' || wish.siteId !== edit.siteId || (edit.day !== null && wish.day !== edit.day),
        ),
      };
    case 'forbid':
    case 'permit': {
      const { siteId, personId } = edit;
      const others = wishes.filter(
        (wish) => wish.kind !== 'forbid' || wish.siteId !== siteId || wish.personId !== personId,
      );
      return { ...state, wishes: edit.kind === 'permit' ? others : [...others, { kind: 'forbid', siteId, personId }] };
    }
    case 'not_before': {
      const others = sans(wishes, edit.siteId, 'not_before');
      return { ...state, wishes: [...others, { kind: 'not_before', siteId: edit.siteId, day: edit.day }] };
    }
    case 'any_day':
      return { ...state, wishes: sans(wishes, edit.siteId, 'not_before') };
    case 'pin':
    case 'release': {
      const { personId, day } = edit;
      const others = wishes.filter((wish) => wish.kind !== 'pin' || wish.personId !== personId || wish.day !== day);
      return { ...state, wishes: edit.kind === 'release' ? others : [...others, { kind: 'pin', personId, day }] };
    }
  }
}

function put(
  state: Editing,
  to: { siteId: SiteId; day: LocalDay; personId: PersonId; position: number | null },
): Editing {
  const { siteId, day, personId, position } = to;
  const rest = without(state, siteId, day);
  const stop: LaidStop = { siteId, personId, day, refillBefore: null, refillAfter: null };
  const own = rest.stops.filter((one) => one.day === day && one.personId === personId);
  const others = rest.stops.filter((one) => one.day !== day || one.personId !== personId);
  const at = Math.min(position ?? own.length, own.length);
  return {
    ...rest,
    stops: [...others, ...own.slice(0, at), stop, ...own.slice(at)],
    wishes: [...rest.wishes, { kind: 'lock', siteId, day, personId, position: null }],
    toPlace: position === null ? [...rest.toPlace, { siteId, day }] : rest.toPlace,
  };
}

/** Without the stop, its lock, and the fills of its round, which are placed anew. */
function without(state: Editing, siteId: SiteId, day: LocalDay): Editing {
  return {
    ...state,
    stops: state.stops.filter((stop) => stop.siteId !== siteId || stop.day !== day),
    wishes: state.wishes.filter((wish) => wish.kind !== 'lock' || wish.siteId !== siteId || wish.day !== day),
    toPlace: state.toPlace.filter((one) => one.siteId !== siteId || one.day !== day),
  };
}

function sans(wishes: readonly PlanWish[], siteId: SiteId, kind: 'not_before'): readonly PlanWish[] {
  return wishes.filter((wish) => wish.kind !== kind || wish.siteId !== siteId);
}

function notBefore(siteId: SiteId, day: LocalDay): PlanWish {
  return { kind: 'not_before', siteId, day: addDays(day, 1) };
}

function refuse(state: Editing, message: Message): Editing {
  return { ...state, refused: [...state.refused, message] };
}

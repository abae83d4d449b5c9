import type { LocalDay, PersonId, SiteId } from '../domain/ids.js';
import { addDays, daysBetween } from '../domain/local-day.js';
import type { Message } from '../domain/message.js';
import type { DraftRound, DraftStop, PlanContent, PlanWish } from '../domain/plan.js';
import type { PlanInput } from './build-problem.js';
import type { LaidStop, SiteLock } from './crew.js';

/** A stop of today that stays as it is: under way, or the next one of somebody at work. */
export interface HeldStop {
  readonly personId: PersonId;
  readonly stop: DraftStop;
}

/** All that one look at the plan goes by: the planner's input, and what people wish and did. */
export interface DeskInput {
  readonly plan: PlanInput;
  readonly held: readonly HeldStop[];
  readonly wishes: readonly PlanWish[];
  readonly assumptions: readonly Message[];
  /** For messages. */
  readonly personNames: Readonly<Record<PersonId, string>>;
}

/** The stops of a draft, rounds one after the other and each in order; held ones left out, they are no choice. */
export function stopsOfDraft(content: Pick<PlanContent, 'rounds'>): readonly LaidStop[] {
  return content.rounds.flatMap((round) => round.stops.filter((stop) => stop.reason !== 'frozen').map(laid(round)));
}

const laid =
  ({ personId, day }: DraftRound) =>
  ({ siteId, refillBefore, refillAfter }: DraftStop): LaidStop => ({
    siteId,
    personId,
    day,
    refillBefore,
    refillAfter,
  });

/**
 * The planner's input with what people wish: locks, people kept away, days before which nobody comes, pinned rounds.
 * @param base stops that a pinned round consists of
 */
export function withWishes(input: PlanInput, wishes: readonly PlanWish[], base: readonly LaidStop[]): PlanInput {
  if (wishes.length === 0) return input;
  const locks = new Map<SiteId, SiteLock[]>();
  const forbidden = new Map<SiteId, PersonId[]>();
  const notBefore = new Map<SiteId, LocalDay>();
  const pinned = new Map<string, SiteId[]>();
  const push = <Value>(map: Map<string, Value[]>, key: string, value: Value) =>
    map.set(key, [...(map.get(key) ?? []), value]);
  for (const wish of wishes) {
    if (wish.kind === 'lock') {
      push(locks, wish.siteId, { day: wish.day, personId: wish.personId, position: wish.position });
    } else if (wish.kind === 'forbid') push(forbidden, wish.siteId, wish.personId);
    else if (wish.kind === 'not_before') notBefore.set(wish.siteId, wish.day);
    else {
      const own = base.filter((stop) => stop.personId === wish.personId && stop.day === wish.day);
      pinned.set(
        `${wish.day} ${wish.personId}`,
        own.map((stop) => stop.siteId),
      );
      for (const { siteId } of own) {
        const known = locks.get(siteId) ?? [];
        if (known.some((lock) => lock.day === wish.day)) continue;
        push(locks, siteId, { day: wish.day, personId: wish.personId, position: null });
      }
    }
  }
  const lastDay = addDays(input.firstDay, input.dayCount - 1);
  return {
    ...input,
    crew: input.crew.map((one) => ({ ...one, onlySites: pinned.get(`${one.day} ${one.personId}`) ?? null })),
    sites: input.sites.map((one) => {
      const { id } = one.site;
      const from = notBefore.get(id);
      return {
        ...one,
        locks: [
          ...one.locks,
          ...(locks.get(id) ?? []).filter((lock) => lock.day >= input.firstDay && lock.day <= lastDay),
        ],
        forbiddenPeople: [...one.forbiddenPeople, ...(forbidden.get(id) ?? [])],
        windows: from === undefined ? one.windows : closedBefore(one.windows, input.firstDay, from),
      };
    }),
  };
}

function closedBefore<Windows>(windows: readonly (readonly Windows[])[], firstDay: LocalDay, from: LocalDay) {
  const closedDays = Math.max(0, daysBetween(firstDay, from));
  return windows.map((day, d) => (d < closedDays ? [] : day));
}

/** Wishes about days that are over mean nothing any more. */
export function wishesToCome(wishes: readonly PlanWish[], today: LocalDay): readonly PlanWish[] {
  return wishes.filter((wish) => wish.kind === 'forbid' || wish.day >= today);
}

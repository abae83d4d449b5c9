/** The plan as a board: technicians by days, the draft or what people were told. */
export interface ToldStop {
  readonly siteId: string;
  readonly personId: string;
  readonly day: string;
  readonly startMinute: number;
}

export interface Difference {
  readonly kind: 'added' | 'dropped' | 'other_day' | 'other_technician' | 'other_time';
  readonly siteId: string;
  readonly from: ToldStop | null;
  readonly to: ToldStop | null;
}

interface PlannedVisit<Why> {
  readonly startMinute: number;
  readonly endMinute: number;
  readonly litres: number;
  readonly missesWindow: boolean;
  readonly reason: string;
  readonly why: Why;
}

interface DraftStop<Why> extends PlannedVisit<Why> {
  readonly siteId: string;
  readonly locked: boolean;
}

interface DraftRound<Stop> {
  readonly personId: string;
  readonly day: string;
  readonly startMinute: number;
  readonly finishMinute: number;
  readonly litres: number;
  readonly overtimeMinutes: number;
  readonly exceedsShift: boolean;
  readonly runsDry: boolean;
  readonly stops: readonly Stop[];
}

interface Wish {
  readonly kind: 'lock' | 'forbid' | 'not_before' | 'pin';
  readonly personId?: string | null;
  readonly day?: string;
}

export interface PlanShape<Why, Stop extends DraftStop<Why>> {
  readonly firstDay: string;
  readonly dayCount: number;
  readonly draft: { readonly rounds: readonly DraftRound<Stop>[]; readonly wishes: readonly Wish[] } | null;
  readonly published: readonly {
    readonly technicianId: string;
    readonly day: string;
    readonly stops: readonly {
      readonly siteId: string;
      readonly position: number;
      readonly state: string;
      readonly plan: PlannedVisit<Why> | null;
    }[];
  }[];
  readonly changes: readonly Difference[];
  readonly absences: readonly {
    readonly personId: string | null;
    readonly truckId: string | null;
    readonly fromDay: string;
    readonly toDay: string;
  }[];
  readonly people: readonly { readonly id: string; readonly name: string }[];
}

export interface BoardStop {
  readonly siteId: string;
  /** Null where it was put on the round by hand, without a plan. */
  readonly startMinute: number | null;
  readonly litres: number | null;
  readonly reason: string | null;
  readonly locked: boolean;
  readonly missesWindow: boolean;
  readonly isDone: boolean;
  /** Against what people were told. */
  readonly mark: 'new' | 'moved' | null;
}

export interface BoardRound {
  readonly personId: string;
  readonly day: string;
  readonly stops: readonly BoardStop[];
  readonly startMinute: number | null;
  readonly finishMinute: number | null;
  readonly litres: number;
  readonly overtimeMinutes: number;
  readonly exceedsShift: boolean;
  readonly runsDry: boolean;
  readonly pinned: boolean;
}

export type Showing = 'draft' | 'published';

export interface Board {
  readonly days: readonly { readonly day: string; readonly anybody: boolean }[];
  readonly people: readonly { readonly id: string; readonly name: string }[];
  readonly rounds: ReadonlyMap<string, BoardRound>;
  /** Cells in which nobody works. */
  readonly away: ReadonlyMap<string, 'away' | 'holiday'>;
}

export const cellKey = (personId: string, day: string): string => `${day} ${personId}`;

const DAY_MS = 86_400_000;

export function daysFrom(firstDay: string, count: number): readonly string[] {
  const firstMs = Date.parse(`${firstDay}T12:00:00Z`);
  return Array.from({ length: count }, (_, d) => new Date(firstMs + d * DAY_MS).toISOString().slice(0, 10));
}

/** Lays the plan out; a technician who has left but still has rounds keeps a row. */
export function makeBoard<Why, Stop extends DraftStop<Why>>(plan: PlanShape<Why, Stop>, showing: Showing): Board {
  const rounds = new Map<string, BoardRound>();
  const add = (round: BoardRound): void => void rounds.set(cellKey(round.personId, round.day), round);
  if (showing === 'draft' && plan.draft !== null) for (const round of draftRounds(plan)) add(round);
  else for (const round of publishedRounds(plan)) add(round);
  const busyDays = new Set([...rounds.values()].map((round) => round.day));
  const days = daysFrom(plan.firstDay, plan.dayCount);
  const away = new Map<string, 'away' | 'holiday'>();
  for (const one of plan.absences) {
    if (one.truckId !== null) continue;
    for (const day of days) {
      if (day < one.fromDay || day > one.toDay) continue;
      for (const { id } of plan.people) {
        if (one.personId === null) away.set(cellKey(id, day), 'holiday');
        else if (one.personId === id) away.set(cellKey(id, day), 'away');
      }
    }
  }
  const known = new Set(plan.people.map((person) => person.id));
  const others = [...new Set([...rounds.values()].map((round) => round.personId))].filter((id) => !known.has(id));
  return {
    days: days.map((day) => ({ day, anybody: busyDays.has(day) })),
    people: [...plan.people, ...others.map((id) => ({ id, name: id }))],
    rounds,
    away,
  };
}

function draftRounds<Why, Stop extends DraftStop<Why>>(plan: PlanShape<Why, Stop>): readonly BoardRound[] {
  if (plan.draft === null) return [];
  const { rounds, wishes } = plan.draft;
  const marks = marksOf(plan.changes);
  return rounds.map((round) => ({
    ...round,
    pinned: wishes.some((one) => one.kind === 'pin' && one.personId === round.personId && one.day === round.day),
    stops: round.stops.map((stop) => ({
      siteId: stop.siteId,
      startMinute: stop.startMinute,
      litres: stop.litres,
      reason: stop.reason,
      locked: stop.locked,
      missesWindow: stop.missesWindow,
      isDone: false,
      mark: marks.get(`${round.day} ${round.personId} ${stop.siteId}`) ?? null,
    })),
  }));
}

function publishedRounds<Why, Stop extends DraftStop<Why>>(plan: PlanShape<Why, Stop>): readonly BoardRound[] {
  return plan.published.map(({ technicianId, day, stops }) => {
    const standing = stops.filter((stop) => stop.state !== 'cancelled').toSorted((a, b) => a.position - b.position);
    const planned = standing.flatMap((stop) => (stop.plan === null ? [] : [stop.plan]));
    return {
      personId: technicianId,
      day,
      startMinute: planned[0]?.startMinute ?? null,
      finishMinute: planned.at(-1)?.endMinute ?? null,
      litres: planned.reduce((sum, one) => sum + one.litres, 0),
      overtimeMinutes: 0,
      exceedsShift: false,
      runsDry: false,
      pinned: false,
      stops: standing.map((stop) => ({
        siteId: stop.siteId,
        startMinute: stop.plan?.startMinute ?? null,
        litres: stop.plan?.litres ?? null,
        reason: stop.plan?.reason ?? null,
        locked: false,
        missesWindow: stop.plan?.missesWindow ?? false,
        isDone: stop.state === 'done',
        mark: null,
      })),
    };
  });
}

function marksOf(changes: readonly Difference[]): ReadonlyMap<string, 'new' | 'moved'> {
  return new Map(
    changes.flatMap(({ kind, siteId, to }) =>
      to === null
        ? []
        : [[`${to.day} ${to.personId} ${siteId}`, kind === 'added' ? 'new' : 'moved'] as [string, 'new' | 'moved']],
    ),
  );
}

export type Edit = {
  readonly kind: 'move';
  readonly siteId: string;
  readonly fromDay: string;
  readonly toDay: string;
  readonly personId: string;
  readonly position: number | null;
};

/**
 * Gives a round, or what comes from a stop on, to somebody: the whole of it merges two rounds, a part splits one. The
 * order is kept, behind what is there already.
 */
export function giveEdits(
  round: Pick<BoardRound, 'day' | 'stops'>,
  fromIndex: number,
  to: { readonly personId: string; readonly day: string; readonly stopsThere: number },
): readonly Edit[] {
  return round.stops
    .slice(fromIndex)
    .filter((stop) => !stop.isDone)
    .map((stop, i) => ({
      kind: 'move',
      siteId: stop.siteId,
      fromDay: round.day,
      toDay: to.day,
      personId: to.personId,
      position: to.stopsThere + i,
    }));
}

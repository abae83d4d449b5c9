import type { EpochMs } from '../domain/ids.js';
import type { Message } from '../domain/message.js';
import type { RoundStop, Task, TaskKind, TaskTransition } from '../domain/work.js';
import { CATALOGUE } from './catalogue.js';
import { FINDING_ANSWERS } from './finding-tasks.js';
import { sayTheSame } from './messages.js';
import { plannedStop, type SiteSituation } from './situation.js';
import { isOpen, REFILL_SHOWS_WITHIN_MS, SHOWS_WITHIN_MS, stepTask } from './task-life.js';
import { mootBecause, type WantedTask, wantedTasks } from './task-rules.js';

const HOUR_MS = 3_600_000;
const DAY_MS = 86_400_000;

/** Actor of what the rules do to tasks. */
export const TASK_RULES = 'rule';

/** Who calls a task off is not asked again at once. */
const CALLED_OFF_MS = DAY_MS;

export interface TaskChanges {
  /** The site's tasks after the changes. */
  readonly all: readonly Task[];
  /** The tasks that changed or are new. */
  readonly changed: readonly Task[];
  readonly transitions: readonly TaskTransition[];
}

/**
 * Brings a site's tasks into line with what its situation asks for: new ones are made, open ones are brought up to date
 * in place, those that nobody needs any more are cancelled with the cause, and what was done in vain is opened again.
 * Never makes a second open task of one kind at one pot. Doing it again changes nothing.
 */
export function reconcileTasks(situation: SiteSituation): TaskChanges {
  const book = new TaskBook(situation);
  const wanted = wantedTasks(situation);
  for (const task of book.settled()) book.judgeDone(task);
  for (const want of wanted) book.want(want);
  book.cancelUnwanted(wanted);
  book.followPlan(plannedStop(situation.stops, situation.days.dayOf(situation.nowMs)));
  return book.result();
}

class TaskBook {
  readonly #situation: SiteSituation;
  readonly #nowMs: EpochMs;
  readonly #tasks: Map<string, Task>;
  readonly #changed = new Set<string>();
  readonly #transitions: TaskTransition[] = [];

  constructor(situation: SiteSituation) {
    this.#situation = situation;
    this.#nowMs = situation.nowMs;
    this.#tasks = new Map(situation.tasks.map((task) => [task.id, task]));
  }

  result(): TaskChanges {
    const all = [...this.#tasks.values()];
    return {
      all,
      changed: all.filter((task) => this.#changed.has(task.id)),
      transitions: this.#transitions,
    };
  }

  settled(): readonly Task[] {
    return [...this.#tasks.values()].filter((task) => task.state === 'done');
  }

  /** A task done about a finding is verified when the finding goes, and opened again when it stays. */
  judgeDone(task: Task): void {
    if (task.findingId === null) return;
    const pot = this.#situation.pots.find(({ container }) => container.id === task.containerId);
    const still = pot?.findings.some((finding) => FINDING_ANSWERS[finding.kind]?.task === task.kind) ?? false;
    if (!still) {
      const message: Message = { code: 'task.verified.finding_closed', params: {} };
      this.#step(task, { kind: 'verify', message }, message);
    } else if (this.#nowMs - task.changedMs > SHOWS_WITHIN_MS && this.#openOf(task.containerId, task.kind) === null) {
      const message: Message = { code: 'task.reopened.finding_open', params: { doneMs: task.changedMs } };
      this.#step(task, { kind: 'reopen', message }, message);
    }
  }

  want(want: WantedTask): void {
    const open = this.#openOf(want.containerId, want.kind);
    if (open !== null) {
      this.#update(open, want);
      return;
    }
    if (this.#isNotToBeMade(want)) return;
    this.#create(want);
  }

  cancelUnwanted(wanted: readonly WantedTask[]): void {
    const keys = new Set(wanted.map((want) => `${want.containerId}|${want.kind}`));
    for (const task of this.#tasks.values()) {
      if (!isOpen(task) || keys.has(`${task.containerId}|${task.kind}`)) continue;
      const gone = !this.#situation.pots.some(({ container }) => container.id === task.containerId);
      if (!gone && this.#onlyAPersonSettles(task)) continue;
      this.#step(task, { kind: 'cancel' }, mootBecause(this.#situation, task));
    }
  }

  followPlan(stop: RoundStop | null): void {
    for (const task of this.#tasks.values()) {
      if (!isOpen(task)) continue;
      if (stop === null) {
        if (task.state === 'planned' || task.state === 'on_the_way') {
          this.#step(task, { kind: 'unplan' }, { code: 'task.unplanned', params: {} });
        }
        continue;
      }
      const planned = this.#step(task, { kind: 'plan' }, { code: 'task.planned', params: { day: stop.day } });
      if (stop.state === 'on_the_way') {
        this.#step(planned, { kind: 'set_out' }, { code: 'task.on_the_way', params: {} });
      }
    }
  }

  #openOf(containerId: string, kind: TaskKind): Task | null {
    for (const task of this.#tasks.values()) {
      if (task.containerId === containerId && task.kind === kind && isOpen(task)) return task;
    }
    return null;
  }

  /** It was done, and what the sensor says of it is still to come; or a person called it off a short while ago. */
  #isNotToBeMade(want: WantedTask): boolean {
    const proofMs = want.kind === 'refill' ? REFILL_SHOWS_WITHIN_MS : SHOWS_WITHIN_MS;
    return [...this.#tasks.values()].some((task) => {
      if (task.containerId !== want.containerId || task.kind !== want.kind) return false;
      const agoMs = this.#nowMs - task.changedMs;
      if (task.state === 'done') return agoMs <= proofMs;
      return task.state === 'cancelled' && task.verification?.code === 'task.cancelled_by' && agoMs <= CALLED_OFF_MS;
    });
  }

  /** What a person asked for, what a latched alarm stands for, and what the sensor contradicted and has not seen since. */
  #onlyAPersonSettles(task: Task): boolean {
    if (task.origin === 'person' || this.#alarmStillLatched(task)) return true;
    return task.origin === 'verification' && !this.#filledSince(task);
  }

  #filledSince(task: Task): boolean {
    const pot = this.#situation.pots.find(({ container }) => container.id === task.containerId);
    const least = (task.litres ?? 0) / 2;
    return pot?.recentEvents.some((event) => event.startMs > task.changedMs && event.litres >= least) ?? false;
  }

  /** A latched alarm wants a person to look, whether or not the finding goes on. */
  #alarmStillLatched(task: Task): boolean {
    return this.#situation.alarms.some(
      (alarm) =>
        alarm.containerId === task.containerId &&
        alarm.beneath !== 'normal' &&
        CATALOGUE[alarm.kind].task === task.kind &&
        CATALOGUE[alarm.kind].settings.latching,
    );
  }

  #create(want: WantedTask): void {
    const task: Task = {
      id: this.#freeId(want),
      siteId: this.#situation.site.id,
      state: 'proposed',
      createdMs: this.#nowMs,
      changedMs: this.#nowMs,
      verification: null,
      ...want,
    };
    this.#tasks.set(task.id, task);
    this.#changed.add(task.id);
    this.#transitions.push({
      taskId: task.id,
      atMs: this.#nowMs,
      from: null,
      to: 'proposed',
      actor: TASK_RULES,
      reason: want.reason[0] ?? { code: 'task.made', params: {} },
    });
  }

  /** A clock that stands, or jumps back, would give the same id to a task that was called off and asked for again. */
  #freeId({ containerId, kind }: WantedTask): string {
    let number = this.#nowMs;
    while (this.#tasks.has(`${containerId}:${kind}:${number}`)) number += 1;
    return `${containerId}:${kind}:${number}`;
  }

  #update(task: Task, want: WantedTask): void {
    // A person's own words stay first; what the program has found out since is added behind them.
    const byRule = task.origin === 'forecast' || task.origin === 'finding';
    const words = byRule ? [] : task.reason.filter((message) => PERSONS_WORDS.has(message.code));
    const next: Task = {
      ...task,
      reason: [...words, ...want.reason],
      findingId: want.findingId ?? task.findingId,
      litres: want.litres ?? task.litres,
      minutes: want.minutes,
      dueFromMs: want.dueFromMs,
      dueByMs: byRule ? want.dueByMs : Math.min(task.dueByMs, want.dueByMs),
      cautions: want.cautions,
    };
    if (!differsForPeople(task, next)) return;
    this.#tasks.set(task.id, { ...next, changedMs: this.#nowMs });
    this.#changed.add(task.id);
  }

  #step(task: Task, event: Parameters<typeof stepTask>[1], reason: Message): Task {
    const { task: next, transition } = stepTask(task, event, this.#nowMs, TASK_RULES, reason);
    if (transition === null) return task;
    this.#tasks.set(task.id, next);
    this.#changed.add(task.id);
    this.#transitions.push(transition);
    return next;
  }
}

/** Codes of reasons that are not the program's: a person's words, and what the sensor said of work that was reported. */
const PERSONS_WORDS: ReadonlySet<string> = new Set([
  'task.reason.asked',
  'task.reopened.contradicted',
  'verify.overflow_stands',
  'verify.level_stayed',
  'verify.soil_as_before',
  'verify.cell_as_before',
  'verify.still_silent',
]);

const SAME_DUE_MS = 2 * HOUR_MS;
const SAME_LITRES = 0.5;
const SAME_LITRES_SHARE = 0.1;

/** Whether a person would plan or pack differently. Forecasts waver; a task that moved with each reading tells nothing. */
function differsForPeople(before: Task, after: Task): boolean {
  const litresMoved =
    before.litres === null || after.litres === null
      ? before.litres !== after.litres
      : Math.abs(before.litres - after.litres) > Math.max(SAME_LITRES, SAME_LITRES_SHARE * after.litres);
  return (
    litresMoved ||
    before.findingId !== after.findingId ||
    Math.abs(before.dueByMs - after.dueByMs) > SAME_DUE_MS ||
    Math.abs(before.dueFromMs - after.dueFromMs) > 12 * HOUR_MS ||
    before.cautions.join() !== after.cautions.join() ||
    !sayTheSame(before.reason, after.reason)
  );
}

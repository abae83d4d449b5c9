import { type AlarmEvent, step } from '../../alerts/alarm-life.js';
import { CATALOGUE } from '../../alerts/catalogue.js';
import { isOpen, stepTask } from '../../alerts/task-life.js';
import { type Principal, type Scope, WHOLE_FLEET } from '../../domain/access.js';
import type { Alarm } from '../../domain/alarm.js';
import type { Write } from '../../domain/change-set.js';
import { DomainError } from '../../domain/errors.js';
import type { ContainerId, EpochMs, PersonId, SiteId } from '../../domain/ids.js';
import type { Message } from '../../domain/message.js';
import type { Task, TaskKind, Visit, VisitAction, WorkDone } from '../../domain/work.js';
import { type App, allowed } from '../context.js';
import { localDaysOf } from '../fleet-view.js';
import { inTurn } from '../turns.js';
import { settleSite } from './alarm-stage.js';
import { isActive } from './rounds.js';
import { visitFaults } from './visit-faults.js';
import type { VisitView } from './work-views.js';

export interface VisitInput {
  /** Made by the client; sending the same id again changes nothing. */
  readonly id: string;
  readonly siteId: SiteId;
  /** Whose visit it was; a technician records only the own ones. */
  readonly technicianId: PersonId;
  readonly startedMs: EpochMs;
  /** When the work was done, which may be hours before it reaches us. */
  readonly happenedMs: EpochMs;
  readonly actions: readonly VisitAction[];
  readonly note: string | null;
}

export interface VisitReceipt {
  readonly view: VisitView;
  /** False where this id had been recorded before. */
  readonly recorded: boolean;
}

/** The kinds of task that a piece of work serves where the visit does not name the task. */
const SERVES: Readonly<Record<WorkDone, readonly TaskKind[]>> = {
  refill: ['refill'],
  drain: ['drain'],
  wet_from_above: ['rewet_from_above', 'retest_wick'],
  repack_wick: ['repack_wick', 'retest_wick'],
  replant: ['replant'],
  clear_overflow: ['clear_overflow'],
  other: [],
};

/**
 * Records a visit at the time it happened, and closes the tasks that it served.
 * @throws DomainError `conflict` where the id is known with other contents, `invalid_input` with a fault for each field
 */
export async function recordVisit(app: App, who: Principal, input: VisitInput): Promise<VisitReceipt> {
  allowed(who, 'visits.write', { accountId: null, personId: input.technicianId });
  return inTurn(app.store, async () => {
    const before = await app.store.work.visit(input.id);
    if (before !== null) {
      if (!sameVisit(before, input)) {
        throw new DomainError(
          'conflict',
          `Visit ${input.id} is on record with other contents. Send a correction as a visit with an id of its own.`,
        );
      }
      return { view: await viewOf(app, before), recorded: false };
    }
    const faults = await visitFaults(app, input);
    if (faults.length > 0) throw new DomainError('invalid_input', 'The visit cannot be recorded as it is.', { faults });
    const visit: Visit = { ...input, recordedMs: app.clock.nowMs() };
    await app.store.commit({
      atMs: visit.recordedMs,
      actor: { kind: 'person', id: who.personId },
      writes: [
        { kind: 'visit', row: visit },
        ...(await closedTasks(app, who, visit)),
        ...(await seenAlarms(app, who, visit)),
        ...(await doneStops(app, visit)),
      ],
      cursor: null,
    });
    await settleSite(app, visit.siteId);
    return { view: await viewOf(app, visit), recorded: true };
  });
}

/** Visits by the time they happened, newest first. */
export async function visits(
  app: App,
  who: Principal,
  query: {
    readonly containerId: ContainerId | null;
    readonly siteId: SiteId | null;
    readonly fromMs: EpochMs;
    readonly toMs: EpochMs;
  },
): Promise<readonly VisitView[]> {
  const scope = allowed(who, 'visits.read');
  const rows = await app.store.work.visits(scope, query);
  const views: VisitView[] = [];
  for (const row of [...rows].reverse()) views.push(await viewOf(app, row));
  return views;
}

export async function visit(app: App, who: Principal, id: string): Promise<VisitView> {
  const scope = allowed(who, 'visits.read');
  const row = await app.store.work.visit(id);
  if (row === null || !(await inScope(app, scope, row.siteId))) {
    throw new DomainError('not_found', `There is no visit ${id}.`);
  }
  return viewOf(app, row);
}

async function inScope(app: App, scope: Scope, siteId: SiteId): Promise<boolean> {
  return (await app.store.registry.site(scope, siteId)) !== null;
}

async function viewOf(app: App, row: Visit): Promise<VisitView> {
  const [person, site, verifications] = await Promise.all([
    app.store.people.person(row.technicianId),
    app.store.registry.site(WHOLE_FLEET, row.siteId),
    app.store.work.verifications(row.id),
  ]);
  return {
    visit: row,
    technicianName: person?.name ?? row.technicianId,
    siteName: site?.name ?? row.siteId,
    verifications,
  };
}

function sameVisit(before: Visit, input: VisitInput): boolean {
  const plain = (visit: VisitInput): string =>
    JSON.stringify([
      visit.siteId,
      visit.technicianId,
      visit.startedMs,
      visit.happenedMs,
      visit.note,
      visit.actions.map(({ containerId, taskId, work, litres, exception, note }) => [
        containerId,
        taskId,
        work,
        litres,
        exception,
        note,
      ]),
    ]);
  return plain(before) === plain(input);
}

/** Each action closes the task that it names and those of its pot that such work serves. */
async function closedTasks(app: App, who: Principal, visit: Visit): Promise<readonly Write[]> {
  const open = await app.store.work.tasks(WHOLE_FLEET, {
    openOnly: true,
    settledSinceMs: null,
    siteId: visit.siteId,
    containerId: null,
  });
  const person = (await app.store.people.person(visit.technicianId))?.name ?? visit.technicianId;
  const writes: Write[] = [];
  const closed = new Set<string>();
  for (const action of visit.actions) {
    for (const task of open.filter((one) => isOpen(one) && !closed.has(one.id) && serves(action, one))) {
      const step = closing(task, action, visit, who, person);
      if (step === null || step.transition === null) continue;
      closed.add(task.id);
      writes.push({ kind: 'task', row: step.task }, { kind: 'task_transition', row: step.transition });
    }
  }
  return writes;
}

function serves(action: VisitAction, task: Task): boolean {
  if (action.taskId !== null) return task.id === action.taskId;
  return task.containerId === action.containerId && SERVES[action.work].includes(task.kind);
}

function closing(task: Task, action: VisitAction, visit: Visit, who: Principal, person: string) {
  const atMs = visit.recordedMs;
  if (action.exception === null) {
    const reason: Message = { code: 'task.done', params: { person } };
    return stepTask(task, { kind: 'done' }, atMs, who.personId, reason);
  }
  // Who stood before the pot and saw no need has settled the matter; all else leaves it to be done.
  if (action.exception !== 'not_needed') return null;
  const reason: Message = { code: 'task.not_needed', params: { person, note: action.note } };
  const step = stepTask(task, { kind: 'cancel' }, atMs, who.personId, reason);
  return { ...step, task: { ...step.task, verification: { ...reason, code: 'task.cancelled_by' as const } } };
}

/** Somebody has been there and looked: that is what a latched alarm waits for. */
async function seenAlarms(app: App, who: Principal, visit: Visit): Promise<readonly Write[]> {
  const visited = new Set(
    visit.actions.filter((action) => action.exception === null).map((action) => action.containerId),
  );
  const standing = await app.store.work.alarms(WHOLE_FLEET, { includeNormal: false, siteId: visit.siteId });
  return standing
    .filter((alarm) => alarm.containerId !== null && visited.has(alarm.containerId))
    .flatMap((alarm) => seen(alarm, who, visit));
}

function seen(before: Alarm, who: Principal, visit: Visit): readonly Write[] {
  const settings = CATALOGUE[before.kind].settings;
  const events: AlarmEvent[] = [{ kind: 'acknowledge', by: who.personId, note: null }];
  const answered = visit.actions.some(
    (action) => action.containerId === before.containerId && answers(action, CATALOGUE[before.kind].task),
  );
  if (answered) events.push({ kind: 'reset', by: who.personId, note: null });
  let alarm = before;
  const transitions: Write[] = [];
  for (const event of events) {
    const result = step(alarm, event, visit.recordedMs, settings);
    alarm = result.alarm;
    transitions.push(...result.transitions.map((row): Write => ({ kind: 'alarm_transition', row })));
  }
  return alarm === before ? [] : [{ kind: 'alarm', row: alarm }, ...transitions];
}

function answers(action: VisitAction, kind: TaskKind): boolean {
  return SERVES[action.work].includes(kind) || (action.taskId?.split(':')[1] ?? null) === kind;
}

/** The technician's stop at the site on the day of the visit is done. */
async function doneStops(app: App, visit: Visit): Promise<readonly Write[]> {
  const site = await app.store.registry.site(WHOLE_FLEET, visit.siteId);
  if (site === null) return [];
  const day = localDaysOf(site.timeZone).dayOf(visit.happenedMs);
  const stops = await app.store.work.roundStops({ fromDay: day, toDay: day, technicianId: visit.technicianId });
  return stops
    .filter((stop) => stop.siteId === visit.siteId && isActive(stop))
    .map((stop): Write => ({ kind: 'round_stop', row: { ...stop, state: 'done' } }));
}

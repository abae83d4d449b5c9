import type { Watering } from '../../../simulators/crew/site-crew.js';
import { type LiveFleet, missingLitres } from '../../../simulators/live/live-fleet.js';
import { mend, type Repair } from '../../../simulators/live/mend.js';
import { Draw } from '../../../simulators/rng.js';
import {
  endOfWorkMs,
  isWorkingDay,
  nextWorkingDay,
  startOfWorkMs,
  type WorkCalendar,
} from '../../../src/alerts/work-calendar.js';
import type { App } from '../../../src/app/context.js';
import { actOnAlarm } from '../../../src/app/fieldwork/alarms.js';
import { alerts, markAlertRead } from '../../../src/app/fieldwork/alerts.js';
import { planStop } from '../../../src/app/fieldwork/rounds.js';
import { tasks } from '../../../src/app/fieldwork/tasks.js';
import { today } from '../../../src/app/fieldwork/today.js';
import { recordVisit } from '../../../src/app/fieldwork/visits.js';
import type { TaskView } from '../../../src/app/fieldwork/work-views.js';
import { type Principal, WHOLE_FLEET } from '../../../src/domain/access.js';
import { DomainError } from '../../../src/domain/errors.js';
import type { EpochMs, LocalDay, PersonId, SiteId } from '../../../src/domain/ids.js';
import { addDays, HOUR_MS, type LocalDays } from '../../../src/domain/local-day.js';
import type { Alert, TaskKind, VisitAction, WorkDone } from '../../../src/domain/work.js';

const MINUTE_MS = 60_000;
const DISPATCHER: Principal = { personId: 'dispatcher', role: 'dispatcher', accountId: null };
/** From one site to the next, with parking; a guess, no source. */
const WAY_MINUTES = 20;
/** Working minutes of a round that the dispatcher fills. */
const ROUND_MINUTES = 8 * 60;
/** A round with less is filled up with what falls due soon. */
const FILLED_UP_MINUTES = 4 * 60;
/** Whoever is sent later than this cannot come today any more. */
const LAST_SENDING_HOUR = 14;
const NO_ACCESS_SHARE = 0.02;
const METER_ERROR = 0.04;

/** How often a repair succeeds at the first attempt; guesses, no source. */
const SUCCESS: Readonly<Partial<Record<TaskKind, number>>> = { find_leak: 0.85, retest_wick: 0.6, check_sensor: 0.9 };

/** What each task does in the world. */
const REPAIRS: Readonly<Record<TaskKind, readonly Repair[]>> = {
  refill: [],
  rewet_from_above: [],
  find_leak: ['leak'],
  clear_overflow: ['port'],
  retest_wick: ['wick'],
  repack_wick: ['wick'],
  drain: [],
  check_sensor: ['sensor', 'node'],
  replace_battery: ['cell'],
  recover_node: ['node'],
  feed: [],
  flush_salts: [],
  replant: ['planting'],
  commission: [],
  inspect: ['planting'],
};

const WORK: Readonly<Partial<Record<TaskKind, WorkDone>>> = {
  refill: 'refill',
  drain: 'drain',
  rewet_from_above: 'wet_from_above',
  retest_wick: 'wet_from_above',
  repack_wick: 'repack_wick',
  replant: 'replant',
  clear_overflow: 'clear_overflow',
};

export interface CrewSetup {
  readonly app: App;
  readonly fleet: LiveFleet;
  readonly technicians: readonly PersonId[];
  /** Whose sites are whose. */
  readonly technicianOf: (siteId: SiteId) => PersonId;
  readonly calendar: WorkCalendar;
  readonly days: LocalDays;
  readonly seed: string;
}

/**
 * A dispatcher who looks at the morning's list and answers alerts within the hour while at work, and technicians who go
 * the rounds that result and do the tasks that they are shown. They know nothing but what the program tells them.
 */
export class Crew {
  visits = 0;
  readonly refused = new Map<string, number>();
  readonly #setup: CrewSetup;
  readonly #draw: Draw;
  #morning: LocalDay = '';
  /** Until when each technician is under way or at work. */
  readonly #busyUntilMs = new Map<PersonId, EpochMs>();
  readonly #minutes = new Map<string, number>();

  constructor(setup: CrewSetup) {
    this.#setup = setup;
    this.#draw = new Draw(setup.seed, 'sent-crew');
  }

  async step(nowMs: EpochMs): Promise<void> {
    const { calendar, days } = this.#setup;
    const day = days.dayOf(nowMs);
    const hour = days.wallHour(nowMs);
    const startMs = startOfWorkMs(calendar, days, day);
    const isOver = nowMs < startMs - HOUR_MS || nowMs > endOfWorkMs(calendar, days, day) + HOUR_MS;
    if (!isWorkingDay(calendar, day) || isOver) return;
    if (this.#morning !== day) {
      this.#morning = day;
      this.#minutes.clear();
      for (const id of this.#setup.technicians) {
        this.#busyUntilMs.set(id, startMs);
      }
      await this.#planMorning(day);
    }
    await this.#answerAlerts(day, hour);
    for (const id of this.#setup.technicians) await this.#workRound(id, day, nowMs);
  }

  /** Puts what cannot wait on today's rounds, what is due first in front. */
  async #planMorning(day: LocalDay): Promise<void> {
    const view = await today(this.#setup.app, DISPATCHER);
    for (const stop of view.stops) {
      if (stop.why.length > 0 && stop.plan?.day !== day) await this.#send(stop.siteId, stop.minutes, day);
    }
    if (!isWorkingDay(this.#setup.calendar, addDays(day, 2))) await this.#fillUp(day);
  }

  /** What falls due soon goes on rounds that have room, so that the days before a weekend are not too full. */
  async #fillUp(day: LocalDay): Promise<void> {
    const open = await tasks(this.#setup.app, DISPATCHER, { openOnly: true, siteId: null, containerId: null });
    const unplanned = open.filter(({ state }) => state === 'proposed' || state === 'reopened');
    const sites = new Map<SiteId, { minutes: number; dueByMs: EpochMs }>();
    for (const { siteId, minutes, dueByMs } of unplanned) {
      const known = sites.get(siteId) ?? { minutes: 10, dueByMs };
      sites.set(siteId, { minutes: known.minutes + minutes, dueByMs: Math.min(known.dueByMs, dueByMs) });
    }
    for (const [siteId, stop] of [...sites].sort((a, b) => a[1].dueByMs - b[1].dueByMs)) {
      const planned = this.#minutes.get(`${this.#setup.technicianOf(siteId)} ${day}`) ?? 0;
      if (planned + stop.minutes + WAY_MINUTES <= FILLED_UP_MINUTES) await this.#send(siteId, stop.minutes, day);
    }
  }

  async #send(siteId: SiteId, minutes: number, day: LocalDay): Promise<void> {
    const technicianId = this.#setup.technicianOf(siteId);
    const key = `${technicianId} ${day}`;
    const planned = this.#minutes.get(key) ?? 0;
    const next = planned + minutes + WAY_MINUTES > ROUND_MINUTES ? nextWorkingDay(this.#setup.calendar, day) : day;
    if (next === day) this.#minutes.set(key, planned + minutes + WAY_MINUTES);
    await this.#try(() =>
      planStop(this.#setup.app, DISPATCHER, { siteId, technicianId, day: next ?? day, position: null }),
    );
  }

  async #answerAlerts(day: LocalDay, hour: number): Promise<void> {
    const { app } = this.#setup;
    const unread = (await alerts(app, DISPATCHER, { includeWithdrawn: false })).filter(({ readMs }) => readMs === null);
    for (const alert of unread) {
      await this.#try(() => markAlertRead(app, DISPATCHER, alert.id));
      for (const siteId of await this.#sitesOf(alert)) await this.#answerSite(siteId, day, hour);
    }
    const standing = await app.store.work.alarms(WHOLE_FLEET, { includeNormal: false, siteId: null });
    for (const { id, state } of standing) {
      if (state === 'unacknowledged' || state === 'latched_unacknowledged' || state === 'returned_unacknowledged') {
        await this.#try(() => actOnAlarm(app, DISPATCHER, id, { kind: 'acknowledge', note: null }));
      } else if (state === 'latched_acknowledged') {
        await this.#try(() => actOnAlarm(app, DISPATCHER, id, { kind: 'reset', note: null }));
      }
    }
  }

  async #sitesOf(alert: Alert): Promise<readonly SiteId[]> {
    if (alert.siteId !== null) return [alert.siteId];
    const containers = await this.#setup.app.store.registry.containers(WHOLE_FLEET);
    const named = containers.filter(({ id }) => alert.containerIds.includes(id)).map(({ siteId }) => siteId);
    return [...new Set(named)].sort();
  }

  async #answerSite(siteId: SiteId, day: LocalDay, hour: number): Promise<void> {
    const { app, calendar } = this.#setup;
    const open = await tasks(app, DISPATCHER, { openOnly: true, siteId, containerId: null });
    const sendDay = hour < LAST_SENDING_HOUR ? day : nextWorkingDay(calendar, day);
    const unplanned = open.filter(({ state }) => state === 'proposed' || state === 'reopened');
    if (unplanned.length === 0 || sendDay === null) return;
    const minutes = unplanned.reduce((sum, task) => sum + task.minutes, 10);
    await this.#send(siteId, minutes, sendDay);
  }

  /** One stop after the other, until now. */
  async #workRound(technicianId: PersonId, day: LocalDay, nowMs: EpochMs): Promise<void> {
    const { app, days, calendar } = this.#setup;
    const endMs = endOfWorkMs(calendar, days, day) + HOUR_MS;
    const planned = (await app.store.work.roundStops({ fromDay: day, toDay: day, technicianId }))
      .filter((stop) => stop.state === 'planned')
      .sort((a, b) => a.position - b.position);
    for (const stop of planned) {
      const beginMs = (this.#busyUntilMs.get(technicianId) ?? 0) + WAY_MINUTES * MINUTE_MS;
      if (beginMs > nowMs || beginMs > endMs) return;
      const minutes = await this.#visit(technicianId, stop.siteId, nowMs);
      this.#busyUntilMs.set(technicianId, beginMs + minutes * MINUTE_MS);
    }
  }

  async #visit(technicianId: PersonId, siteId: SiteId, nowMs: EpochMs): Promise<number> {
    const { app } = this.#setup;
    const who: Principal = { personId: technicianId, role: 'technician', accountId: null };
    const open = await tasks(app, who, { openOnly: true, siteId, containerId: null });
    const shut = this.#draw.chance(NO_ACCESS_SHARE);
    const actions = open.map((task): VisitAction => {
      const done = { containerId: task.containerId, taskId: task.id, work: WORK[task.kind] ?? ('other' as const) };
      if (shut) return { ...done, litres: null, exception: 'no_access', note: 'gate locked' };
      return { ...done, litres: this.#do(task, nowMs), exception: null, note: null };
    });
    const minutes = shut ? 5 : open.reduce((sum, task) => sum + task.minutes, 10);
    await this.#try(async () => {
      const id = `season-${siteId}-${nowMs}`;
      const times = { startedMs: nowMs - 5 * MINUTE_MS, happenedMs: nowMs };
      await recordVisit(app, who, { id, siteId, technicianId, ...times, actions, note: null });
      this.visits += 1;
    });
    return minutes;
  }

  /** Does a task in the world. @returns the litres that the meter showed; null where no water was poured or drained */
  #do(task: TaskView, nowMs: EpochMs): number | null {
    const found = this.#setup.fleet.potOf(task.containerId);
    if (found === null) return null;
    const { site, potIndex } = found;
    if (this.#draw.chance(SUCCESS[task.kind] ?? 1)) {
      for (const repair of REPAIRS[task.kind]) mend(site, potIndex, repair, nowMs);
    }
    const water = this.#water(task, site.simulation.runs[potIndex]!);
    if (water === null) return null;
    const metered = Math.max(0.5, Math.round(water.litres * (1 + this.#draw.normal(0, METER_ERROR)) * 2) / 2);
    this.#setup.fleet.pour(site, { potIndex, atMs: nowMs, by: 'crew', ...water, reportedLitres: metered });
    return metered;
  }

  #water(
    task: TaskView,
    run: LiveFleet['sites'][number]['simulation']['runs'][number],
  ): Pick<Watering, 'work' | 'litres'> | null {
    switch (task.kind) {
      case 'refill': {
        // Most fill until it runs over; some pour what they were told.
        const litres = this.#draw.chance(0.75) ? missingLitres(run) + this.#draw.uniform(0.1, 0.6) : (task.litres ?? 0);
        return litres < 0.3 ? null : { work: 'refill', litres };
      }
      case 'rewet_from_above':
      case 'retest_wick':
        return { work: 'wet_from_above', litres: 4 };
      case 'drain':
        return run.state.litres < 0.5 ? null : { work: 'drain', litres: run.state.litres };
      default:
        return null;
    }
  }

  /** A refusal is counted and lived with, as people do; anything else ends the study. */
  async #try(act: () => Promise<unknown>): Promise<void> {
    try {
      await act();
    } catch (error) {
      if (!(error instanceof DomainError)) throw error;
      const words = `${error.code}: ${error.faults[0]?.detail ?? error.message}`.slice(0, 120);
      this.refused.set(words, (this.refused.get(words) ?? 0) + 1);
    }
  }
}

import type { Alarm, AlarmOverride } from '../domain/alarm.js';
import type { SiteTerms } from '../domain/crew.js';
import type { EpochMs, GatewayId, LocalDay, NodeId, PersonId } from '../domain/ids.js';
import type { LocalDays } from '../domain/local-day.js';
import type { Finding, PotEvent, PotStatus } from '../domain/pot.js';
import type { Container, Site } from '../domain/registry.js';
import type { WeatherDay } from '../domain/weather.js';
import type { Alert, RoundStop, Task } from '../domain/work.js';
import { startOfWorkMs, type WorkCalendar } from './work-calendar.js';

/** One pot as the rules see it now. */
export interface PotSituation {
  readonly container: Container;
  readonly status: PotStatus | null;
  /** Open findings. */
  readonly findings: readonly Finding[];
  readonly nodeId: NodeId | null;
  /** The gateway that speaks for the node. */
  readonly gatewayId: GatewayId | null;
  /** Refills and rain since its open tasks were made: they tell why a task is moot. */
  readonly recentEvents: readonly PotEvent[];
  /** Rain that is likely to reach the pot within days; null: none, or the pot is covered. */
  readonly rainToCome: RainToCome | null;
  /** Null where nothing of it is known. */
  readonly care: CareFacts | null;
  /** When it was replanted last by a task on record; null: never. */
  readonly replantedDay: LocalDay | null;
}

/** What a pot's own record says of its care; the loader works it out. */
export interface CareFacts {
  /** The day from which its fertiliser counts: the last feeding or planting on record, else the begin of the record. */
  readonly fedDay: LocalDay;
  /** Days at 21 °C that would have released as much since then; null where no temperatures are known. */
  readonly releaseDays: number | null;
  /** The day since which salts gather: the last flush on record, else the begin of the record. */
  readonly flushedDay: LocalDay;
  /** Rain that has reached its soil since then; null where it is not known. Zero under cover. */
  readonly rainedLitres: number | null;
  /** It was commissioned on record, or has been there longer than anybody would wait with it. */
  readonly isCommissioned: boolean;
}

export interface RainToCome {
  /** The end of the day for which it is forecast. */
  readonly byMs: EpochMs;
  /** What would reach the soil. */
  readonly litres: number;
}

/** Everything that alarms, tasks and alerts of one site depend on; they are a function of it. */
export interface SiteSituation {
  readonly nowMs: EpochMs;
  readonly site: Site;
  readonly days: LocalDays;
  readonly calendar: WorkCalendar;
  /** What was agreed with the client. */
  readonly terms: SiteTerms;
  /** Pots that stand there now; those taken away are gone. */
  readonly pots: readonly PotSituation[];
  /** The weather to come, as last forecast, from today on; empty where none is known. */
  readonly outlook: readonly WeatherDay[];
  readonly alarms: readonly Alarm[];
  /** What the site and its containers want otherwise than the catalogue, oldest first. */
  readonly overrides: readonly AlarmOverride[];
  /** Open tasks, and those done or verified a short while ago. */
  readonly tasks: readonly Task[];
  /** Stops of the site that are planned or on the way, whatever their day. */
  readonly stops: readonly RoundStop[];
  /** Alerts about the site that were not withdrawn. */
  readonly alerts: readonly Alert[];
  /** More pots of the fleet are undecided than the crew has room for; one alarm says so in place of many. */
  readonly crewIsFull: boolean;
  /** Dispatchers who are not disabled. */
  readonly dispatchers: readonly PersonId[];
}

/** The stop that counts: the earliest that is still to come, today's included; null where none is planned. */
export function plannedStop(stops: readonly RoundStop[], today: LocalDay): RoundStop | null {
  const toCome = stops
    .filter((stop) => (stop.state === 'planned' || stop.state === 'on_the_way') && stop.day >= today)
    .sort((a, b) => (a.day === b.day ? compare(a.id, b.id) : compare(a.day, b.day)));
  return toCome[0] ?? null;
}

export function compare(a: string, b: string): number {
  if (a === b) return 0;
  return a < b ? -1 : 1;
}

/**
 * Whether a stop comes before an instant. The hour of a visit is not known: today's stop counts as in time as long as
 * it is today's, another one where its working day begins before the instant.
 */
export function stopIsInTime(situation: SiteSituation, stop: RoundStop | null, byMs: EpochMs): boolean {
  if (stop === null) return false;
  const today = situation.days.dayOf(situation.nowMs);
  if (stop.day <= today) return true;
  return startOfWorkMs(situation.calendar, situation.days, stop.day) <= byMs;
}

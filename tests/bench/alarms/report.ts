import { type AlarmPerformance, PERFORMANCE_TARGETS } from '../../../src/alerts/alarm-performance.js';
import { endOfWorkMs, isWorkingDay, startOfWorkMs } from '../../../src/alerts/work-calendar.js';
import type { App } from '../../../src/app/context.js';
import { alarmPerformance } from '../../../src/app/fieldwork/alarm-performance.js';
import { WHOLE_FLEET } from '../../../src/domain/access.js';
import type { ContainerId, EpochMs, PersonId, SiteId } from '../../../src/domain/ids.js';
import { addDays, DAY_MS, HOUR_MS, type LocalDays } from '../../../src/domain/local-day.js';
import type { Season, Told } from './season.js';
import type { DryOut } from './world.js';

export interface Spread {
  readonly median: number;
  readonly p99: number;
  readonly worst: number;
}

/** Of all, zeros included; the p99 is the smallest value that 99 % do not exceed. */
export function spreadOf(counts: readonly number[]): Spread {
  const sorted = [...counts].sort((a, b) => a - b);
  const at = (share: number): number => sorted[Math.max(0, Math.ceil(share * sorted.length) - 1)] ?? 0;
  return { median: at(0.5), p99: at(0.99), worst: sorted.at(-1) ?? 0 };
}

/** What became of the dry-outs that happened. */
export interface DryOutsJudged {
  readonly all: number;
  /** Tipped or siphoned so late that nobody could have come. */
  readonly notPreventable: number;
  readonly toldInTime: number;
  readonly late: readonly DryOut[];
}

export interface StudyReport {
  readonly performance: AlarmPerformance;
  readonly alarmsPerDay: Spread;
  readonly alarmsPerHour: Spread;
  readonly alarmsPerTenMinutes: Spread;
  readonly alarmsPerTechnicianDay: Spread;
  /** Alarms by kind, most frequent first. */
  readonly kinds: readonly (readonly [string, number])[];
  /** Called again after they were acknowledged, since nothing came of it. */
  readonly calledAgain: number;
  readonly staleOnWorstDay: number;
  readonly daysWithTooManyStale: number;
  readonly alertsPerTechnicianDay: Spread;
  readonly newAlertsPerTechnicianDay: Spread;
  readonly alertsPerDispatcherDay: Spread;
  readonly dryOuts: DryOutsJudged;
}

export interface StudyFrame {
  readonly app: App;
  readonly season: Season;
  readonly fromMs: EpochMs;
  readonly toMs: EpochMs;
}

/** Somebody who hears of it this long before the crew's hours end can still come within them. */
const TIME_TO_COME_MS = 2 * HOUR_MS;
/** A warning that old was not about this dry-out. */
const WARNED_WITHIN_MS = 21 * DAY_MS;

export async function reportOf(frame: StudyFrame, dryOuts: readonly DryOut[]): Promise<StudyReport> {
  const { app, season, fromMs, toMs } = frame;
  const { days } = season;
  const performance = await alarmPerformance(
    app,
    { personId: 'dispatcher', role: 'dispatcher', accountId: null },
    { fromMs, toMs },
  );
  const transitions = await season.store.work.alarmTransitionsBetween(WHOLE_FLEET, 0, toMs);
  const siteOf = new Map(
    (await season.store.work.alarms(WHOLE_FLEET, { includeNormal: true, siteId: null })).map((a) => [a.id, a]),
  );
  const raised = transitions.filter(
    ({ to, from, atMs }) => to === 'unacknowledged' && from !== 'unacknowledged' && atMs >= fromMs,
  );
  const times = raised.map(({ atMs }) => atMs);
  const kinds = new Map<string, number>();
  for (const { alarmId } of raised) {
    const kind = siteOf.get(alarmId)?.kind ?? '';
    kinds.set(kind, (kinds.get(kind) ?? 0) + 1);
  }
  const ofTechnician = (siteId: SiteId | null | undefined): PersonId | null =>
    siteId == null ? null : season.technicianOf(siteId);
  const perDay = (told: readonly Told[], people: readonly PersonId[]): Spread =>
    spreadOf(
      people.flatMap((id) => {
        const own = told.filter(({ personId }) => personId === id).map(({ atMs }) => atMs);
        return countsByDay(own, days, fromMs, toMs);
      }),
    );
  const stale = staleByDay(transitions, fromMs, toMs);
  return {
    performance,
    alarmsPerDay: spreadOf(countsByDay(times, days, fromMs, toMs)),
    alarmsPerHour: spreadOf(countsOf(times, fromMs, toMs, HOUR_MS)),
    alarmsPerTenMinutes: spreadOf(countsOf(times, fromMs, toMs, 600_000)),
    alarmsPerTechnicianDay: spreadOf(
      season.technicians.flatMap((id) => {
        const own = raised.filter(({ alarmId }) => ofTechnician(siteOf.get(alarmId)?.siteId) === id);
        return countsByDay(
          own.map(({ atMs }) => atMs),
          days,
          fromMs,
          toMs,
        );
      }),
    ),
    kinds: [...kinds].sort((a, b) => b[1] - a[1]),
    calledAgain: transitions.filter(({ cause, atMs }) => cause === 'not_dealt_with' && atMs >= fromMs).length,
    staleOnWorstDay: Math.max(0, ...stale),
    daysWithTooManyStale: stale.filter((count) => count >= PERFORMANCE_TARGETS.staleOnAnyDay).length,
    alertsPerTechnicianDay: perDay(season.told, season.technicians),
    newAlertsPerTechnicianDay: perDay(
      season.told.filter(({ isNew }) => isNew),
      season.technicians,
    ),
    alertsPerDispatcherDay: perDay(season.told, ['dispatcher']),
    dryOuts: judgeDryOuts(
      frame,
      dryOuts.filter(({ atMs }) => atMs >= fromMs && atMs < toMs),
    ),
  };
}

function countsOf(times: readonly EpochMs[], fromMs: EpochMs, toMs: EpochMs, periodMs: number): readonly number[] {
  const counts = new Array<number>(Math.ceil((toMs - fromMs) / periodMs)).fill(0);
  for (const atMs of times) {
    const index = Math.floor((atMs - fromMs) / periodMs);
    if (index >= 0 && index < counts.length) counts[index]! += 1;
  }
  return counts;
}

function countsByDay(times: readonly EpochMs[], days: LocalDays, fromMs: EpochMs, toMs: EpochMs): readonly number[] {
  const counts = new Map<string, number>();
  for (let day = days.dayOf(fromMs); days.startMs(day) < toMs; day = addDays(day, 1)) counts.set(day, 0);
  for (const atMs of times) {
    const day = days.dayOf(atMs);
    const count = counts.get(day);
    if (count !== undefined) counts.set(day, count + 1);
  }
  return [...counts.values()];
}

/** Alarms that stood, seen or not, for more than a day, counted at the end of each day. */
function staleByDay(
  transitions: readonly { readonly alarmId: string; readonly atMs: EpochMs; readonly to: string }[],
  fromMs: EpochMs,
  toMs: EpochMs,
): readonly number[] {
  const spans: { fromMs: EpochMs; toMs: EpochMs }[] = [];
  const standing = new Map<string, EpochMs>();
  for (const { alarmId, atMs, to } of transitions) {
    const stands = to === 'unacknowledged' || to === 'acknowledged';
    const sinceMs = standing.get(alarmId);
    if (stands && sinceMs === undefined) standing.set(alarmId, atMs);
    else if (!stands && sinceMs !== undefined) {
      spans.push({ fromMs: sinceMs, toMs: atMs });
      standing.delete(alarmId);
    }
  }
  for (const sinceMs of standing.values()) spans.push({ fromMs: sinceMs, toMs: Number.POSITIVE_INFINITY });
  const counts: number[] = [];
  for (let atMs = fromMs + DAY_MS; atMs <= toMs; atMs += DAY_MS) {
    counts.push(spans.filter((span) => span.fromMs < atMs - DAY_MS && span.toMs > atMs).length);
  }
  return counts;
}

/**
 * Whether somebody had been told of the pot while a visit within working hours could still have come. What was tipped or
 * siphoned after the last such hour, no visit could have prevented.
 */
function judgeDryOuts(frame: StudyFrame, dryOuts: readonly DryOut[]): DryOutsJudged {
  const byPot = new Map<ContainerId, EpochMs[]>();
  for (const { containerIds, atMs } of frame.season.told) {
    for (const id of containerIds) byPot.set(id, [...(byPot.get(id) ?? []), atMs]);
  }
  const late: DryOut[] = [];
  let notPreventable = 0;
  for (const dryOut of dryOuts) {
    const byMs = lastWorkMs(frame, dryOut.atMs) - TIME_TO_COME_MS;
    if (dryOut.emptiedMs !== null && dryOut.emptiedMs > byMs) {
      notPreventable += 1;
      continue;
    }
    const warnings = byPot.get(dryOut.containerId) ?? [];
    if (!warnings.some((atMs) => atMs <= byMs && atMs > dryOut.atMs - WARNED_WITHIN_MS)) late.push(dryOut);
  }
  return { all: dryOuts.length, notPreventable, toldInTime: dryOuts.length - notPreventable - late.length, late };
}

/** The last instant of working time at or before another. */
function lastWorkMs({ season }: StudyFrame, atMs: EpochMs): EpochMs {
  const { days, calendar } = season;
  for (let day = days.dayOf(atMs); ; day = addDays(day, -1)) {
    if (!isWorkingDay(calendar, day)) continue;
    const fromMs = startOfWorkMs(calendar, days, day);
    const toMs = endOfWorkMs(calendar, days, day);
    if (fromMs <= atMs) return Math.min(atMs, toMs);
  }
}

const percent = (fraction: number): string => `${(fraction * 100).toFixed(2)} %`;
const spread = ({ median, p99, worst }: Spread): string => `${median} / ${p99} / ${worst}`;

/** The table, in Markdown, so that it can be read as it is and be put into a document. */
export function printReport(report: StudyReport, season: Season, pots: number, days: number): void {
  const { performance: p, dryOuts } = report;
  const t = PERFORMANCE_TARGETS;
  const { low, medium, high } = p.priorityFractions;
  const preventable = dryOuts.all - dryOuts.notPreventable;
  const rows: readonly (readonly [string, string, string])[] = [
    ['alarms per dispatcher and day', spread(report.alarmsPerDay), `at most ${t.alarmsPerDay.acceptable}`],
    ['alarms per technician and day', spread(report.alarmsPerTechnicianDay), ''],
    ['alarms per dispatcher and hour', spread(report.alarmsPerHour), `about ${t.alarmsPerHour.acceptable}`],
    [
      'alarms per dispatcher in 10 minutes',
      spread(report.alarmsPerTenMinutes),
      `about ${t.alarmsPerTenMinutes.acceptable}, worst at most ${t.mostInTenMinutes}`,
    ],
    [
      '10-minute periods above 10 alarms',
      percent(p.tenMinutesAboveTenFraction),
      `below ${percent(t.tenMinutesAboveTenFraction)}`,
    ],
    ['time in flood', percent(p.floodTimeFraction), `below ${percent(t.floodTimeFraction)}`],
    ['chattering / fleeting alarms', `${p.chattering.length} / ${p.fleeting.length}`, '0 / 0'],
    ['stale alarms on the worst day', String(report.staleOnWorstDay), `fewer than ${t.staleOnAnyDay}`],
    ['days with so many stale alarms or more', `${report.daysWithTooManyStale} of ${days}`, '0'],
    ['priority low / medium / high', `${percent(low)} / ${percent(medium)} / ${percent(high)}`, '80 / 15 / 5 %'],
    [
      'share of the ten most frequent alarms',
      percent(p.topTenShareFraction),
      `at most ${percent(t.topTenShareFraction)}`,
    ],
    [
      `alerts per technician and day, ${Math.round(pots / season.technicians.length)} pots each`,
      spread(report.alertsPerTechnicianDay),
      'median at most 6',
    ],
    ['… of these new, not updates in place', spread(report.newAlertsPerTechnicianDay), ''],
    ['alerts per dispatcher and day', spread(report.alertsPerDispatcherDay), ''],
    ['dry-outs that a visit could have prevented, alerted in time', `${dryOuts.toldInTime} of ${preventable}`, 'all'],
    ['dry-outs that none could (tipped or siphoned)', String(dryOuts.notPreventable), ''],
  ];
  console.log(
    `\n${pots} containers, ${days} days, ${season.visits} visits, ${p.alarms} alarms, ${season.told.length} messages\n`,
  );
  console.log('| figure (three: median / p99 / worst) | measured | target |\n| --- | --- | --- |');
  for (const row of rows) console.log(`| ${row.join(' | ')} |`);
  console.log(`\nBy kind: ${report.kinds.map(([kind, count]) => `${kind} ${count}`).join(', ')}`);
  console.log(`Called again since nothing came of them: ${report.calledAgain}`);
  console.log(`The ten most frequent: ${p.topTen.map(({ alarmId, count }) => `${alarmId} ${count}`).join(', ')}`);
  for (const { containerId, atMs } of dryOuts.late.slice(0, 20)) {
    console.log(`Not told in time: ${containerId}, dry at ${new Date(atMs).toISOString()}`);
  }
  for (const [words, count] of season.refused) console.log(`Refused ${count} times: ${words}`);
}

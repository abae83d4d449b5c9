import { type AlarmPerformance, PERFORMANCE_TARGETS } from '../../../src/alerts/alarm-performance.js';
import { alarmPerformance } from '../../../src/app/alarm-performance.js';
import type { App } from '../../../src/app/context.js';
import { WHOLE_FLEET } from '../../../src/domain/access.js';
import type { EpochMs } from '../../../src/domain/ids.js';
import { addDays, DAY_MS, HOUR_MS, LocalDays } from '../../../src/domain/local-day.js';
import type { DryOut } from './feed.js';
import type { Season, Told } from './season.js';

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

export interface StudyReport {
  readonly performance: AlarmPerformance;
  readonly alarmsPerDay: Spread;
  readonly alarmsPerHour: Spread;
  readonly alarmsPerTenMinutes: Spread;
  /** Called again after they were acknowledged, since nothing came of it. */
  readonly calledAgain: number;
  readonly staleOnWorstDay: number;
  readonly alertsPerTechnicianDay: Spread;
  readonly newAlertsPerTechnicianDay: Spread;
  readonly alertsPerDispatcherDay: Spread;
  readonly newAlertsPerDispatcherDay: Spread;
  readonly dryOuts: { readonly all: number; readonly alerted: number; readonly late: readonly DryOut[] };
}

/** A visit is possible where there was so much time between the alert and the dry-out. */
const TIME_TO_VISIT_MS = 8 * HOUR_MS;
/** A warning that old was not about this dry-out. */
const WARNED_WITHIN_MS = 21 * DAY_MS;

export async function reportOf(
  app: App,
  season: Season,
  fromMs: EpochMs,
  toMs: EpochMs,
  dryOuts: readonly DryOut[],
): Promise<StudyReport> {
  const performance = await alarmPerformance(
    app,
    { personId: 'dispatcher', role: 'dispatcher', accountId: null },
    { fromMs, toMs },
  );
  const transitions = await season.store.work.alarmTransitionsBetween(WHOLE_FLEET, 0, toMs);
  const raised = transitions
    .filter(({ to, from, atMs }) => to === 'unacknowledged' && from !== 'unacknowledged' && atMs >= fromMs)
    .map(({ atMs }) => atMs);
  const perDay = (told: readonly Told[], people: readonly string[]): Spread =>
    spreadOf(
      people.flatMap((id) =>
        countsByDay(
          told.filter(({ personId }) => personId === id),
          season.zone,
          fromMs,
          toMs,
        ),
      ),
    );
  const fresh = season.told.filter(({ isNew }) => isNew);
  return {
    performance,
    alarmsPerDay: spreadOf(countsOf(raised, fromMs, toMs, DAY_MS)),
    alarmsPerHour: spreadOf(countsOf(raised, fromMs, toMs, HOUR_MS)),
    alarmsPerTenMinutes: spreadOf(countsOf(raised, fromMs, toMs, 600_000)),
    calledAgain: transitions.filter(({ cause, atMs }) => cause === 'not_dealt_with' && atMs >= fromMs).length,
    staleOnWorstDay: staleOnWorstDay(transitions, fromMs, toMs),
    alertsPerTechnicianDay: perDay(season.told, season.technicians),
    newAlertsPerTechnicianDay: perDay(fresh, season.technicians),
    alertsPerDispatcherDay: perDay(season.told, ['dispatcher']),
    newAlertsPerDispatcherDay: perDay(fresh, ['dispatcher']),
    dryOuts: await judgeDryOuts(
      season,
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

function countsByDay(told: readonly Told[], zone: string, fromMs: EpochMs, toMs: EpochMs): readonly number[] {
  const days = new LocalDays(zone);
  const counts = new Map<string, number>();
  for (let day = days.dayOf(fromMs); days.startMs(day) < toMs; day = addDays(day, 1)) counts.set(day, 0);
  for (const { atMs } of told) {
    const day = days.dayOf(atMs);
    const count = counts.get(day);
    if (count !== undefined) counts.set(day, count + 1);
  }
  return [...counts.values()];
}

/** Alarms that stood, seen or not, for more than a day, counted at the end of each day. */
function staleOnWorstDay(
  transitions: readonly { readonly alarmId: string; readonly atMs: EpochMs; readonly to: string }[],
  fromMs: EpochMs,
  toMs: EpochMs,
): number {
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
  let worst = 0;
  for (let atMs = fromMs + DAY_MS; atMs <= toMs; atMs += DAY_MS) {
    const count = spans.filter((span) => span.fromMs < atMs - DAY_MS && span.toMs > atMs).length;
    worst = Math.max(worst, count);
  }
  return worst;
}

/** Whether somebody had been told, by an alarm or by a task with its stop, while a visit could still have come. */
async function judgeDryOuts(season: Season, dryOuts: readonly DryOut[]): Promise<StudyReport['dryOuts']> {
  const late: DryOut[] = [];
  for (const dryOut of dryOuts) {
    const { containerId, atMs } = dryOut;
    const byMs = atMs - TIME_TO_VISIT_MS;
    const history = await season.store.work.alarmTransitions(WHOLE_FLEET, `dry:${containerId}`);
    const alarmed = history.some(
      ({ to, atMs: raisedMs }) => to === 'unacknowledged' && raisedMs <= byMs && raisedMs > atMs - WARNED_WITHIN_MS,
    );
    const filter = { openOnly: false, settledSinceMs: null, siteId: null, containerId };
    const tasks = (await season.store.work.tasks(WHOLE_FLEET, filter)).filter(({ kind }) => kind === 'refill');
    const asked = tasks.some(
      ({ createdMs, changedMs, state }) =>
        createdMs <= byMs &&
        createdMs > atMs - WARNED_WITHIN_MS &&
        (changedMs >= byMs || state === 'proposed' || state === 'planned' || state === 'reopened'),
    );
    if (!alarmed && !asked) late.push(dryOut);
  }
  return { all: dryOuts.length, alerted: dryOuts.length - late.length, late };
}

const percent = (fraction: number): string => `${(fraction * 100).toFixed(2)} %`;
const spread = ({ median, p99, worst }: Spread): string => `${median} / ${p99} / ${worst}`;

/** The table, in Markdown, so that it can be read as it is and be put into a document. */
export function printReport(report: StudyReport, season: Season, pots: number, days: number): void {
  const { performance: p } = report;
  const t = PERFORMANCE_TARGETS;
  const { low, medium, high } = p.priorityFractions;
  const rows: readonly (readonly [string, string, string])[] = [
    [
      'alarms per dispatcher and day (median / p99 / worst)',
      spread(report.alarmsPerDay),
      `at most ${t.alarmsPerDay.acceptable}`,
    ],
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
    ['of the alarms, called again since nothing came of them', `${report.calledAgain} of ${p.alarms}`, ''],
    ['chattering alarms', String(p.chattering.length), '0'],
    ['fleeting alarms', String(p.fleeting.length), '0'],
    ['stale alarms on the worst day', String(report.staleOnWorstDay), `fewer than ${t.staleOnAnyDay}`],
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
    ['… of these new, not updates in place', spread(report.newAlertsPerDispatcherDay), ''],
    [
      'dry-outs told at least 8 h before',
      `${report.dryOuts.alerted} of ${report.dryOuts.all}`,
      'all that a visit could have prevented',
    ],
  ];
  console.log(
    `\n${pots} containers, ${days} days, ${season.visits} visits, ${p.alarms} alarms, ${season.told.length} messages\n`,
  );
  console.log('| figure | measured | target |\n| --- | --- | --- |');
  for (const row of rows) console.log(`| ${row.join(' | ')} |`);
  const kinds = new Map<string, number>();
  for (const { kind, count } of p.topTen) kinds.set(kind, (kinds.get(kind) ?? 0) + count);
  console.log(`\nThe ten most frequent: ${p.topTen.map(({ alarmId, count }) => `${alarmId} ${count}`).join(', ')}`);
  for (const { containerId, atMs } of report.dryOuts.late.slice(0, 20)) {
    console.log(`Not told in time: ${containerId}, dry at ${new Date(atMs).toISOString()}`);
  }
  for (const [words, count] of season.refused) console.log(`Refused ${count} times: ${words}`);
}

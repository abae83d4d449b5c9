import { ALARM_OF_FINDING } from '../../alerts/catalogue.js';
import type { Scope } from '../../domain/access.js';
import type { EpochMs } from '../../domain/ids.js';
import type { Message } from '../../domain/message.js';
import type { Store } from '../../domain/ports/store.js';
import type { Finding, PotEvent } from '../../domain/pot.js';
import type { Container } from '../../domain/registry.js';
import type { Task, Visit } from '../../domain/work.js';
import type { OvernightChange } from './today.js';
import type { ViewBuilder } from './view-builder.js';

const HOUR_MS = 3_600_000;

/**
 * What happened in [sinceMs, nowMs]: alarms raised, other findings, water that came or went without a crew, and tasks
 * that the sensor opened again. Newest first. What somebody reported is no news.
 */
export async function overnightChanges(
  store: Store,
  scope: Scope,
  views: ViewBuilder,
  tasks: readonly Task[],
  sinceMs: EpochMs,
  nowMs: EpochMs,
): Promise<readonly OvernightChange[]> {
  const findings = await store.pots.findings(scope, { containerId: null, openOnly: true, fromMs: null });
  const visits = await store.work.visits(scope, {
    containerId: null,
    siteId: null,
    fromMs: sinceMs - 6 * HOUR_MS,
    toMs: nowMs + HOUR_MS,
  });
  const changes = [
    ...alarmsRaised(views, sinceMs),
    ...findingsOpened(views, findings, sinceMs),
    ...tasksReopened(views, tasks, sinceMs),
    ...(await waterMoved(store, scope, views, visits, sinceMs, nowMs)),
  ];
  return changes.sort((a, b) => b.atMs - a.atMs || (a.siteId < b.siteId ? -1 : 1));
}

function alarmsRaised(views: ViewBuilder, sinceMs: EpochMs): readonly OvernightChange[] {
  return views.standingAlarms
    .filter((alarm) => alarm.raisedMs !== null && alarm.raisedMs >= sinceMs && alarm.state !== 'suppressed_by_design')
    .flatMap(({ raisedMs, siteId, containerId, message }): OvernightChange[] =>
      siteId === null ? [] : [{ atMs: raisedMs ?? sinceMs, tone: 'bad', siteId, containerId, message }],
    );
}

/** Findings that are no alarms; those that are have been told as such. */
function findingsOpened(
  views: ViewBuilder,
  findings: readonly Finding[],
  sinceMs: EpochMs,
): readonly OvernightChange[] {
  return findings.flatMap((finding): OvernightChange[] => {
    const container = views.fleet.containers.get(finding.containerId);
    if (container === undefined || finding.openedMs < sinceMs || ALARM_OF_FINDING.has(finding.kind)) return [];
    return [
      {
        atMs: finding.openedMs,
        tone: 'bad',
        siteId: container.siteId,
        containerId: container.id,
        message: { code: `overnight.found.${finding.kind}`, params: { pot: container.name } },
      },
    ];
  });
}

function tasksReopened(views: ViewBuilder, tasks: readonly Task[], sinceMs: EpochMs): readonly OvernightChange[] {
  return tasks
    .filter((task) => task.origin === 'verification' && task.state === 'reopened' && task.changedMs >= sinceMs)
    .map((task) => ({
      atMs: task.changedMs,
      tone: 'bad',
      siteId: task.siteId,
      containerId: task.containerId,
      message: {
        code: 'overnight.reopened',
        params: { pot: views.fleet.containers.get(task.containerId)?.name ?? task.containerId },
      },
    }));
}

async function waterMoved(
  store: Store,
  scope: Scope,
  views: ViewBuilder,
  visits: readonly Visit[],
  sinceMs: EpochMs,
  nowMs: EpochMs,
): Promise<readonly OvernightChange[]> {
  const changes: OvernightChange[] = [];
  for (const [siteId, containers] of views.fleet.containersOfSite) {
    const rained: PotEvent[] = [];
    for (const container of containers) {
      const events = await store.pots.events(scope, container.id, sinceMs, nowMs);
      rained.push(...events.filter((event) => event.kind === 'rain'));
      changes.push(...events.flatMap((event) => eventChange(container, event, visits)));
    }
    if (rained.length > 0) changes.push(rainChange(views, siteId, rained));
  }
  return changes;
}

/** A thunderstorm is one line for a site, and not one for each of its pots. */
function rainChange(views: ViewBuilder, siteId: string, rained: readonly PotEvent[]): OvernightChange {
  const pots = new Set(rained.map((event) => event.containerId)).size;
  const rainLitres = rained.reduce((sum, event) => sum + event.litres, 0);
  return {
    atMs: Math.max(...rained.map((event) => event.startMs)),
    tone: 'good',
    siteId,
    containerId: null,
    message: { code: 'overnight.rain', params: { site: views.site(siteId).name, pots, rainLitres } },
  };
}

function eventChange(container: Container, event: PotEvent, visits: readonly Visit[]): readonly OvernightChange[] {
  const pot = container.name;
  const said = (tone: OvernightChange['tone'], message: Message): OvernightChange[] => [
    { atMs: event.startMs, tone, siteId: container.siteId, containerId: container.id, message },
  ];
  switch (event.kind) {
    case 'rain':
      return [];
    case 'refill':
      if (wasReported(container, event, visits)) return [];
      return said('good', { code: 'overnight.refill', params: { pot, gainedLitres: event.litres } });
    case 'overflow':
      return said('plain', { code: 'overnight.overflow', params: { pot, lostLitres: event.litres } });
    case 'drained':
      return said('plain', { code: 'overnight.drained', params: { pot, lostLitres: event.litres } });
    case 'sudden_loss':
      return said('bad', { code: 'overnight.sudden_loss', params: { pot, lostLitres: event.litres } });
  }
}

function wasReported(container: Container, event: PotEvent, visits: readonly Visit[]): boolean {
  return visits.some(
    (visit) =>
      visit.actions.some((action) => action.containerId === container.id && action.work === 'refill') &&
      event.startMs >= visit.startedMs - HOUR_MS &&
      event.startMs <= visit.happenedMs + 3 * HOUR_MS,
  );
}

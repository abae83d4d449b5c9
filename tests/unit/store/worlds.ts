import type { DerivedRecords } from '../../../src/domain/analysis.js';
import type { Actor, ChangeSet, CursorMove, Write } from '../../../src/domain/change-set.js';
import type { Message } from '../../../src/domain/message.js';
import type { Finding, Forecast, LedgerDay, PotEvent, PotStatus } from '../../../src/domain/pot.js';
import type { Reading } from '../../../src/domain/reading.js';
import type { Container } from '../../../src/domain/registry.js';
import type { Visit } from '../../../src/domain/work.js';

/** 2026-06-10T00:00:00Z, which is 02:00 in Madrid. */
export const T0 = Date.UTC(2026, 5, 10);
export const HOUR = 3_600_000;
export const DAY = 24 * HOUR;

const TEST: Actor = { kind: 'command', id: 'test' };

export function changeSet(
  writes: readonly Write[],
  more: { readonly atMs?: number; readonly actor?: Actor; readonly cursor?: CursorMove } = {},
): ChangeSet {
  return { atMs: more.atMs ?? T0, actor: more.actor ?? TEST, writes, cursor: more.cursor ?? null };
}

export const MESSAGE: Message = { code: 'task.reason.refill_learning', params: { dataDays: 2 } };

export function reading(nodeId: string, timeMs: number, more: Partial<Reading> = {}): Reading {
  return {
    nodeId,
    timeMs,
    receivedMs: timeMs + 1_000,
    levelMm: null,
    moistureFraction: null,
    temperatureC: null,
    batteryV: null,
    batteryFraction: null,
    signalDbm: null,
    ...more,
  };
}

/** The ids that belong to one account; everything in its world bears its letter. */
export function idsOf(letter: string) {
  return {
    account: `${letter}-account`,
    site: `${letter}-site`,
    container: `${letter}-pot`,
    gateway: `${letter}-gateway`,
    node: `${letter}-node`,
    spareNode: `${letter}-spare`,
    assignment: `${letter}-assignment`,
    person: `${letter}-person`,
    alarm: `${letter}-alarm`,
    task: `${letter}-task`,
    visit: `${letter}-visit`,
    finding: `${letter}-finding`,
    event: `${letter}-event`,
  } as const;
}

export function containerOf(letter: string): Container {
  const ids = idsOf(letter);
  return {
    id: ids.container,
    siteId: ids.site,
    name: `${letter}-bowl`,
    place: 'by the door',
    covered: false,
    installedOn: '2026-03-01',
    removedOn: null,
    reservoir: {
      strapping: [
        [0, 0],
        [60, 9.4],
        [120, 20.1],
      ],
      overflowMm: 120,
      wickFootMm: 8,
    },
    soil: { litres: 55, surfaceM2: 0.28 },
    potKg: 31,
    plants: [{ name: 'olive', demandClass: 'moderate', plantedOn: null }],
  };
}

/** One account with a site, a pot and what the pot hangs on. */
export function registryOf(letter: string): readonly Write[] {
  const ids = idsOf(letter);
  return [
    { kind: 'account', row: { id: ids.account, name: `${letter}-client`, dryRisk: 0.05 } },
    {
      kind: 'site',
      row: {
        id: ids.site,
        accountId: ids.account,
        name: `${letter}-terrace`,
        latitude: 41.2,
        longitude: 2.1,
        elevationM: 5,
        timeZone: 'Europe/Madrid',
        tap: true,
      },
    },
    { kind: 'container', row: containerOf(letter) },
    { kind: 'gateway', row: { id: ids.gateway, siteId: ids.site, name: `${letter}-roof` } },
    { kind: 'node', row: { id: ids.node, gatewayId: ids.gateway, promisedIntervalS: 900 } },
    { kind: 'node', row: { id: ids.spareNode, gatewayId: ids.gateway, promisedIntervalS: null } },
    {
      kind: 'assignment',
      row: {
        id: ids.assignment,
        nodeId: ids.node,
        containerId: ids.container,
        fromMs: T0 - 30 * DAY,
        toMs: null,
        zeroMm: 5,
      },
    },
    {
      kind: 'person',
      row: {
        id: ids.person,
        name: `${letter}-technician`,
        login: `${letter}-login`,
        role: 'technician',
        accountId: null,
        language: 'en',
        units: { volume: 'L', length: 'mm', temperature: 'Cel' },
        disabledAtMs: null,
      },
    },
  ];
}

export function eventOf(letter: string, more: Partial<PotEvent> = {}): PotEvent {
  const ids = idsOf(letter);
  return {
    id: ids.event,
    containerId: ids.container,
    kind: 'refill',
    startMs: T0 + HOUR,
    endMs: T0 + 2 * HOUR,
    startLevelMm: 20,
    endLevelMm: 110,
    litres: 15,
    atLeast: false,
    confidence: 0.9,
    ...more,
  };
}

/** A day that closes: opening + in = out + closing. */
export function ledgerDayOf(letter: string, day: string, more: Partial<LedgerDay> = {}): LedgerDay {
  return {
    containerId: idsOf(letter).container,
    day,
    openingLitres: 10,
    refillCrewLitres: 5,
    refillOtherLitres: 0,
    rainLitres: 1,
    uptakeLitres: 4,
    leakLitres: 0,
    overflowLitres: 0,
    drainedLitres: 0,
    unexplainedLitres: 0,
    closingLitres: 12,
    sdLitres: 0.3,
    coverage: 1,
    ...more,
  };
}

export const NO_ROLLUP_VALUES = {
  readings: 4,
  // At the foot of the wick.
  levelMinMm: 7,
  levelMeanMm: 8.5,
  levelMaxMm: 40,
  litresMean: 5,
  moistureMean: 0.3,
  temperatureMeanC: 21,
  batteryMinV: 3.1,
} as const;

export function derivedOf(letter: string, more: Partial<DerivedRecords> = {}): DerivedRecords {
  const { container: containerId } = idsOf(letter);
  return {
    fromMs: T0 - 2 * HOUR,
    events: [eventOf(letter)],
    withdrawnEvents: [],
    ledgerDays: [ledgerDayOf(letter, '2026-06-10')],
    hourRollups: [{ containerId, hourMs: T0, ...NO_ROLLUP_VALUES }],
    dayRollups: [{ containerId, day: '2026-06-10', ...NO_ROLLUP_VALUES }],
    ...more,
  };
}

export function forecastOf(letter: string, originMs = T0): Forecast {
  return {
    containerId: idsOf(letter).container,
    originMs,
    knowledge: 'known',
    levelMm: 40,
    litres: 6,
    rateLitresPerDay: 1.5,
    rateSdLitresPerDay: 0.2,
    dry: { p10Ms: originMs + 2 * DAY, p50Ms: originMs + 3 * DAY, p90Ms: null },
    stress: null,
    dataDays: 12,
    basis: [MESSAGE],
  };
}

export function statusOf(letter: string, atMs = T0): PotStatus {
  const ids = idsOf(letter);
  return {
    containerId: ids.container,
    atMs,
    nodeId: ids.node,
    lastReadingMs: atMs - HOUR,
    levelMm: 40,
    litres: 6,
    capacityLitres: 20.1,
    deadLitres: 1.2,
    moistureFraction: 0.3,
    temperatureC: 22,
    batteryV: 3.1,
    forecast: forecastOf(letter, atMs),
  };
}

export function findingOf(letter: string, more: Partial<Finding> = {}): Finding {
  const ids = idsOf(letter);
  return {
    id: ids.finding,
    containerId: ids.container,
    nodeId: ids.node,
    kind: 'leak',
    onsetMs: T0 - DAY,
    size: 1.4,
    unit: 'L/d',
    heightMm: 35,
    confidence: 0.8,
    severity: 'medium',
    evidence: [MESSAGE],
    toConfirm: null,
    openedMs: T0,
    closedMs: null,
    ...more,
  };
}

export function visitOf(letter: string, more: Partial<Visit> = {}): Visit {
  const ids = idsOf(letter);
  return {
    id: ids.visit,
    siteId: ids.site,
    technicianId: ids.person,
    startedMs: T0,
    happenedMs: T0 + HOUR,
    recordedMs: T0 + 2 * HOUR,
    actions: [
      { containerId: ids.container, taskId: ids.task, work: 'refill', litres: 12, exception: null, note: null },
    ],
    note: 'gate was open',
    ...more,
  };
}

/** Something of every kind that belongs to an account, so that every reader has a row to give. */
export function worldOf(letter: string): readonly Write[] {
  const ids = idsOf(letter);
  const { container: containerId, site: siteId } = ids;
  return [
    ...registryOf(letter),
    { kind: 'readings', rows: [reading(ids.node, T0, { levelMm: 40 }), reading(ids.node, T0 + HOUR, { levelMm: 39 })] },
    { kind: 'derived', containerId, derived: derivedOf(letter) },
    {
      kind: 'pour_record',
      row: {
        id: `${letter}-pours`,
        containerId,
        atMs: T0,
        actorId: ids.person,
        pours: [{ litres: 9.4, levelMm: 60 }],
        strapping: [
          [0, 0],
          [120, 20.1],
        ],
        band: [{ levelMm: 120, litres: 20.1, lowLitres: 20, highLitres: 20.2 }],
        overflowMm: null,
      },
    },
    { kind: 'checkpoints', containerId, validUntilMs: T0, rows: [{ atMs: T0 - 2 * HOUR, stateJson: '{"v":1}' }] },
    { kind: 'status', row: statusOf(letter) },
    { kind: 'forecast', row: forecastOf(letter) },
    { kind: 'finding', row: findingOf(letter) },
    {
      kind: 'alarm',
      row: {
        id: ids.alarm,
        kind: 'leak',
        siteId,
        containerId,
        nodeId: null,
        gatewayId: null,
        priority: 'high',
        state: 'unacknowledged',
        beneath: 'unacknowledged',
        conditionActive: true,
        conditionSinceMs: T0,
        raisedMs: T0,
        acknowledgedMs: null,
        acknowledgedBy: null,
        shelvedUntilMs: null,
        heldReason: null,
        heldBy: null,
        message: MESSAGE,
      },
    },
    {
      kind: 'alarm_transition',
      row: {
        alarmId: ids.alarm,
        atMs: T0,
        from: 'normal',
        to: 'unacknowledged',
        cause: 'condition_on',
        actor: 'alarms',
        note: null,
        priority: 'low',
      },
    },
    {
      kind: 'alarm_override',
      row: {
        id: `dry:${ids.container}`,
        kind: 'dry',
        siteId: ids.site,
        containerId: ids.container,
        onDelayMs: HOUR,
        offDelayMs: null,
        reAlarmAfterMs: null,
        deadbandHours: 2.5,
        priority: 'low',
        reason: 'the client waters it',
        changedMs: T0,
        changedBy: ids.person,
      },
    },
    {
      kind: 'task',
      row: {
        id: ids.task,
        kind: 'refill',
        siteId,
        containerId,
        state: 'proposed',
        origin: 'forecast',
        reason: [MESSAGE],
        findingId: null,
        litres: 12,
        minutes: 6,
        dueFromMs: T0,
        dueByMs: T0 + 2 * DAY,
        cautions: ['backflow'],
        createdMs: T0,
        changedMs: T0,
        verification: null,
      },
    },
    {
      kind: 'task_transition',
      row: { taskId: ids.task, atMs: T0, from: null, to: 'proposed', actor: 'alarms', reason: MESSAGE },
    },
    {
      kind: 'round_stop',
      row: { id: `${letter}-stop`, technicianId: ids.person, day: '2026-06-11', siteId, position: 1, state: 'planned' },
    },
    { kind: 'visit', row: visitOf(letter) },
    {
      kind: 'alert',
      row: {
        id: `${letter}-alert`,
        personId: ids.person,
        topic: `${letter}-topic`,
        revision: 1,
        message: [MESSAGE],
        siteId,
        containerIds: [containerId],
        createdMs: T0,
        changedMs: T0,
        readMs: null,
        withdrawnMs: null,
      },
    },
  ];
}

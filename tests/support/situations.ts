import type { PotSituation, SiteSituation } from '../../src/alerts/situation.js';
import { USUAL_CALENDAR } from '../../src/alerts/work-calendar.js';
import { usualSiteTerms } from '../../src/domain/crew.js';
import { LocalDays } from '../../src/domain/local-day.js';
import type { Finding, FindingKind, Forecast, PotEvent, PotStatus, Severity } from '../../src/domain/pot.js';
import type { RoundStop, Task } from '../../src/domain/work.js';
import { DAY, HOUR, MONDAY, testContainer, testSite } from './garden.js';

export { DAY, HOUR, MONDAY };

export const MADRID = new LocalDays('Europe/Madrid');

/** A pot of 30 L, 1.5 L of it dead, that may be dry in `p10Days` days. */
export function potWith(p10Days: number | null, more: Partial<PotSituation> = {}, nowMs = MONDAY): PotSituation {
  const container = more.container ?? testContainer('C1', 'S1');
  return {
    container,
    status: statusWith(container.id, p10Days, {}, nowMs),
    findings: [],
    nodeId: 'N1',
    gatewayId: null,
    recentEvents: [],
    rainToCome: null,
    care: null,
    replantedDay: null,
    ...more,
  };
}

export function statusWith(
  containerId: string,
  p10Days: number | null,
  more: Partial<PotStatus> = {},
  nowMs = MONDAY,
): PotStatus {
  const rate = 2;
  const litres = p10Days === null ? 20 : Math.min(30, Math.max(1.5, 1.5 + rate * p10Days * 1.1));
  return {
    containerId,
    atMs: nowMs,
    nodeId: 'N1',
    lastReadingMs: nowMs - 10 * 60_000,
    levelMm: litres / 0.15,
    litres,
    capacityLitres: 30,
    deadLitres: 1.5,
    moistureFraction: null,
    temperatureC: null,
    batteryV: 3.6,
    forecast: forecastWith(containerId, p10Days, litres, nowMs),
    ...more,
  };
}

export function forecastWith(containerId: string, p10Days: number | null, litres: number, nowMs = MONDAY): Forecast {
  const at = (days: number): number => Math.round(nowMs + days * DAY);
  return {
    containerId,
    originMs: nowMs,
    knowledge: 'known',
    levelMm: litres / 0.15,
    litres,
    rateLitresPerDay: 2,
    rateSdLitresPerDay: 0.2,
    dry:
      p10Days === null ? null : { p10Ms: at(p10Days), p50Ms: at(p10Days * 1.2 + 0.1), p90Ms: at(p10Days * 1.5 + 0.2) },
    stress: null,
    dataDays: 20,
    basis: [],
  };
}

export function findingOf(
  kind: FindingKind,
  more: Partial<Finding> & { readonly containerId?: string; readonly severity?: Severity } = {},
): Finding {
  const containerId = more.containerId ?? 'C1';
  const openedMs = more.openedMs ?? MONDAY - HOUR;
  return {
    id: `${containerId}:${kind}:${openedMs}`,
    containerId,
    nodeId: 'N1',
    kind,
    onsetMs: openedMs - DAY,
    size: null,
    unit: null,
    heightMm: null,
    confidence: 0.9,
    severity: 'medium',
    evidence: [],
    toConfirm: null,
    openedMs,
    closedMs: null,
    ...more,
  };
}

export function gainOf(kind: 'refill' | 'rain', litres: number, startMs: number): PotEvent {
  return {
    id: `C1.gain.${startMs}`,
    containerId: 'C1',
    kind,
    startMs,
    endMs: startMs + HOUR,
    startLevelMm: 20,
    endLevelMm: 20 + litres / 0.15,
    litres,
    atLeast: false,
    confidence: 0.9,
  };
}

export function siteWith(pots: readonly PotSituation[], more: Partial<SiteSituation> = {}): SiteSituation {
  return {
    nowMs: MONDAY,
    site: testSite('S1'),
    days: MADRID,
    calendar: USUAL_CALENDAR,
    terms: usualSiteTerms('S1'),
    outlook: [],
    pots,
    alarms: [],
    overrides: [],
    tasks: [],
    stops: [],
    alerts: [],
    crewIsFull: false,
    dispatchers: ['dora'],
    ...more,
  };
}

export function stopOn(day: string, more: Partial<RoundStop> = {}): RoundStop {
  return { id: `tom:${day}:S1`, technicianId: 'tom', day, siteId: 'S1', position: 0, state: 'planned', ...more };
}

export function taskOf(kind: Task['kind'], more: Partial<Task> = {}): Task {
  const createdMs = more.createdMs ?? MONDAY - 2 * HOUR;
  return {
    id: `C1:${kind}:${createdMs}`,
    kind,
    siteId: 'S1',
    containerId: 'C1',
    state: 'proposed',
    origin: kind === 'refill' ? 'forecast' : 'finding',
    reason: [],
    findingId: null,
    litres: kind === 'refill' ? 20 : null,
    minutes: 10,
    dueFromMs: createdMs,
    dueByMs: MONDAY + 12 * HOUR,
    cautions: [],
    createdMs,
    changedMs: createdMs,
    verification: null,
    ...more,
  };
}

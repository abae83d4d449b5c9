import type { EpochMs, GatewayId } from '../domain/ids.js';
import type { PotSituation, SiteSituation } from './situation.js';

/** Nodes that fell silent together, because of something that they share. */
export interface Outage {
  readonly gatewayId: GatewayId | null;
  readonly pots: readonly PotSituation[];
  /** When the last of them was heard. */
  readonly sinceMs: EpochMs;
}

/** Two dead nodes behind one gateway are more likely a dead gateway than two dead nodes. */
const LEAST_NODES_BEHIND_GATEWAY = 2;
/** Nodes without a gateway share only the place; fewer than three silent together prove nothing. */
const LEAST_NODES_AT_SITE = 3;

export function isSilent(pot: PotSituation): boolean {
  return pot.findings.some((finding) => finding.kind === 'node_silent') || pot.status?.forecast.knowledge === 'silent';
}

/** The outages of a site: gateways of which every node is silent, and sites without gateways of which every node is. */
export function outagesOf(situation: SiteSituation): readonly Outage[] {
  const groups = new Map<GatewayId | null, PotSituation[]>();
  for (const pot of situation.pots) {
    if (pot.nodeId === null) continue;
    const group = groups.get(pot.gatewayId) ?? [];
    group.push(pot);
    groups.set(pot.gatewayId, group);
  }
  const outages: Outage[] = [];
  for (const [gatewayId, pots] of groups) {
    const least = gatewayId === null ? LEAST_NODES_AT_SITE : LEAST_NODES_BEHIND_GATEWAY;
    if (pots.length < least || !pots.every(isSilent)) continue;
    outages.push({ gatewayId, pots, sinceMs: lastHeardMs(pots, situation.nowMs) });
  }
  return outages;
}

/** When a gateway comes back its nodes are heard one after the other; until then none of them is a case of its own. */
const COMES_BACK_WITHIN_MS = 2 * 3_600_000;

/** True while the outage that the pot is part of lasts, and for a while after it. */
export function isPartOfOutage(situation: SiteSituation, outages: readonly Outage[], pot: PotSituation): boolean {
  if (outageOf(outages, pot) !== null) return true;
  const alarmId = outageAlarmId(pot.gatewayId, situation.site.id);
  const alarm = situation.alarms.find((candidate) => candidate.id === alarmId);
  if (alarm === undefined || alarm.raisedMs === null) return false;
  return !alarm.conditionActive && situation.nowMs - alarm.conditionSinceMs < COMES_BACK_WITHIN_MS;
}

export function outageAlarmId(gatewayId: GatewayId | null, siteId: string): string {
  return `outage:${gatewayId ?? siteId}`;
}

export function outageOf(outages: readonly Outage[], pot: PotSituation): Outage | null {
  return outages.find((outage) => outage.pots.some((other) => other.container.id === pot.container.id)) ?? null;
}

function lastHeardMs(pots: readonly PotSituation[], nowMs: EpochMs): EpochMs {
  const heard = pots.flatMap((pot) => (pot.status?.lastReadingMs == null ? [] : [pot.status.lastReadingMs]));
  return heard.length === 0 ? nowMs : Math.max(...heard);
}

import { makeStrapping } from '../../analytics/strapping.js';
import { type Principal, WHOLE_FLEET } from '../../domain/access.js';
import { DomainError } from '../../domain/errors.js';
import type { ContainerId, EpochMs, NodeId } from '../../domain/ids.js';
import { HOUR_MS } from '../../domain/local-day.js';
import type { SensorNode } from '../../domain/registry.js';
import { type App, allowed } from '../context.js';
import { holdsAt } from '../fleet-view.js';
import { containerOf } from './containers.js';
import { USUAL_INTERVAL_S } from './node-settings.js';

/** What the sensor says right now, for somebody who stands at the pot. */
export interface LevelNow {
  readonly containerId: ContainerId;
  /** Null where no node is on the pot. */
  readonly nodeId: NodeId | null;
  /** Of the last hours, oldest first, as the node sent them. */
  readonly readings: readonly { readonly timeMs: EpochMs; readonly levelMm: number; readonly litres: number }[];
  /** Seconds between two readings, as the node promised or as is usual. */
  readonly intervalS: number;
  /** When the next word of the sensor is to be expected; null where it never spoke. */
  readonly nextMs: EpochMs | null;
  /** Until when the node is asked to hurry; null: it is not. */
  readonly fastUntilMs: EpochMs | null;
}

const LOOK_BACK_MS = 2 * HOUR_MS;
/** As many points as say something on a phone. */
const MOST_READINGS = 240;

export async function levelNow(app: App, who: Principal, id: ContainerId): Promise<LevelNow> {
  const scope = allowed(who, 'containers.read');
  const container = await containerOf(app, who, id);
  const nowMs = app.clock.nowMs();
  const node = await nodeOn(app, id, nowMs);
  const strapping = makeStrapping(container.reservoir);
  const rows = await app.store.readings.ofContainer(scope, id, nowMs - LOOK_BACK_MS, nowMs + HOUR_MS);
  const readings = rows
    .flatMap(({ timeMs, levelMm }) =>
      levelMm === null ? [] : [{ timeMs, levelMm, litres: strapping.litresAt(levelMm) }],
    )
    .slice(-MOST_READINGS);
  if (node === null) {
    return { containerId: id, nodeId: null, readings, intervalS: USUAL_INTERVAL_S, nextMs: null, fastUntilMs: null };
  }
  const [latest, fastUntilMs] = await Promise.all([
    app.store.readings.latestOfNode(node.id),
    app.store.commissioning.fastUntilMs(node.id),
  ]);
  const intervalS = node.promisedIntervalS ?? USUAL_INTERVAL_S;
  return {
    containerId: id,
    nodeId: node.id,
    readings,
    intervalS,
    nextMs: latest === null ? null : nextAfter(latest.timeMs, intervalS, nowMs),
    fastUntilMs: fastUntilMs !== null && fastUntilMs > nowMs ? fastUntilMs : null,
  };
}

/** The first turn of the node's beat that has not passed. */
export function nextAfter(lastMs: EpochMs, intervalS: number, nowMs: EpochMs): EpochMs {
  const stepMs = intervalS * 1000;
  const missed = Math.max(0, Math.floor((nowMs - lastMs) / stepMs));
  return lastMs + (missed + 1) * stepMs;
}

/**
 * Asks the pot's node to report as fast as it can for some minutes: somebody fills or calibrates. The node learns of it
 * when it next looks at its settings.
 * @throws DomainError `invalid_input` where no node is on the pot
 */
export async function askFastReport(app: App, who: Principal, id: ContainerId, minutes: number): Promise<EpochMs> {
  allowed(who, 'nodes.hurry');
  await containerOf(app, who, id);
  const nowMs = app.clock.nowMs();
  const node = await nodeOn(app, id, nowMs);
  if (node === null) {
    const detail = 'no node is on this pot; put one on it first';
    throw new DomainError('invalid_input', `${detail}.`, { faults: [{ pointer: '/id', detail }] });
  }
  const untilMs = nowMs + minutes * 60_000;
  await app.store.commit({
    atMs: nowMs,
    actor: { kind: 'person', id: who.personId },
    writes: [{ kind: 'fast_report', row: { nodeId: node.id, untilMs } }],
    cursor: null,
  });
  return untilMs;
}

async function nodeOn(app: App, id: ContainerId, nowMs: EpochMs): Promise<SensorNode | null> {
  const rows = await app.store.registry.assignmentsOfContainer(WHOLE_FLEET, id);
  const standing = rows.find((row) => holdsAt(row, nowMs));
  return standing === undefined ? null : app.store.registry.node(standing.nodeId);
}

import { StormClient } from '../support/storm-client.js';
import { POTS, potNodeId, potReading, STORM_NODES, stormNodeId } from './fleet.js';

/** The nodes without a pot, each with so many messages on the way. */
export function stormNodes(window: number): readonly StormClient[] {
  return Array.from({ length: STORM_NODES }, (_unused, i) => new StormClient(stormNodeId(i), window));
}

/** The nodes in pots. */
export function potNodes(window: number): readonly StormClient[] {
  return Array.from(
    { length: POTS },
    (_unused, i) => new StormClient(potNodeId(i), window, Number.POSITIVE_INFINITY, potReading),
  );
}

export function totalAcknowledged(nodes: readonly StormClient[]): number {
  return nodes.reduce((sum, node) => sum + node.acknowledged.length, 0);
}

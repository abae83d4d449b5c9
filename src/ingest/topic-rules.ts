import type { PrincipalKind } from '../domain/credential.js';
import type { GatewayId, NodeId, SiteId } from '../domain/ids.js';

/** Who is at the other end of a connection. `anyone` exists in open mode only. */
export interface MqttPrincipal {
  readonly id: string;
  readonly kind: PrincipalKind | 'anyone';
  /** The site of a station. */
  readonly siteId: SiteId | null;
  /** What the connection was opened with, to see later whether it still opens one. */
  readonly proof?: string;
}

const NODE_TOPIC = /^nodes\/([A-Za-z0-9._-]{1,64})\/(.+)$/;
const OPEN_TOPIC = /^(?:nodes\/[A-Za-z0-9._-]{1,64}\/(?:readings|state)|sites\/[A-Za-z0-9._-]{1,64}\/weather)$/;

/** The node under whose topic something is published, or null. */
export function nodeOfTopic(topic: string): NodeId | null {
  return NODE_TOPIC.exec(topic)?.[1] ?? null;
}

/**
 * Whether a principal may publish to a topic. A node publishes under `nodes/ID/`, except its settings, which are ours;
 * a gateway readings and state of the nodes that name it; a station its site's weather; nobody anything else.
 * @param gatewayOf the gateway that a node names
 */
export function mayPublish(
  who: MqttPrincipal,
  topic: string,
  gatewayOf: (nodeId: NodeId) => GatewayId | null,
): boolean {
  switch (who.kind) {
    case 'node':
      return nodeOfTopic(topic) === who.id && !/^nodes\/[^/]+\/settings(?:\/|$)/.test(topic);
    case 'gateway': {
      const nodeId = nodeOfTopic(topic);
      const relayed = nodeId !== null && (topic === `nodes/${nodeId}/readings` || topic === `nodes/${nodeId}/state`);
      return relayed && gatewayOf(nodeId) === who.id;
    }
    case 'station':
      return who.siteId !== null && topic === `sites/${who.siteId}/weather`;
    case 'subscriber':
      return false;
    case 'anyone':
      return OPEN_TOPIC.test(topic);
  }
}

/** Whether a principal may subscribe to a filter: a node to its settings, a subscriber to `events/#` or a part of it. */
export function maySubscribe(who: MqttPrincipal, filter: string): boolean {
  switch (who.kind) {
    case 'node':
      return filter === `nodes/${who.id}/settings`;
    case 'subscriber':
      return filter.startsWith('events/');
    case 'gateway':
    case 'station':
      return false;
    case 'anyone':
      return filter.startsWith('events/') || /^nodes\/[A-Za-z0-9._-]{1,64}\/settings$/.test(filter);
  }
}

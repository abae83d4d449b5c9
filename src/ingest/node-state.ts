import type { NodeId } from '../domain/ids.js';
import { nodeOfTopic } from './topic-rules.js';

export type NodeState = 'online' | 'offline';

/** What a message on `nodes/ID/state` says; null for any other message. */
export function nodeStateOf(
  topic: string,
  payload: Buffer,
): { readonly nodeId: NodeId; readonly state: NodeState } | null {
  const nodeId = nodeOfTopic(topic);
  if (nodeId === null || topic !== `nodes/${nodeId}/state` || payload.length > 'offline'.length) return null;
  const text = payload.toString('utf8');
  return text === 'online' || text === 'offline' ? { nodeId, state: text } : null;
}

import type { Message } from '../domain/message.js';
import type { Finding, FindingKind, Severity } from '../domain/pot.js';
import type { TextCode } from '../domain/texts/en/index.js';
import type { TaskKind } from '../domain/work.js';

/** What is done about a finding. */
export interface FindingAnswer {
  readonly task: TaskKind;
  /** A finding less severe than this is shown with the pot, and sends nobody. */
  readonly leastSeverity: Severity;
  readonly reason: TextCode;
}

/** Null: nothing to do about it but to know it. */
export const FINDING_ANSWERS: Readonly<Record<FindingKind, FindingAnswer | null>> = {
  leak: { task: 'find_leak', leastSeverity: 'medium', reason: 'task.reason.leak' },
  overflow_blocked: { task: 'clear_overflow', leastSeverity: 'low', reason: 'task.reason.overflow_blocked' },
  overflow_partly_blocked: {
    task: 'clear_overflow',
    leastSeverity: 'low',
    reason: 'task.reason.overflow_partly_blocked',
  },
  wick_failed: { task: 'retest_wick', leastSeverity: 'medium', reason: 'task.reason.wick_failed' },
  wick_limited: null,
  waterlogged: { task: 'drain', leastSeverity: 'medium', reason: 'task.reason.waterlogged' },
  demand_collapsed: { task: 'inspect', leastSeverity: 'low', reason: 'task.reason.demand_collapsed' },
  sensor_stuck: { task: 'check_sensor', leastSeverity: 'low', reason: 'task.reason.sensor_stuck' },
  sensor_drift: { task: 'check_sensor', leastSeverity: 'medium', reason: 'task.reason.sensor_drift' },
  sensor_unplugged: { task: 'check_sensor', leastSeverity: 'low', reason: 'task.reason.sensor_unplugged' },
  sensor_fouled: { task: 'check_sensor', leastSeverity: 'medium', reason: 'task.reason.sensor_fouled' },
  node_silent: { task: 'recover_node', leastSeverity: 'low', reason: 'task.reason.node_silent' },
  nodes_swapped: { task: 'check_sensor', leastSeverity: 'low', reason: 'task.reason.nodes_swapped' },
  clock_wrong: { task: 'recover_node', leastSeverity: 'medium', reason: 'task.reason.clock_wrong' },
  battery_low: { task: 'replace_battery', leastSeverity: 'low', reason: 'task.reason.battery_low' },
};

const RANK: Readonly<Record<Severity, number>> = { low: 0, medium: 1, high: 2 };

/** The answer that a finding deserves now; null where it sends nobody. */
export function answerTo(finding: Pick<Finding, 'kind' | 'severity'>): FindingAnswer | null {
  const answer = FINDING_ANSWERS[finding.kind];
  return answer !== null && RANK[finding.severity] >= RANK[answer.leastSeverity] ? answer : null;
}

/** Why, first in one line of ours, then the evidence as analytics put it. */
export function findingReasons(finding: Finding, answer: FindingAnswer): readonly Message[] {
  return [
    {
      code: answer.reason,
      params: {
        openedMs: finding.openedMs,
        onsetMs: finding.onsetMs,
        sizeLitresPerDay: finding.unit === 'L/d' ? finding.size : null,
        sizeMm: finding.unit === 'mm' ? finding.size : null,
        heightMm: finding.heightMm,
        nodeId: finding.nodeId,
      },
    },
    ...finding.evidence,
  ];
}

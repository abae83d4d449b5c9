import type { Visit, VisitAction } from '../../domain/work.js';
import { ALARM_COLUMNS, ALERT_COLUMNS, TASK_COLUMNS, VISIT_COLUMNS } from '../columns.js';
import { type Sql, selectList, toSql, upsertText } from '../sql.js';
import { type Applier, siteOfContainer } from './context.js';

const ALARM = upsertText('alarm', ['id'], ALARM_COLUMNS);
const TASK = upsertText('task', ['id'], TASK_COLUMNS);
const ROUND_STOP = upsertText('round_stop', ['id'], ['technician_id', 'day', 'site_id', 'position', 'state']);
const VISIT = upsertText('visit', ['id'], VISIT_COLUMNS);
const VERIFICATION = upsertText(
  'visit_verification',
  ['visit_id', 'container_id'],
  ['outcome', 'measured_litres', 'at_ms', 'message_json'],
);
const ALERT = upsertText('alert', ['id'], ALERT_COLUMNS);

export const ACTION_COLUMNS = ['container_id', 'task_id', 'work', 'litres', 'exception', 'note'] as const;

export const alarm: Applier<'alarm'> = ({ sql, lines }, { kind, row }) => {
  const changed = sql.run(
    ALARM,
    row.id,
    row.kind,
    row.siteId,
    row.containerId,
    row.nodeId,
    row.gatewayId,
    row.priority,
    row.state,
    row.beneath,
    toSql(row.conditionActive),
    row.conditionSinceMs,
    row.raisedMs,
    row.acknowledgedMs,
    row.acknowledgedBy,
    row.shelvedUntilMs,
    row.heldReason,
    row.heldBy,
    JSON.stringify(row.message),
  );
  if (changed > 0) lines.add(kind, row.id, { siteId: row.siteId, containerId: row.containerId });
};

export const alarmTransition: Applier<'alarm_transition'> = ({ sql, lines }, { kind, row }) => {
  sql.run(
    `INSERT INTO alarm_transition (alarm_id, at_ms, from_state, to_state, cause, actor, note, priority)
     VALUES (?, ?, ?, ?, ?, ?, ?, ?)`,
    row.alarmId,
    row.atMs,
    row.from,
    row.to,
    row.cause,
    row.actor,
    row.note,
    row.priority,
  );
  lines.add(kind, row.alarmId, placeOf(sql, 'SELECT site_id, container_id FROM alarm WHERE id = ?', row.alarmId));
};

export const OVERRIDE_COLUMNS = [
  'id',
  'kind',
  'site_id',
  'container_id',
  'on_delay_ms',
  'off_delay_ms',
  're_alarm_after_ms',
  'deadband_hours',
  'priority',
  'reason',
  'changed_ms',
  'changed_by',
] as const;

/** Each change is a row of its own, so that it can be asked who made a number what it is. */
export const alarmOverride: Applier<'alarm_override'> = ({ sql, lines }, { kind, row }) => {
  sql.run(
    `INSERT INTO alarm_override (${OVERRIDE_COLUMNS.join(', ')}) VALUES (${OVERRIDE_COLUMNS.map(() => '?').join(', ')})`,
    row.id,
    row.kind,
    row.siteId,
    row.containerId,
    row.onDelayMs,
    row.offDelayMs,
    row.reAlarmAfterMs,
    row.deadbandHours,
    row.priority,
    row.reason,
    row.changedMs,
    row.changedBy,
  );
  lines.add(kind, row.id, { siteId: row.siteId, containerId: row.containerId });
};

export const task: Applier<'task'> = ({ sql, lines }, { kind, row }) => {
  const changed = sql.run(
    TASK,
    row.id,
    row.kind,
    row.siteId,
    row.containerId,
    row.state,
    row.origin,
    JSON.stringify(row.reason),
    row.findingId,
    row.litres,
    row.minutes,
    row.dueFromMs,
    row.dueByMs,
    JSON.stringify(row.cautions),
    row.createdMs,
    row.changedMs,
    row.verification === null ? null : JSON.stringify(row.verification),
  );
  if (changed > 0) lines.add(kind, row.id, { siteId: row.siteId, containerId: row.containerId });
};

export const taskTransition: Applier<'task_transition'> = ({ sql, lines }, { kind, row }) => {
  sql.run(
    'INSERT INTO task_transition (task_id, at_ms, from_state, to_state, actor, reason_json) VALUES (?, ?, ?, ?, ?, ?)',
    row.taskId,
    row.atMs,
    row.from,
    row.to,
    row.actor,
    JSON.stringify(row.reason),
  );
  lines.add(kind, row.taskId, placeOf(sql, 'SELECT site_id, container_id FROM task WHERE id = ?', row.taskId));
};

function placeOf(sql: Sql, text: string, id: string): { siteId: string | null; containerId: string | null } {
  const row = sql.get<{ site_id: string; container_id: string | null }>(text, id);
  return { siteId: row?.site_id ?? null, containerId: row?.container_id ?? null };
}

export const roundStop: Applier<'round_stop'> = ({ sql, lines }, { kind, row }) => {
  const changed = sql.run(ROUND_STOP, row.id, row.technicianId, row.day, row.siteId, row.position, row.state);
  if (changed > 0) lines.add(kind, row.id, { siteId: row.siteId });
};

/** One line for each container that was visited, so that its page follows; one for the site where none was. */
export const visit: Applier<'visit'> = ({ sql, lines }, { kind, row }) => {
  const head = sql.run(
    VISIT,
    row.id,
    row.siteId,
    row.technicianId,
    row.startedMs,
    row.happenedMs,
    row.recordedMs,
    row.note,
  );
  const actions = replaceActions(sql, row);
  if (head + actions === 0) return;
  const about = { siteId: row.siteId, fromMs: row.startedMs, toMs: row.happenedMs };
  for (const containerId of new Set(row.actions.map((action) => action.containerId))) {
    lines.add(kind, row.id, { ...about, containerId });
  }
  if (row.actions.length === 0) lines.add(kind, row.id, about);
};

function replaceActions(sql: Sql, row: Visit): number {
  const stored = sql.all<VisitAction & { happenedMs: number }>(
    `SELECT ${selectList(ACTION_COLUMNS)}, happened_ms AS "happenedMs" FROM visit_action
     WHERE visit_id = ? ORDER BY position`,
    row.id,
  );
  const wanted = row.actions.map(({ containerId, taskId, work, litres, exception, note }) => ({
    containerId,
    taskId,
    work,
    litres,
    exception,
    note,
    happenedMs: row.happenedMs,
  }));
  if (JSON.stringify(stored) === JSON.stringify(wanted)) return 0;
  sql.run('DELETE FROM visit_action WHERE visit_id = ?', row.id);
  wanted.forEach((action, position) => {
    sql.run(
      `INSERT INTO visit_action
         (visit_id, position, happened_ms, container_id, task_id, work, litres, exception, note)
       VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)`,
      row.id,
      position,
      action.happenedMs,
      action.containerId,
      action.taskId,
      action.work,
      action.litres,
      action.exception,
      action.note,
    );
  });
  return 1;
}

export const visitVerification: Applier<'visit_verification'> = ({ sql, lines }, { kind, row }) => {
  const changed = sql.run(
    VERIFICATION,
    row.visitId,
    row.containerId,
    row.outcome,
    row.measuredLitres,
    row.atMs,
    JSON.stringify(row.message),
  );
  if (changed === 0) return;
  lines.add(kind, row.visitId, { siteId: siteOfContainer(sql, row.containerId), containerId: row.containerId });
};

export const alert: Applier<'alert'> = ({ sql, lines }, { kind, row }) => {
  const changed = sql.run(
    ALERT,
    row.id,
    row.personId,
    row.topic,
    row.revision,
    JSON.stringify(row.message),
    row.siteId,
    JSON.stringify(row.containerIds),
    row.createdMs,
    row.changedMs,
    row.readMs,
    row.withdrawnMs,
  );
  if (changed > 0) lines.add(kind, row.id, { siteId: row.siteId });
};

const JOB = upsertText('job', ['job'], ['ran_ms']);

export const jobRan: Applier<'job_ran'> = ({ sql, lines }, { kind, job, atMs }) => {
  if (sql.run(JOB, job, atMs) > 0) lines.add(kind, job);
};

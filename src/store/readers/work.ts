import type { Alarm, AlarmOverride, AlarmTransition } from '../../domain/alarm.js';
import type { WorkReader } from '../../domain/ports/store.js';
import type {
  Alert,
  RoundStop,
  Task,
  TaskKind,
  TaskTransition,
  Visit,
  VisitAction,
  VisitVerification,
} from '../../domain/work.js';
import { ALARM_COLUMNS, ALERT_COLUMNS, TASK_COLUMNS, VISIT_COLUMNS } from '../columns.js';
import { messageJson, messagesJson, parseJson, stringsJson } from '../json.js';
import { type Sql, type SqlValue, selectList } from '../sql.js';
import { ACTION_COLUMNS, OVERRIDE_COLUMNS } from '../writes/work.js';
import { accountOf, IN_SCOPE, type ReadContext } from './context.js';

const ALARM = selectList(['id', ...ALARM_COLUMNS], 'x');
const TASK = selectList(['id', ...TASK_COLUMNS], 'x');
const OVERRIDE = selectList(OVERRIDE_COLUMNS, 'x');
const VISIT = selectList(['id', ...VISIT_COLUMNS], 'x');
const ACTION = selectList(ACTION_COLUMNS, 'y');
const ALERT = selectList(['id', ...ALERT_COLUMNS]);
const OPEN_TASK = "x.state IN ('proposed', 'planned', 'on_the_way', 'reopened')";

type AlarmRow = Omit<Alarm, 'conditionActive' | 'message'> & {
  readonly conditionActive: number;
  readonly messageJson: string;
};
type TaskRow = Omit<Task, 'reason' | 'cautions' | 'verification'> & {
  readonly reasonJson: string;
  readonly cautionsJson: string;
  readonly verificationJson: string | null;
};
type VisitRow = Omit<Visit, 'actions'>;
type AlertRow = Omit<Alert, 'message' | 'containerIds'> & {
  readonly messageJson: string;
  readonly containerIdsJson: string;
};

function toAlarm({ messageJson: text, conditionActive, ...row }: AlarmRow): Alarm {
  const place = { table: 'alarm', column: 'message_json', key: row.id };
  return { ...row, conditionActive: conditionActive === 1, message: parseJson(messageJson, text, place) };
}

function toTask({ reasonJson, cautionsJson, verificationJson, ...row }: TaskRow): Task {
  const place = { table: 'task', key: row.id };
  return {
    ...row,
    reason: parseJson(messagesJson, reasonJson, { ...place, column: 'reason_json' }),
    cautions: parseJson(stringsJson, cautionsJson, { ...place, column: 'cautions_json' }),
    verification:
      verificationJson === null
        ? null
        : parseJson(messageJson, verificationJson, { ...place, column: 'verification_json' }),
  };
}

function toAlert({ messageJson: text, containerIdsJson, ...row }: AlertRow): Alert {
  const place = { table: 'alert', key: row.id };
  return {
    ...row,
    message: parseJson(messagesJson, text, { ...place, column: 'message_json' }),
    containerIds: parseJson(stringsJson, containerIdsJson, { ...place, column: 'container_ids_json' }),
  };
}

function withActions(sql: Sql, row: VisitRow): Visit {
  const actions = sql.all<VisitAction>(
    `SELECT ${ACTION} FROM visit_action y WHERE y.visit_id = ? ORDER BY y.position`,
    row.id,
  );
  return { ...row, actions };
}

export function workReader({ read }: ReadContext): WorkReader {
  return {
    alarms: (scope, { includeNormal, siteId }) =>
      read((sql) =>
        sql
          .all<AlarmRow>(
            `SELECT ${ALARM} FROM alarm x LEFT JOIN site s ON s.id = x.site_id
             WHERE ${IN_SCOPE} AND ${siteId === null ? 'TRUE' : 'x.site_id = @siteId'} ${includeNormal ? '' : "AND x.state <> 'normal'"}
             ORDER BY x.condition_since_ms, x.id`,
            { account: accountOf(scope), siteId },
          )
          .map(toAlarm),
      ),
    alarm: (scope, id) =>
      read((sql) => {
        const row = sql.get<AlarmRow>(
          `SELECT ${ALARM} FROM alarm x LEFT JOIN site s ON s.id = x.site_id WHERE x.id = @id AND ${IN_SCOPE}`,
          { account: accountOf(scope), id },
        );
        return row === undefined ? null : toAlarm(row);
      }),
    alarmTransitions: (scope, alarmId) =>
      read((sql) =>
        sql.all<AlarmTransition>(
          `SELECT y.alarm_id AS "alarmId", y.at_ms AS "atMs", y.from_state AS "from", y.to_state AS "to", y.cause,
             y.actor, y.note, y.priority
           FROM alarm_transition y JOIN alarm x ON x.id = y.alarm_id LEFT JOIN site s ON s.id = x.site_id
           WHERE y.alarm_id = @id AND ${IN_SCOPE} ORDER BY y.seq`,
          { account: accountOf(scope), id: alarmId },
        ),
      ),
    alarmTransitionsBetween: (scope, fromMs, toMs) =>
      read((sql) =>
        sql.all<AlarmTransition>(
          `SELECT y.alarm_id AS "alarmId", y.at_ms AS "atMs", y.from_state AS "from", y.to_state AS "to", y.cause,
             y.actor, y.note, y.priority
           FROM alarm_transition y JOIN alarm x ON x.id = y.alarm_id LEFT JOIN site s ON s.id = x.site_id
           WHERE y.at_ms >= @fromMs AND y.at_ms < @toMs AND ${IN_SCOPE} ORDER BY y.seq`,
          { account: accountOf(scope), fromMs, toMs },
        ),
      ),
    lastDone: (siteId) =>
      read((sql) =>
        sql.all<{ containerId: string; kind: TaskKind; atMs: number }>(
          `SELECT container_id AS "containerId", kind, MAX(changed_ms) AS "atMs" FROM task
           WHERE site_id = ? AND state IN ('done', 'verified') GROUP BY container_id, kind ORDER BY container_id, kind`,
          siteId,
        ),
      ),
    alarmOverrides: (scope, siteId) =>
      read((sql) =>
        sql.all<AlarmOverride>(
          `SELECT ${OVERRIDE} FROM alarm_override x JOIN site s ON s.id = x.site_id
           WHERE ${IN_SCOPE} AND ${siteId === null ? 'TRUE' : 'x.site_id = @siteId'} ORDER BY x.seq`,
          { account: accountOf(scope), siteId },
        ),
      ),
    tasks: (scope, filter) => read((sql) => tasks(sql, accountOf(scope), filter)),
    task: (scope, id) =>
      read((sql) => {
        const row = sql.get<TaskRow>(
          `SELECT ${TASK} FROM task x JOIN site s ON s.id = x.site_id WHERE x.id = @id AND ${IN_SCOPE}`,
          { account: accountOf(scope), id },
        );
        return row === undefined ? null : toTask(row);
      }),
    taskTransitions: (taskId) => read((sql) => taskTransitions(sql, taskId)),
    roundStops: ({ fromDay, toDay, technicianId }) =>
      read((sql) =>
        sql.all<RoundStop>(
          `SELECT id, technician_id AS "technicianId", day, site_id AS "siteId", position, state FROM round_stop
           WHERE day BETWEEN @fromDay AND @toDay AND (@technicianId IS NULL OR technician_id = @technicianId)
           ORDER BY day, technician_id, position, id`,
          { fromDay, toDay, technicianId },
        ),
      ),
    visit: (id) =>
      read((sql) => {
        const row = sql.get<VisitRow>(`SELECT ${VISIT} FROM visit x WHERE x.id = ?`, id);
        return row === undefined ? null : withActions(sql, row);
      }),
    visits: (scope, filter) => read((sql) => visits(sql, accountOf(scope), filter)),
    unverifiedActions: (sinceMs) => read((sql) => unverifiedActions(sql, sinceMs)),
    verifications: (visitId) => read((sql) => verifications(sql, visitId)),
    alerts: (personId, { includeWithdrawn }) =>
      read((sql) =>
        sql
          .all<AlertRow>(
            `SELECT ${ALERT} FROM alert
             WHERE person_id = ? ${includeWithdrawn ? '' : 'AND withdrawn_ms IS NULL'} ORDER BY changed_ms DESC, id`,
            personId,
          )
          .map(toAlert),
      ),
    alert: (id) =>
      read((sql) => {
        const row = sql.get<AlertRow>(`SELECT ${ALERT} FROM alert WHERE id = ?`, id);
        return row === undefined ? null : toAlert(row);
      }),
    standingAlerts: (topic) =>
      read((sql) =>
        sql
          .all<AlertRow>(`SELECT ${ALERT} FROM alert WHERE topic = ? AND withdrawn_ms IS NULL ORDER BY id`, topic)
          .map(toAlert),
      ),
    jobLastRan: (job) =>
      read((sql) => sql.get<{ ranMs: number }>('SELECT ran_ms AS "ranMs" FROM job WHERE job = ?', job)?.ranMs ?? null),
  };
}

function tasks(sql: Sql, accountId: string | null, filter: Parameters<WorkReader['tasks']>[1]): Task[] {
  const ofSite = filter.siteId === null ? 'TRUE' : 'x.site_id = @siteId';
  const ofContainer = filter.containerId === null ? 'TRUE' : 'x.container_id = @containerId';
  // Two lists, each with an index of its own, so that the tasks of past years are not read.
  const wanted = `x.id IN (SELECT x.id FROM task x INDEXED BY task_open WHERE ${OPEN_TASK} AND ${ofSite} AND ${ofContainer}
    UNION ALL SELECT x.id FROM task x WHERE x.changed_ms >= @settledSinceMs AND ${ofSite} AND ${ofContainer})`;
  return sql
    .all<TaskRow>(
      `SELECT ${TASK} FROM task x JOIN site s ON s.id = x.site_id
       WHERE ${filter.openOnly ? wanted : `${ofSite} AND ${ofContainer}`} AND ${IN_SCOPE}
       ORDER BY x.due_by_ms, x.id`,
      {
        account: accountId,
        siteId: filter.siteId,
        containerId: filter.containerId,
        settledSinceMs: filter.settledSinceMs ?? Number.MAX_SAFE_INTEGER,
      },
    )
    .map(toTask);
}

function taskTransitions(sql: Sql, taskId: string): TaskTransition[] {
  return sql
    .all<Omit<TaskTransition, 'reason'> & { reasonJson: string }>(
      `SELECT task_id AS "taskId", at_ms AS "atMs", from_state AS "from", to_state AS "to", actor,
         reason_json AS "reasonJson"
       FROM task_transition WHERE task_id = ? ORDER BY seq`,
      taskId,
    )
    .map(({ reasonJson, ...row }) => ({
      ...row,
      reason: parseJson(messageJson, reasonJson, { table: 'task_transition', column: 'reason_json', key: taskId }),
    }));
}

function visits(
  sql: Sql,
  accountId: string | null,
  filter: {
    readonly containerId: string | null;
    readonly siteId: string | null;
    readonly fromMs: number;
    readonly toMs: number;
  },
): Visit[] {
  const ofContainer =
    filter.containerId === null
      ? 'TRUE'
      : `x.id IN (SELECT y.visit_id FROM visit_action y
           WHERE y.container_id = @containerId AND y.happened_ms >= @fromMs AND y.happened_ms < @toMs)`;
  const ofSite = filter.siteId === null ? 'TRUE' : 'x.site_id = @siteId';
  return sql
    .all<VisitRow>(
      `SELECT ${VISIT} FROM visit x JOIN site s ON s.id = x.site_id
       WHERE ${ofContainer} AND ${ofSite} AND x.happened_ms >= @fromMs AND x.happened_ms < @toMs AND ${IN_SCOPE}
       ORDER BY x.happened_ms, x.id`,
      { account: accountId, ...filter },
    )
    .map((row) => withActions(sql, row));
}

function unverifiedActions(sql: Sql, sinceMs: number): { visit: Visit; action: VisitAction }[] {
  const rows = sql.all<VisitRow>(
    `SELECT ${VISIT} FROM visit x WHERE x.happened_ms >= ? AND EXISTS (
       SELECT 1 FROM visit_action y LEFT JOIN visit_verification v
         ON v.visit_id = y.visit_id AND v.container_id = y.container_id
       WHERE y.visit_id = x.id AND (v.visit_id IS NULL OR v.outcome = 'no_data'))
     ORDER BY x.happened_ms, x.id`,
    sinceMs,
  );
  return rows.flatMap((row) => {
    const visit = withActions(sql, row);
    const verified = new Set(
      verifications(sql, row.id)
        .filter(({ outcome }) => outcome !== 'no_data')
        .map(({ containerId }) => containerId),
    );
    return visit.actions.filter((action) => !verified.has(action.containerId)).map((action) => ({ visit, action }));
  });
}

function verifications(sql: Sql, visitId: SqlValue): VisitVerification[] {
  return sql
    .all<Omit<VisitVerification, 'message'> & { messageJson: string }>(
      `SELECT visit_id AS "visitId", container_id AS "containerId", outcome, measured_litres AS "measuredLitres",
         at_ms AS "atMs", message_json AS "messageJson"
       FROM visit_verification WHERE visit_id = ? ORDER BY container_id`,
      visitId,
    )
    .map(({ messageJson: text, ...row }) => ({
      ...row,
      message: parseJson(messageJson, text, {
        table: 'visit_verification',
        column: 'message_json',
        key: `${row.visitId} ${row.containerId}`,
      }),
    }));
}

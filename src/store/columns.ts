// Columns besides the key, in one order for whoever writes them and whoever reads them.

export const ABSENCE_COLUMNS = ['person_id', 'truck_id', 'from_day', 'to_day', 'reason', 'ended_ms'] as const;
export const ADDRESS_COLUMNS = ['person_id', 'channel', 'target', 'secret', 'created_ms', 'ended_ms'] as const;
export const ALARM_COLUMNS = [
  'kind',
  'site_id',
  'container_id',
  'node_id',
  'gateway_id',
  'priority',
  'state',
  'beneath',
  'condition_active',
  'condition_since_ms',
  'raised_ms',
  'acknowledged_ms',
  'acknowledged_by',
  'shelved_until_ms',
  'held_reason',
  'held_by',
  'message_json',
] as const;
export const ALERT_COLUMNS = [
  'person_id',
  'topic',
  'revision',
  'message_json',
  'site_id',
  'container_ids_json',
  'created_ms',
  'changed_ms',
  'read_ms',
  'withdrawn_ms',
] as const;
export const CONTAINER_COLUMNS = [
  'site_id',
  'name',
  'place',
  'covered',
  'installed_on',
  'removed_on',
  'strapping_json',
  'overflow_mm',
  'wick_foot_mm',
  'soil_litres',
  'soil_surface_m2',
  'pot_kg',
  'plants_json',
] as const;
export const CREDENTIAL_COLUMNS = ['kind', 'site_id', 'secret_hash', 'created_ms', 'revoked_ms'] as const;
export const OUTBOX_COLUMNS = [
  'address_id',
  'channel',
  'topic',
  'subject_json',
  'body_json',
  'withdrawal',
  'urgent',
  'created_ms',
  'not_before_ms',
  'expires_ms',
  'attempts',
  'state',
  'last_error',
] as const;
export const PERSON_COLUMNS = [
  'name',
  'login',
  'role',
  'account_id',
  'language',
  'unit_volume',
  'unit_length',
  'unit_temperature',
  'disabled_at_ms',
] as const;
export const POT_STATUS_COLUMNS = [
  'at_ms',
  'node_id',
  'last_reading_ms',
  'level_mm',
  'litres',
  'capacity_litres',
  'dead_litres',
  'moisture_fraction',
  'temperature_c',
  'battery_v',
  'forecast_json',
] as const;
export const SITE_COLUMNS = ['account_id', 'name', 'latitude', 'longitude', 'elevation_m', 'time_zone', 'tap'] as const;
export const TASK_COLUMNS = [
  'kind',
  'site_id',
  'container_id',
  'state',
  'origin',
  'reason_json',
  'finding_id',
  'litres',
  'minutes',
  'due_from_ms',
  'due_by_ms',
  'cautions_json',
  'created_ms',
  'changed_ms',
  'verification_json',
] as const;
export const VISIT_COLUMNS = ['site_id', 'technician_id', 'started_ms', 'happened_ms', 'recorded_ms', 'note'] as const;

-- Kinds that later versions add to (events, findings, tasks, alarms, causes) carry no list in a CHECK, because SQLite
-- cannot change a CHECK without copying the table; closed sets do. Times are UTC epoch milliseconds, days are
-- site-local `YYYY-MM-DD`, fractions are 0-1, booleans are 0 or 1.

-- Registry ----------------------------------------------------------------------------------------------------------

CREATE TABLE account (
  id TEXT NOT NULL PRIMARY KEY CHECK (id <> ''),
  name TEXT NOT NULL,
  dry_risk REAL NOT NULL CHECK (dry_risk BETWEEN 0 AND 1)
) STRICT, WITHOUT ROWID;

CREATE TABLE site (
  id TEXT NOT NULL PRIMARY KEY CHECK (id <> ''),
  account_id TEXT NOT NULL REFERENCES account (id),
  name TEXT NOT NULL,
  latitude REAL NOT NULL CHECK (latitude BETWEEN -90 AND 90),
  longitude REAL NOT NULL CHECK (longitude BETWEEN -180 AND 180),
  elevation_m REAL NOT NULL,
  time_zone TEXT NOT NULL CHECK (time_zone <> ''),
  tap INTEGER NOT NULL CHECK (tap IN (0, 1)),
  access_notes TEXT
) STRICT, WITHOUT ROWID;
CREATE INDEX site_by_account ON site (account_id);

CREATE TABLE container (
  id TEXT NOT NULL PRIMARY KEY CHECK (id <> ''),
  site_id TEXT NOT NULL REFERENCES site (id),
  name TEXT NOT NULL,
  place TEXT,
  covered INTEGER NOT NULL CHECK (covered IN (0, 1)),
  installed_on TEXT NOT NULL CHECK (installed_on GLOB '????-??-??'),
  removed_on TEXT CHECK (removed_on GLOB '????-??-??'),
  strapping_json TEXT NOT NULL CHECK (json_valid(strapping_json)),
  overflow_mm REAL NOT NULL,
  wick_foot_mm REAL NOT NULL,
  soil_litres REAL,
  soil_surface_m2 REAL,
  pot_kg REAL,
  plants_json TEXT NOT NULL CHECK (json_valid(plants_json)),
  CHECK ((soil_litres IS NULL) = (soil_surface_m2 IS NULL))
) STRICT, WITHOUT ROWID;
CREATE INDEX container_by_site ON container (site_id);
CREATE INDEX container_by_name ON container (name COLLATE NOCASE, id);

CREATE TABLE gateway (
  id TEXT NOT NULL PRIMARY KEY CHECK (id <> ''),
  site_id TEXT NOT NULL REFERENCES site (id),
  name TEXT NOT NULL
) STRICT, WITHOUT ROWID;
CREATE INDEX gateway_by_site ON gateway (site_id);

CREATE TABLE node (
  id TEXT NOT NULL PRIMARY KEY CHECK (id <> ''),
  gateway_id TEXT REFERENCES gateway (id),
  promised_interval_s REAL CHECK (promised_interval_s > 0)
) STRICT, WITHOUT ROWID;
CREATE INDEX node_by_gateway ON node (gateway_id);

-- Half-open: [from_ms, to_ms). The commit checks that the periods of one node do not overlap.
CREATE TABLE assignment (
  id TEXT NOT NULL PRIMARY KEY CHECK (id <> ''),
  node_id TEXT NOT NULL REFERENCES node (id),
  container_id TEXT NOT NULL REFERENCES container (id),
  from_ms INTEGER NOT NULL,
  to_ms INTEGER CHECK (to_ms > from_ms),
  zero_mm REAL NOT NULL
) STRICT, WITHOUT ROWID;
CREATE INDEX assignment_by_container ON assignment (container_id, from_ms);
CREATE INDEX assignment_by_node ON assignment (node_id, from_ms);

CREATE TABLE depot (
  id TEXT NOT NULL PRIMARY KEY CHECK (id <> ''),
  name TEXT NOT NULL,
  latitude REAL NOT NULL CHECK (latitude BETWEEN -90 AND 90),
  longitude REAL NOT NULL CHECK (longitude BETWEEN -180 AND 180)
) STRICT, WITHOUT ROWID;

CREATE TABLE truck (
  id TEXT NOT NULL PRIMARY KEY CHECK (id <> ''),
  name TEXT NOT NULL,
  tank_litres REAL NOT NULL CHECK (tank_litres >= 0),
  depot_id TEXT REFERENCES depot (id)
) STRICT, WITHOUT ROWID;

-- People and principals ---------------------------------------------------------------------------------------------

CREATE TABLE person (
  id TEXT NOT NULL PRIMARY KEY CHECK (id <> ''),
  name TEXT NOT NULL,
  login TEXT NOT NULL COLLATE NOCASE UNIQUE,
  role TEXT NOT NULL CHECK (role IN ('owner', 'dispatcher', 'technician', 'installer', 'client')),
  account_id TEXT REFERENCES account (id),
  language TEXT NOT NULL CHECK (language IN ('en', 'es')),
  unit_volume TEXT NOT NULL CHECK (unit_volume IN ('L', 'US_gal')),
  unit_length TEXT NOT NULL CHECK (unit_length IN ('mm', 'in')),
  unit_temperature TEXT NOT NULL CHECK (unit_temperature IN ('Cel', 'degF')),
  disabled_at_ms INTEGER,
  CHECK (role <> 'client' OR account_id IS NOT NULL)
) STRICT, WITHOUT ROWID;

CREATE TABLE person_secret (
  person_id TEXT NOT NULL PRIMARY KEY REFERENCES person (id),
  password_hash TEXT NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE session (
  token_hash TEXT NOT NULL PRIMARY KEY,
  person_id TEXT NOT NULL REFERENCES person (id),
  created_ms INTEGER NOT NULL,
  expires_ms INTEGER NOT NULL
) STRICT, WITHOUT ROWID;
CREATE INDEX session_by_person ON session (person_id);
CREATE INDEX session_by_expiry ON session (expires_ms);

-- A principal's id may be that of a node, a gateway or a program, so it refers to no one table.
CREATE TABLE credential (
  principal_id TEXT NOT NULL PRIMARY KEY CHECK (principal_id <> ''),
  kind TEXT NOT NULL CHECK (kind IN ('node', 'gateway', 'station', 'subscriber')),
  site_id TEXT REFERENCES site (id),
  secret_hash TEXT NOT NULL,
  created_ms INTEGER NOT NULL,
  revoked_ms INTEGER
) STRICT, WITHOUT ROWID;

-- Readings ----------------------------------------------------------------------------------------------------------

-- The values of readings and weather bear no CHECK: they were judged at the door, where a refusal concerns one record. A
-- CHECK that fails here would refuse a whole batch, and its senders would send it again for ever.
--
-- No reference to node: a reading is kept even where the registry was loaded after it.
-- `received_ms` is the first receipt of anything for this instant. `receipts` is null where every quantity that stands
-- was received then, one number where all were last received at another time, else six comma-separated numbers.
CREATE TABLE reading (
  node_id TEXT NOT NULL,
  time_ms INTEGER NOT NULL,
  received_ms INTEGER NOT NULL,
  level_mm REAL,
  moisture_fraction REAL,
  temperature_c REAL,
  battery_v REAL,
  battery_fraction REAL,
  signal_dbm REAL,
  receipts TEXT,
  PRIMARY KEY (node_id, time_ms)
) STRICT, WITHOUT ROWID;

-- Values that another value with a later receipt replaced, or that arrived after it: the audit trail.
CREATE TABLE reading_superseded (
  node_id TEXT NOT NULL,
  time_ms INTEGER NOT NULL,
  quantity TEXT NOT NULL,
  value REAL NOT NULL,
  received_ms INTEGER NOT NULL,
  PRIMARY KEY (node_id, time_ms, quantity, value)
) STRICT, WITHOUT ROWID;

CREATE TABLE node_latest (
  node_id TEXT NOT NULL PRIMARY KEY,
  time_ms INTEGER NOT NULL,
  heard_ms INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE quarantine (
  id TEXT NOT NULL PRIMARY KEY CHECK (id <> ''),
  received_ms INTEGER NOT NULL,
  source TEXT NOT NULL,
  node_id TEXT,
  refusal TEXT NOT NULL CHECK (refusal <> ''),
  detail TEXT NOT NULL,
  raw BLOB NOT NULL,
  content_type TEXT,
  record_index INTEGER,
  resolved_ms INTEGER
) STRICT;
CREATE INDEX quarantine_by_receipt ON quarantine (received_ms, id);
CREATE INDEX quarantine_unresolved ON quarantine (received_ms, id) WHERE resolved_ms IS NULL;

-- Weather -----------------------------------------------------------------------------------------------------------

CREATE TABLE weather_observed (
  site_id TEXT NOT NULL REFERENCES site (id),
  day TEXT NOT NULL CHECK (day GLOB '????-??-??'),
  tmin_c REAL,
  tmax_c REAL,
  humidity_fraction REAL,
  wind_m_per_s REAL,
  solar_mj_per_m2 REAL,
  rain_mm REAL,
  et0_mm REAL,
  rain_probability REAL,
  PRIMARY KEY (site_id, day)
) STRICT, WITHOUT ROWID;

CREATE TABLE weather_forecast (
  site_id TEXT NOT NULL REFERENCES site (id),
  day TEXT NOT NULL CHECK (day GLOB '????-??-??'),
  issued_ms INTEGER NOT NULL,
  tmin_c REAL,
  tmax_c REAL,
  humidity_fraction REAL,
  wind_m_per_s REAL,
  solar_mj_per_m2 REAL,
  rain_mm REAL,
  et0_mm REAL,
  rain_probability REAL,
  PRIMARY KEY (site_id, day, issued_ms)
) STRICT, WITHOUT ROWID;

CREATE TABLE weather_sample (
  site_id TEXT NOT NULL REFERENCES site (id),
  time_ms INTEGER NOT NULL,
  received_ms INTEGER NOT NULL,
  temperature_c REAL,
  humidity_fraction REAL,
  wind_m_per_s REAL,
  solar_w_per_m2 REAL,
  rain_mm REAL,
  pressure_pa REAL,
  receipts TEXT,
  PRIMARY KEY (site_id, time_ms)
) STRICT, WITHOUT ROWID;

-- What the analysis derives -----------------------------------------------------------------------------------------

CREATE TABLE pot_event (
  id TEXT NOT NULL PRIMARY KEY CHECK (id <> ''),
  container_id TEXT NOT NULL REFERENCES container (id),
  kind TEXT NOT NULL CHECK (kind <> ''),
  start_ms INTEGER NOT NULL,
  end_ms INTEGER NOT NULL CHECK (end_ms >= start_ms),
  start_level_mm REAL NOT NULL,
  end_level_mm REAL NOT NULL,
  litres REAL NOT NULL CHECK (litres >= 0),
  at_least INTEGER NOT NULL CHECK (at_least IN (0, 1)),
  confidence REAL NOT NULL CHECK (confidence BETWEEN 0 AND 1),
  superseded_ms INTEGER
) STRICT;
CREATE INDEX pot_event_standing ON pot_event (container_id, start_ms) WHERE superseded_ms IS NULL;

-- Every correction is kept; the last one of an event counts.
CREATE TABLE event_correction (
  seq INTEGER NOT NULL PRIMARY KEY,
  event_id TEXT NOT NULL,
  container_id TEXT NOT NULL REFERENCES container (id),
  corrected_kind TEXT NOT NULL,
  litres REAL,
  at_ms INTEGER NOT NULL,
  actor_id TEXT NOT NULL
) STRICT;
CREATE INDEX event_correction_by_container ON event_correction (container_id, event_id, seq);

CREATE TABLE ledger_day (
  container_id TEXT NOT NULL REFERENCES container (id),
  day TEXT NOT NULL CHECK (day GLOB '????-??-??'),
  opening_litres REAL NOT NULL,
  refill_crew_litres REAL NOT NULL,
  refill_other_litres REAL NOT NULL,
  rain_litres REAL NOT NULL,
  uptake_litres REAL NOT NULL,
  leak_litres REAL NOT NULL,
  overflow_litres REAL NOT NULL,
  drained_litres REAL NOT NULL,
  unexplained_litres REAL NOT NULL,
  closing_litres REAL NOT NULL,
  sd_litres REAL NOT NULL CHECK (sd_litres >= 0),
  coverage REAL NOT NULL CHECK (coverage BETWEEN 0 AND 1),
  posted_ms INTEGER NOT NULL,
  PRIMARY KEY (container_id, day)
) STRICT, WITHOUT ROWID;

-- A day that was over when it was posted and that was posted anew, as it stood before.
CREATE TABLE ledger_day_history (
  container_id TEXT NOT NULL REFERENCES container (id),
  day TEXT NOT NULL,
  opening_litres REAL NOT NULL,
  refill_crew_litres REAL NOT NULL,
  refill_other_litres REAL NOT NULL,
  rain_litres REAL NOT NULL,
  uptake_litres REAL NOT NULL,
  leak_litres REAL NOT NULL,
  overflow_litres REAL NOT NULL,
  drained_litres REAL NOT NULL,
  unexplained_litres REAL NOT NULL,
  closing_litres REAL NOT NULL,
  sd_litres REAL NOT NULL,
  coverage REAL NOT NULL,
  posted_ms INTEGER NOT NULL,
  superseded_ms INTEGER NOT NULL
) STRICT;
CREATE INDEX ledger_day_history_by_day ON ledger_day_history (container_id, day);

CREATE TABLE hour_rollup (
  container_id TEXT NOT NULL REFERENCES container (id),
  hour_ms INTEGER NOT NULL CHECK (hour_ms % 3600000 = 0),
  readings INTEGER NOT NULL CHECK (readings >= 0),
  level_min_mm REAL,
  level_mean_mm REAL,
  level_max_mm REAL,
  litres_mean REAL,
  moisture_mean REAL,
  temperature_mean_c REAL,
  battery_min_v REAL,
  PRIMARY KEY (container_id, hour_ms)
) STRICT, WITHOUT ROWID;

CREATE TABLE day_rollup (
  container_id TEXT NOT NULL REFERENCES container (id),
  day TEXT NOT NULL CHECK (day GLOB '????-??-??'),
  readings INTEGER NOT NULL CHECK (readings >= 0),
  level_min_mm REAL,
  level_mean_mm REAL,
  level_max_mm REAL,
  litres_mean REAL,
  moisture_mean REAL,
  temperature_mean_c REAL,
  battery_min_v REAL,
  PRIMARY KEY (container_id, day)
) STRICT, WITHOUT ROWID;

CREATE TABLE checkpoint (
  container_id TEXT NOT NULL REFERENCES container (id),
  at_ms INTEGER NOT NULL,
  state_json TEXT NOT NULL,
  PRIMARY KEY (container_id, at_ms)
) STRICT;

CREATE TABLE pot_status (
  container_id TEXT NOT NULL PRIMARY KEY REFERENCES container (id),
  at_ms INTEGER NOT NULL,
  node_id TEXT,
  last_reading_ms INTEGER,
  level_mm REAL,
  litres REAL,
  capacity_litres REAL NOT NULL,
  dead_litres REAL NOT NULL,
  moisture_fraction REAL,
  temperature_c REAL,
  battery_v REAL,
  forecast_json TEXT NOT NULL CHECK (json_valid(forecast_json))
) STRICT;

-- What was forecast when: appended, never rewritten.
CREATE TABLE forecast (
  container_id TEXT NOT NULL REFERENCES container (id),
  origin_ms INTEGER NOT NULL,
  knowledge TEXT NOT NULL CHECK (knowledge <> ''),
  level_mm REAL,
  litres REAL,
  rate_litres_per_day REAL,
  rate_sd_litres_per_day REAL,
  has_dry INTEGER NOT NULL CHECK (has_dry IN (0, 1)),
  dry_p10_ms INTEGER,
  dry_p50_ms INTEGER,
  dry_p90_ms INTEGER,
  has_stress INTEGER NOT NULL CHECK (has_stress IN (0, 1)),
  stress_p10_ms INTEGER,
  stress_p50_ms INTEGER,
  stress_p90_ms INTEGER,
  data_days REAL NOT NULL,
  basis_json TEXT NOT NULL CHECK (json_valid(basis_json)),
  PRIMARY KEY (container_id, origin_ms)
) STRICT;

CREATE TABLE finding (
  id TEXT NOT NULL PRIMARY KEY CHECK (id <> ''),
  container_id TEXT NOT NULL REFERENCES container (id),
  node_id TEXT,
  kind TEXT NOT NULL CHECK (kind <> ''),
  onset_ms INTEGER,
  size REAL,
  unit TEXT,
  height_mm REAL,
  confidence REAL NOT NULL CHECK (confidence BETWEEN 0 AND 1),
  severity TEXT NOT NULL CHECK (severity IN ('low', 'medium', 'high')),
  evidence_json TEXT NOT NULL CHECK (json_valid(evidence_json)),
  to_confirm_json TEXT CHECK (json_valid(to_confirm_json)),
  opened_ms INTEGER NOT NULL,
  closed_ms INTEGER
) STRICT;
CREATE INDEX finding_by_container ON finding (container_id, opened_ms);
CREATE INDEX finding_by_closing ON finding (closed_ms);

-- Every state that a finding was in, from `recorded_ms` on.
CREATE TABLE finding_history (
  id TEXT NOT NULL REFERENCES finding (id),
  recorded_ms INTEGER NOT NULL,
  container_id TEXT NOT NULL REFERENCES container (id),
  node_id TEXT,
  kind TEXT NOT NULL,
  onset_ms INTEGER,
  size REAL,
  unit TEXT,
  height_mm REAL,
  confidence REAL NOT NULL,
  severity TEXT NOT NULL,
  evidence_json TEXT NOT NULL,
  to_confirm_json TEXT,
  opened_ms INTEGER NOT NULL,
  closed_ms INTEGER
) STRICT;
CREATE INDEX finding_history_by_finding ON finding_history (id, recorded_ms);

CREATE TABLE calibration (
  frozen_ms INTEGER NOT NULL PRIMARY KEY,
  lead_days_json TEXT NOT NULL CHECK (json_valid(lead_days_json)),
  spread_factors_json TEXT NOT NULL CHECK (json_valid(spread_factors_json))
) STRICT;

-- Work --------------------------------------------------------------------------------------------------------------

CREATE TABLE alarm (
  id TEXT NOT NULL PRIMARY KEY CHECK (id <> ''),
  kind TEXT NOT NULL CHECK (kind <> ''),
  site_id TEXT NOT NULL REFERENCES site (id),
  container_id TEXT REFERENCES container (id),
  node_id TEXT,
  gateway_id TEXT,
  priority TEXT NOT NULL CHECK (priority IN ('low', 'medium', 'high')),
  state TEXT NOT NULL CHECK (state IN ('normal', 'unacknowledged', 'acknowledged', 'returned_unacknowledged',
    'latched_unacknowledged', 'latched_acknowledged', 'shelved', 'suppressed_by_design', 'out_of_service')),
  beneath TEXT NOT NULL CHECK (beneath IN ('normal', 'unacknowledged', 'acknowledged', 'returned_unacknowledged',
    'latched_unacknowledged', 'latched_acknowledged')),
  condition_active INTEGER NOT NULL CHECK (condition_active IN (0, 1)),
  condition_since_ms INTEGER NOT NULL,
  raised_ms INTEGER,
  acknowledged_ms INTEGER,
  acknowledged_by TEXT,
  shelved_until_ms INTEGER,
  held_reason TEXT,
  held_by TEXT,
  message_json TEXT NOT NULL CHECK (json_valid(message_json))
) STRICT;
CREATE INDEX alarm_standing ON alarm (site_id) WHERE state <> 'normal';

CREATE TABLE alarm_transition (
  seq INTEGER NOT NULL PRIMARY KEY,
  alarm_id TEXT NOT NULL REFERENCES alarm (id),
  at_ms INTEGER NOT NULL,
  from_state TEXT NOT NULL,
  to_state TEXT NOT NULL,
  cause TEXT NOT NULL,
  actor TEXT NOT NULL,
  note TEXT
) STRICT;
CREATE INDEX alarm_transition_by_alarm ON alarm_transition (alarm_id, seq);

CREATE TABLE task (
  id TEXT NOT NULL PRIMARY KEY CHECK (id <> ''),
  kind TEXT NOT NULL CHECK (kind <> ''),
  site_id TEXT NOT NULL REFERENCES site (id),
  container_id TEXT NOT NULL REFERENCES container (id),
  state TEXT NOT NULL CHECK (state IN ('proposed', 'planned', 'on_the_way', 'done', 'verified', 'reopened', 'cancelled')),
  origin TEXT NOT NULL CHECK (origin IN ('forecast', 'finding', 'verification', 'person')),
  reason_json TEXT NOT NULL CHECK (json_valid(reason_json)),
  finding_id TEXT,
  litres REAL,
  minutes REAL NOT NULL,
  due_from_ms INTEGER NOT NULL,
  due_by_ms INTEGER NOT NULL,
  cautions_json TEXT NOT NULL CHECK (json_valid(cautions_json)),
  created_ms INTEGER NOT NULL,
  changed_ms INTEGER NOT NULL,
  verification_json TEXT CHECK (json_valid(verification_json))
) STRICT;
CREATE INDEX task_open ON task (site_id, due_by_ms) WHERE state IN ('proposed', 'planned', 'on_the_way', 'reopened');
CREATE INDEX task_by_container ON task (container_id, due_by_ms);
CREATE INDEX task_by_site ON task (site_id, changed_ms);
CREATE INDEX task_by_change ON task (changed_ms);

CREATE TABLE task_transition (
  seq INTEGER NOT NULL PRIMARY KEY,
  task_id TEXT NOT NULL REFERENCES task (id),
  at_ms INTEGER NOT NULL,
  from_state TEXT,
  to_state TEXT NOT NULL,
  actor TEXT NOT NULL,
  reason_json TEXT NOT NULL CHECK (json_valid(reason_json))
) STRICT;
CREATE INDEX task_transition_by_task ON task_transition (task_id, seq);

CREATE TABLE round_stop (
  id TEXT NOT NULL PRIMARY KEY CHECK (id <> ''),
  technician_id TEXT NOT NULL REFERENCES person (id),
  day TEXT NOT NULL CHECK (day GLOB '????-??-??'),
  site_id TEXT NOT NULL REFERENCES site (id),
  position INTEGER NOT NULL,
  state TEXT NOT NULL CHECK (state IN ('planned', 'on_the_way', 'done', 'cancelled'))
) STRICT, WITHOUT ROWID;
CREATE INDEX round_stop_by_day ON round_stop (day, technician_id, position);

CREATE TABLE visit (
  id TEXT NOT NULL PRIMARY KEY CHECK (id <> ''),
  site_id TEXT NOT NULL REFERENCES site (id),
  technician_id TEXT NOT NULL REFERENCES person (id),
  started_ms INTEGER NOT NULL,
  happened_ms INTEGER NOT NULL,
  recorded_ms INTEGER NOT NULL,
  note TEXT
) STRICT;
CREATE INDEX visit_by_time ON visit (happened_ms);
CREATE INDEX visit_by_site ON visit (site_id, happened_ms);

-- `happened_ms` is repeated from the visit, so that a container's record is one range of one index. A task's id comes
-- from a phone that may have been offline for long, so it is kept as it was sent.
CREATE TABLE visit_action (
  visit_id TEXT NOT NULL REFERENCES visit (id),
  position INTEGER NOT NULL,
  happened_ms INTEGER NOT NULL,
  container_id TEXT NOT NULL REFERENCES container (id),
  task_id TEXT,
  work TEXT NOT NULL CHECK (work <> ''),
  litres REAL CHECK (litres >= 0),
  exception TEXT,
  note TEXT,
  PRIMARY KEY (visit_id, position)
) STRICT, WITHOUT ROWID;
CREATE INDEX visit_action_by_container ON visit_action (container_id, happened_ms);

CREATE TABLE visit_verification (
  visit_id TEXT NOT NULL REFERENCES visit (id),
  container_id TEXT NOT NULL REFERENCES container (id),
  outcome TEXT NOT NULL CHECK (outcome IN ('confirmed', 'contradicted', 'no_data')),
  measured_litres REAL,
  at_ms INTEGER NOT NULL,
  message_json TEXT NOT NULL CHECK (json_valid(message_json)),
  PRIMARY KEY (visit_id, container_id)
) STRICT, WITHOUT ROWID;

CREATE TABLE alert (
  id TEXT NOT NULL PRIMARY KEY CHECK (id <> ''),
  person_id TEXT NOT NULL REFERENCES person (id),
  topic TEXT NOT NULL,
  revision INTEGER NOT NULL,
  message_json TEXT NOT NULL CHECK (json_valid(message_json)),
  site_id TEXT REFERENCES site (id),
  container_ids_json TEXT NOT NULL CHECK (json_valid(container_ids_json)),
  created_ms INTEGER NOT NULL,
  changed_ms INTEGER NOT NULL,
  read_ms INTEGER,
  withdrawn_ms INTEGER
) STRICT;
CREATE INDEX alert_by_person ON alert (person_id, changed_ms);
CREATE INDEX alert_standing ON alert (person_id, changed_ms) WHERE withdrawn_ms IS NULL;
CREATE INDEX alert_by_topic ON alert (topic);

CREATE TABLE job (
  job TEXT NOT NULL PRIMARY KEY CHECK (job <> ''),
  ran_ms INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

-- What happened, in order -------------------------------------------------------------------------------------------

-- AUTOINCREMENT: a number once given is never given again, since stages and browsers remember it.
CREATE TABLE change (
  seq INTEGER PRIMARY KEY AUTOINCREMENT,
  at_ms INTEGER NOT NULL,
  kind TEXT NOT NULL CHECK (kind <> ''),
  key TEXT NOT NULL,
  actor_kind TEXT NOT NULL CHECK (actor_kind IN ('person', 'principal', 'stage', 'command')),
  actor_id TEXT NOT NULL,
  site_id TEXT,
  container_id TEXT,
  from_ms INTEGER,
  to_ms INTEGER
) STRICT;
CREATE INDEX change_by_people ON change (seq) WHERE actor_kind IN ('person', 'command');

CREATE TABLE cursor (
  stage TEXT NOT NULL PRIMARY KEY CHECK (stage <> ''),
  seq INTEGER NOT NULL CHECK (seq >= 0)
) STRICT, WITHOUT ROWID;

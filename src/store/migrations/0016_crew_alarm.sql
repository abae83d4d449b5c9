-- An alarm may be about the crew as a whole, and so about no site. SQLite cannot take a NOT NULL away, so that both
-- tables are made anew; the one that refers to the other goes first.
CREATE TABLE alarm_of_any (
  id TEXT NOT NULL PRIMARY KEY CHECK (id <> ''),
  kind TEXT NOT NULL CHECK (kind <> ''),
  site_id TEXT REFERENCES site (id),
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

CREATE TABLE alarm_transition_of_any (
  seq INTEGER NOT NULL PRIMARY KEY,
  alarm_id TEXT NOT NULL REFERENCES alarm_of_any (id),
  at_ms INTEGER NOT NULL,
  from_state TEXT NOT NULL,
  to_state TEXT NOT NULL,
  cause TEXT NOT NULL,
  actor TEXT NOT NULL,
  note TEXT,
  priority TEXT CHECK (priority IN ('low', 'medium', 'high'))
) STRICT;

INSERT INTO alarm_of_any
  SELECT id, kind, site_id, container_id, node_id, gateway_id, priority, state, beneath, condition_active,
    condition_since_ms, raised_ms, acknowledged_ms, acknowledged_by, shelved_until_ms, held_reason, held_by, message_json
  FROM alarm;
INSERT INTO alarm_transition_of_any
  SELECT seq, alarm_id, at_ms, from_state, to_state, cause, actor, note, priority FROM alarm_transition;

DROP TABLE alarm_transition;
DROP TABLE alarm;
ALTER TABLE alarm_of_any RENAME TO alarm;
ALTER TABLE alarm_transition_of_any RENAME TO alarm_transition;

CREATE INDEX alarm_standing ON alarm (site_id) WHERE state <> 'normal';
CREATE INDEX alarm_transition_by_alarm ON alarm_transition (alarm_id, seq);
CREATE INDEX alarm_transition_by_time ON alarm_transition (at_ms);

-- Who is reached how, and what is on its way to them ------------------------------------------------------------------

CREATE TABLE address (
  id TEXT NOT NULL PRIMARY KEY CHECK (id <> ''),
  person_id TEXT REFERENCES person (id),
  channel TEXT NOT NULL CHECK (channel IN ('email', 'web_push', 'webhook', 'mqtt')),
  target TEXT NOT NULL CHECK (target <> ''),
  secret TEXT,
  created_ms INTEGER NOT NULL,
  ended_ms INTEGER
) STRICT;
CREATE INDEX address_by_person ON address (person_id);

CREATE TABLE contact_rules (
  person_id TEXT NOT NULL PRIMARY KEY REFERENCES person (id),
  rules_json TEXT NOT NULL CHECK (json_valid(rules_json))
) STRICT, WITHOUT ROWID;

CREATE TABLE outbox (
  id TEXT NOT NULL PRIMARY KEY CHECK (id <> ''),
  address_id TEXT NOT NULL REFERENCES address (id),
  channel TEXT NOT NULL CHECK (channel IN ('email', 'web_push', 'webhook', 'mqtt')),
  topic TEXT NOT NULL,
  subject_json TEXT NOT NULL CHECK (json_valid(subject_json)),
  body_json TEXT NOT NULL CHECK (json_valid(body_json)),
  withdrawal INTEGER NOT NULL CHECK (withdrawal IN (0, 1)),
  urgent INTEGER NOT NULL CHECK (urgent IN (0, 1)),
  created_ms INTEGER NOT NULL,
  not_before_ms INTEGER NOT NULL,
  expires_ms INTEGER NOT NULL,
  attempts INTEGER NOT NULL CHECK (attempts >= 0),
  state TEXT NOT NULL CHECK (state IN ('waiting', 'delivered', 'dead', 'cancelled')),
  last_error TEXT
) STRICT;
CREATE INDEX outbox_due ON outbox (not_before_ms) WHERE state = 'waiting';
CREATE INDEX outbox_by_topic ON outbox (topic, address_id, created_ms);
CREATE INDEX outbox_dead ON outbox (created_ms, id) WHERE state = 'dead';

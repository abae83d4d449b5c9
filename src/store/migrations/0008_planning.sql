-- Each state of the draft; old ones go, the latest is the draft.
CREATE TABLE plan_version (
  seq INTEGER NOT NULL PRIMARY KEY,
  made_ms INTEGER NOT NULL,
  made_by TEXT NOT NULL,
  cause TEXT NOT NULL CHECK (cause IN ('night', 'asked', 'event', 'change', 'undo')),
  previous_seq INTEGER,
  content_json TEXT NOT NULL CHECK (json_valid(content_json))
) STRICT;

-- What was planned for a stop when it was published; stays, to be held against the visit.
CREATE TABLE published_visit (
  stop_id TEXT NOT NULL PRIMARY KEY REFERENCES round_stop (id),
  day TEXT NOT NULL CHECK (day GLOB '????-??-??'),
  published_ms INTEGER NOT NULL,
  plan_json TEXT NOT NULL CHECK (json_valid(plan_json))
) STRICT, WITHOUT ROWID;
CREATE INDEX published_visit_by_day ON published_visit (day);

CREATE TABLE learned_pace (
  learned_ms INTEGER NOT NULL PRIMARY KEY,
  pace_json TEXT NOT NULL CHECK (json_valid(pace_json))
) STRICT;

-- How people work, when they are away, and when sites may be worked at ----------------------------------------------------

CREATE TABLE crew_terms (
  person_id TEXT NOT NULL PRIMARY KEY REFERENCES person (id),
  terms_json TEXT NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE site_terms (
  site_id TEXT NOT NULL PRIMARY KEY REFERENCES site (id),
  terms_json TEXT NOT NULL
) STRICT, WITHOUT ROWID;

-- Neither person nor truck: a holiday of the whole firm. Taken back ones stay, with the moment.
CREATE TABLE absence (
  id TEXT NOT NULL PRIMARY KEY CHECK (id <> ''),
  person_id TEXT REFERENCES person (id),
  truck_id TEXT REFERENCES truck (id),
  from_day TEXT NOT NULL,
  to_day TEXT NOT NULL CHECK (to_day >= from_day),
  reason TEXT,
  ended_ms INTEGER,
  CHECK (person_id IS NULL OR truck_id IS NULL)
) STRICT, WITHOUT ROWID;
CREATE INDEX absence_by_day ON absence (to_day) WHERE ended_ms IS NULL;

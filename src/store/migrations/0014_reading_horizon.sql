-- Where raw readings were let go: the instant before which nothing of a container is derived anew, since what it was derived
-- from is gone. Its checkpoint at that instant stays.
CREATE TABLE reading_horizon (
  container_id TEXT NOT NULL PRIMARY KEY REFERENCES container (id),
  from_ms INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

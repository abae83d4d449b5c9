-- Private addresses of calendar feeds -----------------------------------------------------------------------------------

-- Whoever knows the token reads the feed, so only its hash is kept.
CREATE TABLE calendar_feed (
  token_hash TEXT NOT NULL PRIMARY KEY CHECK (length(token_hash) = 64),
  person_id TEXT NOT NULL REFERENCES person (id),
  created_ms INTEGER NOT NULL,
  revoked_ms INTEGER
) STRICT, WITHOUT ROWID;
CREATE INDEX calendar_feed_by_person ON calendar_feed (person_id);

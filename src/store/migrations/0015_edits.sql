-- What people and commands changed: the columns that differ, before and after. Only added to; the one change that is allowed
-- takes a person's data out of an entry and leaves who changed what and when.
CREATE TABLE edit (
  seq INTEGER PRIMARY KEY AUTOINCREMENT,
  at_ms INTEGER NOT NULL,
  actor_kind TEXT NOT NULL CHECK (actor_kind IN ('person', 'command')),
  actor_id TEXT NOT NULL,
  kind TEXT NOT NULL CHECK (kind <> ''),
  key TEXT NOT NULL,
  before_json TEXT CHECK (json_valid(before_json)),
  after_json TEXT CHECK (json_valid(after_json)),
  erased_ms INTEGER
) STRICT;
CREATE INDEX edit_by_key ON edit (key, seq);

CREATE TRIGGER edit_is_kept BEFORE DELETE ON edit
BEGIN SELECT RAISE(ABORT, 'the record of edits is only added to'); END;
CREATE TRIGGER edit_stays BEFORE UPDATE ON edit
WHEN NOT (NEW.erased_ms IS NOT NULL AND NEW.before_json IS NULL AND NEW.after_json IS NULL
  AND NEW.seq = OLD.seq AND NEW.at_ms = OLD.at_ms AND NEW.actor_kind = OLD.actor_kind AND NEW.actor_id = OLD.actor_id
  AND NEW.kind = OLD.kind AND NEW.key = OLD.key)
BEGIN SELECT RAISE(ABORT, 'the record of edits is only added to'); END;

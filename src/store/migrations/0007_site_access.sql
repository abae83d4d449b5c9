-- How to get into a site, and whom to call there. `sealed` is nonce (12 bytes), tag (16) and ciphertext of AES-256-GCM, by
-- the key that `key_id` names in a file outside the database. Notes that stood open in `site.access_notes` are sealed when
-- the store is opened next, since SQL cannot; from then on that column stays empty.
CREATE TABLE site_access (
  site_id TEXT NOT NULL PRIMARY KEY REFERENCES site (id),
  key_id TEXT NOT NULL CHECK (key_id <> ''),
  sealed BLOB NOT NULL CHECK (length(sealed) >= 28)
) STRICT, WITHOUT ROWID;

CREATE TABLE access_look (
  seq INTEGER NOT NULL PRIMARY KEY,
  at_ms INTEGER NOT NULL,
  person_id TEXT NOT NULL REFERENCES person (id),
  site_id TEXT NOT NULL REFERENCES site (id),
  stop_id TEXT
) STRICT;
CREATE INDEX access_look_by_person ON access_look (person_id, site_id, at_ms);

CREATE TRIGGER access_look_stays BEFORE UPDATE ON access_look
BEGIN SELECT RAISE(ABORT, 'the record of looks is only added to'); END;
CREATE TRIGGER access_look_is_kept BEFORE DELETE ON access_look
BEGIN SELECT RAISE(ABORT, 'the record of looks is only added to'); END;

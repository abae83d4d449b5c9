-- Links with which people set their passwords, second factors, and what stands in for a lost phone. Only hashes of tokens and
-- codes are kept; the secret of a second factor is sealed like the access to sites.
CREATE TABLE invitation (
  token_hash TEXT NOT NULL PRIMARY KEY CHECK (length(token_hash) = 64),
  person_id TEXT NOT NULL REFERENCES person (id),
  purpose TEXT NOT NULL CHECK (purpose IN ('welcome', 'recovery')),
  created_ms INTEGER NOT NULL,
  created_by TEXT NOT NULL,
  expires_ms INTEGER NOT NULL,
  used_ms INTEGER
) STRICT, WITHOUT ROWID;
CREATE INDEX invitation_by_person ON invitation (person_id);

CREATE TABLE second_factor (
  person_id TEXT NOT NULL PRIMARY KEY REFERENCES person (id),
  key_id TEXT NOT NULL CHECK (key_id <> ''),
  sealed BLOB NOT NULL CHECK (length(sealed) >= 28),
  confirmed_ms INTEGER,
  last_step INTEGER
) STRICT, WITHOUT ROWID;

CREATE TABLE recovery_code (
  person_id TEXT NOT NULL REFERENCES person (id),
  code_hash TEXT NOT NULL CHECK (length(code_hash) = 64),
  used_ms INTEGER,
  PRIMARY KEY (person_id, code_hash)
) STRICT, WITHOUT ROWID;

CREATE TABLE api_token (
  id TEXT NOT NULL PRIMARY KEY CHECK (id <> ''),
  token_hash TEXT NOT NULL UNIQUE CHECK (length(token_hash) = 64),
  person_id TEXT NOT NULL REFERENCES person (id),
  name TEXT NOT NULL,
  actions_json TEXT NOT NULL CHECK (json_valid(actions_json)),
  created_ms INTEGER NOT NULL,
  expires_ms INTEGER NOT NULL CHECK (expires_ms > created_ms),
  revoked_ms INTEGER,
  last_used_ms INTEGER
) STRICT, WITHOUT ROWID;
CREATE INDEX api_token_by_person ON api_token (person_id);

-- The firm, how pots were calibrated, and which nodes are asked to hurry ----------------------------------------------------

CREATE TABLE firm (
  id INTEGER NOT NULL PRIMARY KEY CHECK (id = 1),
  name TEXT NOT NULL,
  currency TEXT NOT NULL CHECK (length(currency) = 3),
  water_price_per_m3 REAL CHECK (water_price_per_m3 >= 0),
  language TEXT NOT NULL CHECK (language IN ('en', 'es')),
  unit_volume TEXT NOT NULL CHECK (unit_volume IN ('L', 'US_gal')),
  unit_length TEXT NOT NULL CHECK (unit_length IN ('mm', 'in')),
  unit_temperature TEXT NOT NULL CHECK (unit_temperature IN ('Cel', 'degF'))
) STRICT;

-- Every calibration is kept; the last one of a container counts as long as its table is the container's.
CREATE TABLE pour_record (
  id TEXT NOT NULL PRIMARY KEY CHECK (id <> ''),
  container_id TEXT NOT NULL REFERENCES container (id),
  at_ms INTEGER NOT NULL,
  actor_id TEXT NOT NULL,
  pours_json TEXT NOT NULL CHECK (json_valid(pours_json)),
  strapping_json TEXT NOT NULL CHECK (json_valid(strapping_json)),
  band_json TEXT NOT NULL CHECK (json_valid(band_json)),
  overflow_mm REAL
) STRICT, WITHOUT ROWID;
CREATE INDEX pour_record_by_container ON pour_record (container_id, at_ms);

CREATE TABLE fast_report (
  node_id TEXT NOT NULL PRIMARY KEY REFERENCES node (id),
  until_ms INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

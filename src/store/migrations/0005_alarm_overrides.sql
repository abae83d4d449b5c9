-- What sites and containers want otherwise than the alarm catalogue. Each change is a row; the last of an id counts.
CREATE TABLE alarm_override (
  seq INTEGER NOT NULL PRIMARY KEY,
  id TEXT NOT NULL CHECK (id <> ''),
  kind TEXT NOT NULL CHECK (kind <> ''),
  site_id TEXT NOT NULL REFERENCES site (id),
  container_id TEXT REFERENCES container (id),
  on_delay_ms INTEGER CHECK (on_delay_ms >= 0),
  off_delay_ms INTEGER CHECK (off_delay_ms >= 0),
  re_alarm_after_ms INTEGER CHECK (re_alarm_after_ms > 0),
  deadband_hours REAL CHECK (deadband_hours >= 0),
  priority TEXT CHECK (priority IN ('low', 'medium', 'high')),
  reason TEXT NOT NULL CHECK (reason <> ''),
  changed_ms INTEGER NOT NULL,
  changed_by TEXT NOT NULL
) STRICT;
CREATE INDEX alarm_override_by_site ON alarm_override (site_id, seq);

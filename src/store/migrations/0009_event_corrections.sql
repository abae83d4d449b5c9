-- A person may also move an event or tell of one that nobody saw, and each word keeps what stood before it.

ALTER TABLE event_correction ADD COLUMN start_ms INTEGER;
ALTER TABLE event_correction ADD COLUMN before_kind TEXT;
ALTER TABLE event_correction ADD COLUMN before_litres REAL;
ALTER TABLE event_correction ADD COLUMN before_start_ms INTEGER;

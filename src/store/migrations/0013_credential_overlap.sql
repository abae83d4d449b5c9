-- While a node's secret is being rotated, the one before it opens the door as well, until `previous_until_ms` (of the
-- machine's clock).
ALTER TABLE credential ADD COLUMN previous_hash TEXT;
ALTER TABLE credential ADD COLUMN previous_until_ms INTEGER;

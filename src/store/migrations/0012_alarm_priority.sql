-- What an alarm was worth at each step of its life; unknown for what older programs recorded.
ALTER TABLE alarm_transition ADD COLUMN priority TEXT CHECK (priority IN ('low', 'medium', 'high'));

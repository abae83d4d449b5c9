-- How the alarms did in a period is asked by time, over all of them.
CREATE INDEX alarm_transition_by_time ON alarm_transition (at_ms);

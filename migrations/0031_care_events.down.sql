DROP TABLE midden.care_events;

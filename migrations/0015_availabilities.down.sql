DROP TABLE midden.availabilities;

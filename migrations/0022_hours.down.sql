DROP TABLE midden.hours;

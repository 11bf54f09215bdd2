DROP TABLE midden.not_today;

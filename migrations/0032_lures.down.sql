DROP TABLE midden.lure_steps;
DROP TABLE midden.lures;

DROP TABLE midden.covers;

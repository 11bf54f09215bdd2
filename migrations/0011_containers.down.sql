DROP TABLE midden.containers;

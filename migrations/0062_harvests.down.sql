DROP TABLE midden.harvests;

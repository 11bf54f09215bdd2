DROP TABLE midden.castings_steps;
DROP TABLE midden.castings_lots;

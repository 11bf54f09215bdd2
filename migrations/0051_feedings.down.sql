DROP TABLE midden.feeding_bedding;
DROP TABLE midden.feeding_lots;
DROP TABLE midden.feedings;

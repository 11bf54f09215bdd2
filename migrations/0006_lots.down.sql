DROP TABLE midden.lot_places;
DROP TABLE midden.lots;

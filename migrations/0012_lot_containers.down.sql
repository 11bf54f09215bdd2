ALTER TABLE midden.lots DROP COLUMN container_id;

DROP INDEX midden.stock_heads_held;
ALTER TABLE midden.stock_heads DROP COLUMN held;

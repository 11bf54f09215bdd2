DROP INDEX midden.stock_days_by_day;
DROP INDEX midden.stock_heads_held;
ALTER TABLE midden.stock_heads DROP COLUMN held;

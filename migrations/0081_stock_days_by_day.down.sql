DROP INDEX midden.stock_days_by_day;

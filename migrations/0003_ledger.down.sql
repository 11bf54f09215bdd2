DROP TABLE midden.day_totals;
DROP TABLE midden.stock_days;
DROP TABLE midden.stock_heads;
DROP TABLE midden.entry_queue;
DROP TABLE midden.postings;
DROP TABLE midden.entries;
DROP FUNCTION midden.append_only();
DROP FUNCTION midden.postings_balance();

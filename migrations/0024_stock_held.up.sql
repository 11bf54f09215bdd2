-- What is on hand is listed from the holdings that hold something, not from
-- every lot there ever was. held is its own column, so that a head that stays
-- above zero is still updated in place, without touching an index.
ALTER TABLE midden.stock_heads ADD COLUMN held boolean NOT NULL GENERATED ALWAYS AS (latest_g > 0) STORED;
CREATE INDEX stock_heads_held ON midden.stock_heads (garden_id, account, substance) WHERE held;

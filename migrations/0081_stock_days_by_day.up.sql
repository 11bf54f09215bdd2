-- Stock at the end of a past day is asked of what is on hand now and of what
-- moved since: this finds the latter without a look at every lot there ever was.
CREATE INDEX stock_days_by_day ON midden.stock_days (garden_id, day);

-- The ledger is read newest recorded first.
CREATE INDEX entries_by_recorded ON midden.entries (garden_id, recorded_at, entry_id);

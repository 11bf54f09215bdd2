DROP INDEX midden.entries_by_recorded;

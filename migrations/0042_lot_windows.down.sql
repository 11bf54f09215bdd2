ALTER TABLE midden.lots DROP CONSTRAINT lots_window_fkey, DROP CONSTRAINT lots_pledge_fkey;

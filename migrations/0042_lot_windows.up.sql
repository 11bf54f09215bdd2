-- The window a lot came at and the pledge it keeps are the garden's own. Lots
-- written before could name anything, so older rows are not looked at.
ALTER TABLE midden.lots
    ADD CONSTRAINT lots_window_fkey FOREIGN KEY (garden_id, window_id)
        REFERENCES midden.drop_off_windows (garden_id, window_id) NOT VALID,
    ADD CONSTRAINT lots_pledge_fkey FOREIGN KEY (garden_id, pledge_id)
        REFERENCES midden.pledges (garden_id, pledge_id) NOT VALID;

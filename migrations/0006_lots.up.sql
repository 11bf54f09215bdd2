-- Lots: what arrived, how its mass was got, and where it stands now. How much
-- is left is the ledger's to say.
CREATE TABLE midden.lots (
    garden_id        uuid NOT NULL REFERENCES midden.gardens (garden_id),
    lot_id           uuid NOT NULL,
    parent_id        uuid,
    material         text COLLATE "C" NOT NULL CHECK (material ~ '^[a-z][a-z0-9_]{0,39}$'),
    from_household   uuid,
    from_member      uuid,
    site_id          uuid NOT NULL,
    window_id        uuid,
    pledge_id        uuid,
    entry_id         uuid NOT NULL,
    method           text NOT NULL CHECK (method IN ('weighed', 'container', 'estimate')),
    entered_value    text NOT NULL CHECK (length(entered_value) BETWEEN 1 AND 40),
    entered_unit     text NOT NULL CHECK (length(entered_unit) BETWEEN 1 AND 20),
    tare_value       text NOT NULL DEFAULT '' CHECK (length(tare_value) <= 40),
    tare_unit        text NOT NULL DEFAULT '' CHECK (length(tare_unit) <= 20),
    gross_g          bigint CHECK (gross_g > 0),
    tare_g           bigint CHECK (tare_g >= 0),
    net_g            bigint NOT NULL CHECK (net_g BETWEEN 1 AND 2000000),
    container        text NOT NULL DEFAULT '' CHECK (length(container) <= 60),
    container_ml     bigint CHECK (container_ml > 0),
    containers       integer CHECK (containers BETWEEN 1 AND 1000),
    fill_pct         integer CHECK (fill_pct BETWEEN 1 AND 100),
    density_g_per_l  double precision CHECK (density_g_per_l > 0),
    rel_sd_permille  integer NOT NULL CHECK (rel_sd_permille BETWEEN 0 AND 2000),
    place            text NOT NULL CHECK (place IN ('shelf', 'cold_room', 'fridge', 'freezer', 'outdoors')),
    use_by           date,
    status           text NOT NULL CHECK (status IN ('received', 'accepted', 'accepted_after_sorting', 'rejected')),
    rejection_reason text NOT NULL DEFAULT '' CHECK (length(rejection_reason) <= 500),
    notice           text NOT NULL DEFAULT '' CHECK (length(notice) <= 1000),
    note             text NOT NULL DEFAULT '' CHECK (length(note) <= 1000),
    received_at      timestamptz NOT NULL,
    received_on      date NOT NULL,
    recorded_at      timestamptz NOT NULL,
    recorded_by      uuid,
    version          integer NOT NULL DEFAULT 1 CHECK (version > 0),
    content_sha256   bytea NOT NULL CHECK (octet_length(content_sha256) = 32),
    PRIMARY KEY (garden_id, lot_id),
    CONSTRAINT lots_parent_fkey FOREIGN KEY (garden_id, parent_id)
        REFERENCES midden.lots (garden_id, lot_id),
    -- The entry is written last, with the postings.
    CONSTRAINT lots_entry_fkey FOREIGN KEY (garden_id, entry_id)
        REFERENCES midden.entries (garden_id, entry_id) DEFERRABLE INITIALLY DEFERRED,
    CONSTRAINT lots_household_fkey FOREIGN KEY (garden_id, from_household)
        REFERENCES midden.households (garden_id, household_id),
    CONSTRAINT lots_member_fkey FOREIGN KEY (garden_id, from_member)
        REFERENCES midden.memberships (garden_id, member_id),
    CONSTRAINT lots_site_fkey FOREIGN KEY (garden_id, site_id)
        REFERENCES midden.sites (garden_id, site_id),
    CONSTRAINT lots_recorder_fkey FOREIGN KEY (garden_id, recorded_by)
        REFERENCES midden.memberships (garden_id, member_id),
    CONSTRAINT lots_one_giver CHECK (from_household IS NULL OR from_member IS NULL),
    CONSTRAINT lots_rejection_has_reason CHECK ((status = 'rejected') = (rejection_reason <> ''))
);
CREATE INDEX lots_by_time ON midden.lots (garden_id, received_at DESC, lot_id DESC);
CREATE INDEX lots_by_window ON midden.lots (garden_id, window_id) WHERE window_id IS NOT NULL;
CREATE INDEX lots_by_parent ON midden.lots (garden_id, parent_id) WHERE parent_id IS NOT NULL;

-- Each storage place a lot has had, so that its history reads back.
CREATE TABLE midden.lot_places (
    garden_id uuid NOT NULL,
    move_id   uuid NOT NULL,
    lot_id    uuid NOT NULL,
    site_id   uuid NOT NULL,
    place     text NOT NULL,
    use_by    date,
    moved_at  timestamptz NOT NULL,
    moved_by  uuid,
    PRIMARY KEY (garden_id, move_id),
    FOREIGN KEY (garden_id, lot_id) REFERENCES midden.lots (garden_id, lot_id),
    FOREIGN KEY (garden_id, site_id) REFERENCES midden.sites (garden_id, site_id),
    FOREIGN KEY (garden_id, moved_by) REFERENCES midden.memberships (garden_id, member_id)
);
CREATE INDEX lot_places_by_lot ON midden.lot_places (garden_id, lot_id, moved_at);

ALTER TABLE midden.lots ENABLE ROW LEVEL SECURITY;
ALTER TABLE midden.lots FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON midden.lots
    USING (garden_id = midden.garden()) WITH CHECK (garden_id = midden.garden());
ALTER TABLE midden.lot_places ENABLE ROW LEVEL SECURITY;
ALTER TABLE midden.lot_places FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON midden.lot_places
    USING (garden_id = midden.garden()) WITH CHECK (garden_id = midden.garden());

DO $$ BEGIN
    IF EXISTS (SELECT FROM pg_roles WHERE rolname = 'midden_app') THEN
        GRANT SELECT, INSERT, UPDATE ON midden.lots TO midden_app;
        GRANT SELECT, INSERT ON midden.lot_places TO midden_app;
    END IF;
END $$;

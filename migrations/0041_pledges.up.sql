-- Pledges: what somebody promised to bring, for a window or for a day and a
-- site. With a window, day and site are the window's own.
CREATE TABLE midden.pledges (
    garden_id       uuid NOT NULL REFERENCES midden.gardens (garden_id),
    pledge_id       uuid NOT NULL,
    series_id       uuid NOT NULL,
    repeat_weeks    integer NOT NULL CHECK (repeat_weeks BETWEEN 1 AND 52),
    window_id       uuid,
    expected_on     date NOT NULL,
    site_id         uuid NOT NULL,
    material        text COLLATE "C" NOT NULL CHECK (material ~ '^[a-z][a-z0-9_]{0,39}$'),
    household_id    uuid,
    member_id       uuid,
    entered         jsonb NOT NULL, -- the amount as a person gave it
    mass_g          bigint NOT NULL CHECK (mass_g BETWEEN 1 AND 2000000),
    rel_sd_permille integer NOT NULL CHECK (rel_sd_permille BETWEEN 0 AND 2000),
    status          text NOT NULL CHECK (status IN ('offered', 'accepted', 'declined', 'withdrawn', 'kept', 'missed')),
    reason          text NOT NULL DEFAULT '' CHECK (length(reason) <= 500),
    note            text NOT NULL DEFAULT '' CHECK (length(note) <= 500),
    promised_at     timestamptz NOT NULL,
    promised_on     date NOT NULL,
    recorded_at     timestamptz NOT NULL,
    recorded_by     uuid,
    decided_at      timestamptz,
    decided_by      uuid,
    content_sha256  bytea NOT NULL CHECK (octet_length(content_sha256) = 32),
    PRIMARY KEY (garden_id, pledge_id),
    CONSTRAINT pledges_series_fkey FOREIGN KEY (garden_id, series_id)
        REFERENCES midden.pledges (garden_id, pledge_id),
    CONSTRAINT pledges_window_fkey FOREIGN KEY (garden_id, window_id)
        REFERENCES midden.drop_off_windows (garden_id, window_id),
    CONSTRAINT pledges_site_fkey FOREIGN KEY (garden_id, site_id)
        REFERENCES midden.sites (garden_id, site_id),
    CONSTRAINT pledges_household_fkey FOREIGN KEY (garden_id, household_id)
        REFERENCES midden.households (garden_id, household_id),
    CONSTRAINT pledges_member_fkey FOREIGN KEY (garden_id, member_id)
        REFERENCES midden.memberships (garden_id, member_id),
    CONSTRAINT pledges_recorder_fkey FOREIGN KEY (garden_id, recorded_by)
        REFERENCES midden.memberships (garden_id, member_id),
    CONSTRAINT pledges_decider_fkey FOREIGN KEY (garden_id, decided_by)
        REFERENCES midden.memberships (garden_id, member_id),
    CONSTRAINT pledges_one_giver CHECK ((household_id IS NULL) <> (member_id IS NULL))
);
CREATE INDEX pledges_by_time ON midden.pledges (garden_id, recorded_at DESC, pledge_id DESC);
CREATE INDEX pledges_by_member ON midden.pledges (garden_id, member_id, recorded_at DESC, pledge_id DESC) WHERE member_id IS NOT NULL;
CREATE INDEX pledges_by_window ON midden.pledges (garden_id, window_id) INCLUDE (status, mass_g) WHERE window_id IS NOT NULL;
CREATE INDEX pledges_open_by_day ON midden.pledges (garden_id, expected_on, pledge_id) WHERE status IN ('offered', 'accepted');

ALTER TABLE midden.pledges ENABLE ROW LEVEL SECURITY;
ALTER TABLE midden.pledges FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON midden.pledges
    USING (garden_id = midden.garden()) WITH CHECK (garden_id = midden.garden());

DO $$ BEGIN
    IF EXISTS (SELECT FROM pg_roles WHERE rolname = 'midden_app') THEN
        GRANT SELECT, INSERT, UPDATE ON midden.pledges TO midden_app;
    END IF;
END $$;

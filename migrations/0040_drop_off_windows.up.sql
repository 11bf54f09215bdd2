-- Drop-off windows: when scraps are taken in at a site. starts_on is the
-- garden-local day of starts_at, worked out when it is written.
CREATE TABLE midden.drop_off_windows (
    garden_id      uuid NOT NULL REFERENCES midden.gardens (garden_id),
    window_id      uuid NOT NULL,
    site_id        uuid NOT NULL,
    starts_at      timestamptz NOT NULL,
    ends_at        timestamptz NOT NULL,
    starts_on      date NOT NULL,
    host_id        uuid,
    capacity_value text NOT NULL DEFAULT '' CHECK (length(capacity_value) <= 40),
    capacity_unit  text NOT NULL DEFAULT '' CHECK (length(capacity_unit) <= 20),
    capacity_g     bigint CHECK (capacity_g > 0),
    status         text NOT NULL CHECK (status IN ('open', 'full', 'moved', 'closed')),
    note           text NOT NULL DEFAULT '' CHECK (length(note) <= 500),
    created_at     timestamptz NOT NULL,
    changed_at     timestamptz NOT NULL,
    version        integer NOT NULL DEFAULT 1 CHECK (version > 0),
    content_sha256 bytea NOT NULL CHECK (octet_length(content_sha256) = 32),
    PRIMARY KEY (garden_id, window_id),
    CONSTRAINT drop_off_windows_site_fkey FOREIGN KEY (garden_id, site_id)
        REFERENCES midden.sites (garden_id, site_id),
    CONSTRAINT drop_off_windows_host_fkey FOREIGN KEY (garden_id, host_id)
        REFERENCES midden.memberships (garden_id, member_id),
    CONSTRAINT drop_off_windows_ends_later CHECK (ends_at > starts_at),
    CONSTRAINT drop_off_windows_capacity CHECK ((capacity_g IS NULL) = (capacity_value = ''))
);
CREATE INDEX drop_off_windows_by_time ON midden.drop_off_windows (garden_id, starts_at, window_id);

ALTER TABLE midden.drop_off_windows ENABLE ROW LEVEL SECURITY;
ALTER TABLE midden.drop_off_windows FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON midden.drop_off_windows
    USING (garden_id = midden.garden()) WITH CHECK (garden_id = midden.garden());

DO $$ BEGIN
    IF EXISTS (SELECT FROM pg_roles WHERE rolname = 'midden_app') THEN
        GRANT SELECT, INSERT, UPDATE ON midden.drop_off_windows TO midden_app;
    END IF;
END $$;

-- Shifts and who took a place in them. A claim is never deleted: it ends
-- released or swapped. Writers hold the shift's row, so there are never more
-- live claims than places. day is the garden's day on which the shift starts.
CREATE TABLE midden.shifts (
    garden_id  uuid NOT NULL REFERENCES midden.gardens (garden_id),
    shift_id   uuid NOT NULL,
    kind       text NOT NULL CHECK (kind IN ('host', 'keeper_round', 'bedding', 'harvest_day', 'wash_up')),
    site_id    uuid NOT NULL,
    starts_at  timestamptz NOT NULL,
    ends_at    timestamptz NOT NULL,
    day        date NOT NULL,
    places     integer NOT NULL CHECK (places BETWEEN 1 AND 50),
    note       text NOT NULL DEFAULT '' CHECK (length(note) <= 500),
    cancelled  boolean NOT NULL DEFAULT false,
    created_at timestamptz NOT NULL,
    version    integer NOT NULL DEFAULT 1 CHECK (version > 0),
    content_sha256 bytea NOT NULL CHECK (octet_length(content_sha256) = 32),
    PRIMARY KEY (garden_id, shift_id),
    CONSTRAINT shifts_times CHECK (starts_at < ends_at),
    CONSTRAINT shifts_site_fkey FOREIGN KEY (garden_id, site_id) REFERENCES midden.sites (garden_id, site_id)
);
CREATE INDEX shifts_by_start ON midden.shifts (garden_id, starts_at, shift_id);
CREATE INDEX shifts_by_day ON midden.shifts (garden_id, day, shift_id);

CREATE TABLE midden.shift_claims (
    garden_id  uuid NOT NULL,
    shift_id   uuid NOT NULL,
    member_id  uuid NOT NULL,
    state      text NOT NULL CHECK (state IN ('claimed', 'swapped', 'released', 'done', 'missed')),
    changed_at timestamptz NOT NULL,
    changed_by uuid NOT NULL,
    reason     text NOT NULL DEFAULT '' CHECK (length(reason) <= 300),
    PRIMARY KEY (garden_id, shift_id, member_id),
    CONSTRAINT shift_claims_shift_fkey FOREIGN KEY (garden_id, shift_id) REFERENCES midden.shifts (garden_id, shift_id),
    CONSTRAINT shift_claims_member_fkey FOREIGN KEY (garden_id, member_id) REFERENCES midden.memberships (garden_id, member_id),
    CONSTRAINT shift_claims_by_fkey FOREIGN KEY (garden_id, changed_by) REFERENCES midden.memberships (garden_id, member_id)
);

ALTER TABLE midden.shifts ENABLE ROW LEVEL SECURITY;
ALTER TABLE midden.shifts FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON midden.shifts
    USING (garden_id = midden.garden()) WITH CHECK (garden_id = midden.garden());
ALTER TABLE midden.shift_claims ENABLE ROW LEVEL SECURITY;
ALTER TABLE midden.shift_claims FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON midden.shift_claims
    USING (garden_id = midden.garden()) WITH CHECK (garden_id = midden.garden());

DO $$ BEGIN
    IF EXISTS (SELECT FROM pg_roles WHERE rolname = 'midden_app') THEN
        GRANT SELECT, INSERT, UPDATE ON midden.shifts, midden.shift_claims TO midden_app;
    END IF;
END $$;

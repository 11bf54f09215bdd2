-- Time that members gave outside shifts. Only ever added to.
CREATE TABLE midden.hours (
    garden_id   uuid NOT NULL REFERENCES midden.gardens (garden_id),
    hours_id    uuid NOT NULL,
    member_id   uuid NOT NULL,
    minutes     integer NOT NULL CHECK (minutes BETWEEN 1 AND 1440),
    work        text NOT NULL CHECK (length(work) BETWEEN 1 AND 200),
    occurred_at timestamptz NOT NULL,
    day         date NOT NULL,
    recorded_at timestamptz NOT NULL,
    recorded_by uuid NOT NULL,
    content_sha256 bytea NOT NULL CHECK (octet_length(content_sha256) = 32),
    PRIMARY KEY (garden_id, hours_id),
    CONSTRAINT hours_member_fkey FOREIGN KEY (garden_id, member_id) REFERENCES midden.memberships (garden_id, member_id),
    CONSTRAINT hours_recorded_by_fkey FOREIGN KEY (garden_id, recorded_by) REFERENCES midden.memberships (garden_id, member_id)
);
CREATE INDEX hours_by_time ON midden.hours (garden_id, occurred_at, hours_id);
CREATE INDEX hours_by_member ON midden.hours (garden_id, member_id, occurred_at, hours_id);
CREATE INDEX hours_by_day ON midden.hours (garden_id, day);

ALTER TABLE midden.hours ENABLE ROW LEVEL SECURITY;
ALTER TABLE midden.hours FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON midden.hours
    USING (garden_id = midden.garden()) WITH CHECK (garden_id = midden.garden());

DO $$ BEGIN
    IF EXISTS (SELECT FROM pg_roles WHERE rolname = 'midden_app') THEN
        GRANT SELECT, INSERT ON midden.hours TO midden_app;
    END IF;
END $$;

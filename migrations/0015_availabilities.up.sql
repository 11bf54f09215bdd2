-- When a keeper can visit bins: a weekly pattern, Sunday the lowest bit, and
-- the days unlike it. A keeper without a row can come on any day.
CREATE TABLE midden.availabilities (
    garden_id  uuid NOT NULL,
    member_id  uuid NOT NULL,
    weekdays   smallint NOT NULL CHECK (weekdays BETWEEN 0 AND 127),
    exceptions jsonb NOT NULL,
    updated_at timestamptz NOT NULL,
    version    integer NOT NULL DEFAULT 1 CHECK (version > 0),
    PRIMARY KEY (garden_id, member_id),
    CONSTRAINT availabilities_member_fkey FOREIGN KEY (garden_id, member_id)
        REFERENCES midden.memberships (garden_id, member_id)
);

ALTER TABLE midden.availabilities ENABLE ROW LEVEL SECURITY;
ALTER TABLE midden.availabilities FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON midden.availabilities
    USING (garden_id = midden.garden()) WITH CHECK (garden_id = midden.garden());

DO $$ BEGIN
    IF EXISTS (SELECT FROM pg_roles WHERE rolname = 'midden_app') THEN
        GRANT SELECT, INSERT, UPDATE ON midden.availabilities TO midden_app;
    END IF;
END $$;

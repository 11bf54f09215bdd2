-- Go-easy groups that the garden does not take for now.
CREATE TABLE midden.not_today (
    garden_id  uuid PRIMARY KEY REFERENCES midden.gardens (garden_id),
    groups     text[] NOT NULL,
    until      date,
    updated_at timestamptz NOT NULL,
    version    integer NOT NULL DEFAULT 1 CHECK (version > 0)
);

ALTER TABLE midden.not_today ENABLE ROW LEVEL SECURITY;
ALTER TABLE midden.not_today FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON midden.not_today
    USING (garden_id = midden.garden()) WITH CHECK (garden_id = midden.garden());

DO $$ BEGIN
    IF EXISTS (SELECT FROM pg_roles WHERE rolname = 'midden_app') THEN
        GRANT SELECT, INSERT, UPDATE ON midden.not_today TO midden_app;
    END IF;
END $$;

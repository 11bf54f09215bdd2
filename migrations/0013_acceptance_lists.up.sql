-- What the garden takes: every version stays, the latest valid on a day holds.
CREATE TABLE midden.acceptance_lists (
    garden_id  uuid NOT NULL REFERENCES midden.gardens (garden_id),
    version    integer NOT NULL CHECK (version > 0),
    accepted   text[] NOT NULL,
    refused    text[] NOT NULL,
    valid_from date NOT NULL,
    note       text NOT NULL DEFAULT '' CHECK (length(note) <= 1000),
    created_at timestamptz NOT NULL,
    created_by uuid,
    PRIMARY KEY (garden_id, version),
    CONSTRAINT acceptance_lists_author_fkey FOREIGN KEY (garden_id, created_by)
        REFERENCES midden.memberships (garden_id, member_id)
);

ALTER TABLE midden.acceptance_lists ENABLE ROW LEVEL SECURITY;
ALTER TABLE midden.acceptance_lists FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON midden.acceptance_lists
    USING (garden_id = midden.garden()) WITH CHECK (garden_id = midden.garden());

DO $$ BEGIN
    IF EXISTS (SELECT FROM pg_roles WHERE rolname = 'midden_app') THEN
        GRANT SELECT, INSERT ON midden.acceptance_lists TO midden_app;
    END IF;
END $$;

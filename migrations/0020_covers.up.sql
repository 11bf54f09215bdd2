-- Cover: a named stand-in for a keeper's bins from a day until another, which
-- is not part of it. Writers hold the keeper's row while they look for an
-- overlap, so no exclusion constraint and no extension is needed.
CREATE TABLE midden.covers (
    garden_id   uuid NOT NULL REFERENCES midden.gardens (garden_id),
    cover_id    uuid NOT NULL,
    keeper_id   uuid NOT NULL,
    stand_in_id uuid NOT NULL,
    from_day    date NOT NULL,
    until_day   date NOT NULL,
    handover    text NOT NULL DEFAULT '' CHECK (length(handover) <= 2000),
    created_at  timestamptz NOT NULL,
    version     integer NOT NULL DEFAULT 1 CHECK (version > 0),
    content_sha256 bytea NOT NULL CHECK (octet_length(content_sha256) = 32),
    PRIMARY KEY (garden_id, cover_id),
    CONSTRAINT covers_days CHECK (from_day < until_day),
    CONSTRAINT covers_two_people CHECK (keeper_id <> stand_in_id),
    CONSTRAINT covers_keeper_fkey FOREIGN KEY (garden_id, keeper_id) REFERENCES midden.memberships (garden_id, member_id),
    CONSTRAINT covers_stand_in_fkey FOREIGN KEY (garden_id, stand_in_id) REFERENCES midden.memberships (garden_id, member_id)
);
CREATE INDEX covers_by_start ON midden.covers (garden_id, from_day, cover_id);
CREATE INDEX covers_by_end ON midden.covers (garden_id, until_day);
CREATE INDEX covers_by_keeper ON midden.covers (garden_id, keeper_id, until_day);

ALTER TABLE midden.covers ENABLE ROW LEVEL SECURITY;
ALTER TABLE midden.covers FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON midden.covers
    USING (garden_id = midden.garden()) WITH CHECK (garden_id = midden.garden());

DO $$ BEGIN
    IF EXISTS (SELECT FROM pg_roles WHERE rolname = 'midden_app') THEN
        GRANT SELECT, INSERT, UPDATE ON midden.covers TO midden_app;
    END IF;
END $$;

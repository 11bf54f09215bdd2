-- Castings taken from a section. entered and worms keep what was entered.
CREATE TABLE midden.harvests (
    garden_id       uuid NOT NULL REFERENCES midden.gardens (garden_id),
    harvest_id      uuid NOT NULL,
    bin_id          uuid NOT NULL,
    section_id      uuid NOT NULL,
    castings_lot_id uuid NOT NULL,
    entered         jsonb NOT NULL,
    mass_g          bigint NOT NULL CHECK (mass_g > 0),
    worms           jsonb,
    worms_g         bigint NOT NULL DEFAULT 0 CHECK (worms_g >= 0),
    found_g         bigint NOT NULL DEFAULT 0 CHECK (found_g BETWEEN 0 AND worms_g),
    emptied         boolean NOT NULL,
    closed_g        bigint NOT NULL CHECK (closed_g >= 0),
    worms_left_g    bigint CHECK (worms_left_g >= 0),
    note            text NOT NULL DEFAULT '' CHECK (length(note) <= 1000),
    entry_id        uuid NOT NULL,
    occurred_at     timestamptz NOT NULL,
    day             date NOT NULL,
    recorded_at     timestamptz NOT NULL,
    recorded_by     uuid,
    content_sha256  bytea NOT NULL CHECK (octet_length(content_sha256) = 32),
    PRIMARY KEY (garden_id, harvest_id),
    CONSTRAINT harvests_lot_key UNIQUE (garden_id, castings_lot_id),
    FOREIGN KEY (garden_id, castings_lot_id) REFERENCES midden.castings_lots (garden_id, castings_lot_id),
    FOREIGN KEY (garden_id, bin_id, section_id) REFERENCES midden.sections (garden_id, bin_id, section_id),
    FOREIGN KEY (garden_id, entry_id) REFERENCES midden.entries (garden_id, entry_id) DEFERRABLE INITIALLY DEFERRED,
    FOREIGN KEY (garden_id, recorded_by) REFERENCES midden.memberships (garden_id, member_id)
);
CREATE INDEX harvests_by_time ON midden.harvests (garden_id, occurred_at DESC, harvest_id DESC);
CREATE INDEX harvests_by_bin ON midden.harvests (garden_id, bin_id, occurred_at);

ALTER TABLE midden.harvests ENABLE ROW LEVEL SECURITY;
ALTER TABLE midden.harvests FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON midden.harvests
    USING (garden_id = midden.garden()) WITH CHECK (garden_id = midden.garden());

DO $$ BEGIN
    IF EXISTS (SELECT FROM pg_roles WHERE rolname = 'midden_app') THEN
        GRANT SELECT, INSERT ON midden.harvests TO midden_app;
    END IF;
END $$;

-- Castings given away. recipient_class says which bed or which class of
-- outsider; no names.
CREATE TABLE midden.giveaways (
    garden_id       uuid NOT NULL REFERENCES midden.gardens (garden_id),
    giveaway_id     uuid NOT NULL,
    castings_lot_id uuid NOT NULL,
    entered         jsonb NOT NULL,
    mass_g          bigint NOT NULL CHECK (mass_g > 0),
    recipient       text NOT NULL CHECK (recipient IN ('member', 'household', 'bed', 'outsider')),
    member_id       uuid,
    household_id    uuid,
    recipient_class text NOT NULL DEFAULT '' CHECK (length(recipient_class) <= 80),
    note            text NOT NULL DEFAULT '' CHECK (length(note) <= 500),
    entry_id        uuid NOT NULL,
    occurred_at     timestamptz NOT NULL,
    day             date NOT NULL,
    recorded_at     timestamptz NOT NULL,
    recorded_by     uuid,
    content_sha256  bytea NOT NULL CHECK (octet_length(content_sha256) = 32),
    PRIMARY KEY (garden_id, giveaway_id),
    CHECK ((recipient = 'member') = (member_id IS NOT NULL)),
    CHECK ((recipient = 'household') = (household_id IS NOT NULL)),
    CHECK ((recipient IN ('bed', 'outsider')) = (recipient_class <> '')),
    CONSTRAINT giveaways_lot_fkey FOREIGN KEY (garden_id, castings_lot_id) REFERENCES midden.castings_lots (garden_id, castings_lot_id),
    CONSTRAINT giveaways_member_fkey FOREIGN KEY (garden_id, member_id) REFERENCES midden.memberships (garden_id, member_id),
    CONSTRAINT giveaways_household_fkey FOREIGN KEY (garden_id, household_id) REFERENCES midden.households (garden_id, household_id),
    FOREIGN KEY (garden_id, entry_id) REFERENCES midden.entries (garden_id, entry_id) DEFERRABLE INITIALLY DEFERRED,
    FOREIGN KEY (garden_id, recorded_by) REFERENCES midden.memberships (garden_id, member_id)
);
CREATE INDEX giveaways_by_time ON midden.giveaways (garden_id, occurred_at DESC, giveaway_id DESC);
CREATE INDEX giveaways_by_lot ON midden.giveaways (garden_id, castings_lot_id, occurred_at);

ALTER TABLE midden.giveaways ENABLE ROW LEVEL SECURITY;
ALTER TABLE midden.giveaways FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON midden.giveaways
    USING (garden_id = midden.garden()) WITH CHECK (garden_id = midden.garden());

DO $$ BEGIN
    IF EXISTS (SELECT FROM pg_roles WHERE rolname = 'midden_app') THEN
        GRANT SELECT, INSERT ON midden.giveaways TO midden_app;
    END IF;
END $$;

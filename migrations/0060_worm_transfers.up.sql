-- Worms moved between sections, in from outside or out. The grams that count
-- are the ledger's; worms, bedding_along and lost keep what was entered.
CREATE TABLE midden.worm_transfers (
    garden_id     uuid NOT NULL REFERENCES midden.gardens (garden_id),
    transfer_id   uuid NOT NULL,
    from_bin      uuid,
    from_section  uuid,
    from_outside  text NOT NULL DEFAULT '' CHECK (length(from_outside) <= 200),
    to_bin        uuid,
    to_section    uuid,
    to_outside    text NOT NULL DEFAULT '' CHECK (length(to_outside) <= 200),
    species       text NOT NULL CHECK (species IN ('eisenia', 'dendrobaena', 'perionyx', 'mixed')),
    reason        text NOT NULL CHECK (reason IN ('split', 'lure', 'set_up', 'rescue', 'weighing', 'gift', 'purchase', 'other')),
    worms         jsonb NOT NULL,
    bedding_along jsonb,
    lost          jsonb,
    mass_g        bigint NOT NULL CHECK (mass_g > 0),
    lost_g        bigint NOT NULL CHECK (lost_g BETWEEN 0 AND mass_g),
    found_g       bigint NOT NULL CHECK (found_g BETWEEN 0 AND mass_g),
    rel_sd_permille integer NOT NULL CHECK (rel_sd_permille BETWEEN 0 AND 2000),
    note          text NOT NULL DEFAULT '' CHECK (length(note) <= 1000),
    entry_id      uuid NOT NULL,
    occurred_at   timestamptz NOT NULL,
    day           date NOT NULL,
    recorded_at   timestamptz NOT NULL,
    recorded_by   uuid,
    content_sha256 bytea NOT NULL CHECK (octet_length(content_sha256) = 32),
    PRIMARY KEY (garden_id, transfer_id),
    CHECK ((from_bin IS NULL) = (from_section IS NULL) AND (from_bin IS NULL) = (from_outside <> '')),
    CHECK ((to_bin IS NULL) = (to_section IS NULL) AND (to_bin IS NULL) = (to_outside <> '')),
    CHECK (from_section IS NOT NULL OR to_section IS NOT NULL),
    CHECK (from_section IS DISTINCT FROM to_section),
    FOREIGN KEY (garden_id, from_bin, from_section) REFERENCES midden.sections (garden_id, bin_id, section_id),
    FOREIGN KEY (garden_id, to_bin, to_section) REFERENCES midden.sections (garden_id, bin_id, section_id),
    FOREIGN KEY (garden_id, entry_id) REFERENCES midden.entries (garden_id, entry_id) DEFERRABLE INITIALLY DEFERRED,
    FOREIGN KEY (garden_id, recorded_by) REFERENCES midden.memberships (garden_id, member_id)
);
CREATE INDEX worm_transfers_by_time ON midden.worm_transfers (garden_id, occurred_at DESC, transfer_id DESC);
CREATE INDEX worm_transfers_out_of ON midden.worm_transfers (garden_id, from_bin, occurred_at);
CREATE INDEX worm_transfers_into ON midden.worm_transfers (garden_id, to_bin, occurred_at);

ALTER TABLE midden.worm_transfers ENABLE ROW LEVEL SECURITY;
ALTER TABLE midden.worm_transfers FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON midden.worm_transfers
    USING (garden_id = midden.garden()) WITH CHECK (garden_id = midden.garden());

DO $$ BEGIN
    IF EXISTS (SELECT FROM pg_roles WHERE rolname = 'midden_app') THEN
        GRANT SELECT, INSERT ON midden.worm_transfers TO midden_app;
    END IF;
END $$;

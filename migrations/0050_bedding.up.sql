-- Bedding: dry as it came, batches that age, what went into them, and looks at
-- them. How much is left is the ledger's to say.
CREATE TABLE midden.dry_bedding (
    garden_id       uuid NOT NULL REFERENCES midden.gardens (garden_id),
    dry_bedding_id  uuid NOT NULL,
    material        text COLLATE "C" NOT NULL CHECK (material ~ '^[a-z][a-z0-9_]{0,39}$'),
    site_id         uuid NOT NULL,
    reserve         boolean NOT NULL,
    entered         jsonb NOT NULL, -- the amount as a person gave it
    net_g           bigint NOT NULL CHECK (net_g BETWEEN 1 AND 2000000),
    rel_sd_permille integer NOT NULL CHECK (rel_sd_permille BETWEEN 0 AND 2000),
    note            text NOT NULL CHECK (length(note) <= 500),
    entry_id        uuid NOT NULL,
    received_at     timestamptz NOT NULL,
    received_on     date NOT NULL,
    recorded_at     timestamptz NOT NULL,
    recorded_by     uuid NOT NULL,
    content_sha256  bytea NOT NULL CHECK (octet_length(content_sha256) = 32),
    PRIMARY KEY (garden_id, dry_bedding_id),
    -- The entry is written last, with the postings.
    CONSTRAINT dry_bedding_entry_fkey FOREIGN KEY (garden_id, entry_id)
        REFERENCES midden.entries (garden_id, entry_id) DEFERRABLE INITIALLY DEFERRED,
    CONSTRAINT dry_bedding_site_fkey FOREIGN KEY (garden_id, site_id)
        REFERENCES midden.sites (garden_id, site_id),
    CONSTRAINT dry_bedding_recorder_fkey FOREIGN KEY (garden_id, recorded_by)
        REFERENCES midden.memberships (garden_id, member_id)
);
CREATE INDEX dry_bedding_by_time ON midden.dry_bedding (garden_id, received_at DESC, dry_bedding_id DESC);

CREATE TABLE midden.bedding_batches (
    garden_id      uuid NOT NULL REFERENCES midden.gardens (garden_id),
    batch_id       uuid NOT NULL,
    site_id        uuid NOT NULL,
    water_value    text NOT NULL CHECK (length(water_value) <= 40),
    water_unit     text NOT NULL CHECK (length(water_unit) <= 20),
    water_g        bigint NOT NULL CHECK (water_g BETWEEN 0 AND 2000000),
    tubs           integer CHECK (tubs BETWEEN 1 AND 1000),
    stand_in       boolean NOT NULL,
    note           text NOT NULL CHECK (length(note) <= 500),
    moisture_pct   double precision NOT NULL CHECK (moisture_pct BETWEEN 0 AND 100),
    ready_on       date NOT NULL,
    entry_id       uuid NOT NULL,
    started_at     timestamptz NOT NULL,
    started_on     date NOT NULL,
    recorded_at    timestamptz NOT NULL,
    recorded_by    uuid NOT NULL,
    content_sha256 bytea NOT NULL CHECK (octet_length(content_sha256) = 32),
    PRIMARY KEY (garden_id, batch_id),
    CONSTRAINT bedding_batches_entry_fkey FOREIGN KEY (garden_id, entry_id)
        REFERENCES midden.entries (garden_id, entry_id) DEFERRABLE INITIALLY DEFERRED,
    CONSTRAINT bedding_batches_site_fkey FOREIGN KEY (garden_id, site_id)
        REFERENCES midden.sites (garden_id, site_id),
    CONSTRAINT bedding_batches_recorder_fkey FOREIGN KEY (garden_id, recorded_by)
        REFERENCES midden.memberships (garden_id, member_id)
);
CREATE INDEX bedding_batches_by_time ON midden.bedding_batches (garden_id, started_at DESC, batch_id DESC);

CREATE TABLE midden.bedding_batch_parts (
    garden_id       uuid NOT NULL,
    batch_id        uuid NOT NULL,
    line            smallint NOT NULL CHECK (line >= 0),
    dry_bedding_id  uuid NOT NULL,
    material        text COLLATE "C" NOT NULL,
    entered         jsonb, -- NULL: all that was left
    net_g           bigint NOT NULL CHECK (net_g > 0),
    rel_sd_permille integer NOT NULL CHECK (rel_sd_permille BETWEEN 0 AND 2000),
    PRIMARY KEY (garden_id, batch_id, line),
    CONSTRAINT bedding_batch_parts_once UNIQUE (garden_id, batch_id, dry_bedding_id),
    FOREIGN KEY (garden_id, batch_id) REFERENCES midden.bedding_batches (garden_id, batch_id),
    FOREIGN KEY (garden_id, dry_bedding_id) REFERENCES midden.dry_bedding (garden_id, dry_bedding_id)
);

CREATE TABLE midden.bedding_looks (
    garden_id   uuid NOT NULL,
    look_id     uuid NOT NULL,
    batch_id    uuid NOT NULL,
    seen_at     timestamptz NOT NULL,
    seen_on     date NOT NULL,
    temp_c      double precision NOT NULL,
    room_c      double precision NOT NULL,
    squeeze     smallint NOT NULL CHECK (squeeze BETWEEN 1 AND 5),
    smell       text NOT NULL CHECK (smell IN ('earth', 'nothing', 'sour', 'ammonia', 'rotten')),
    recorded_at timestamptz NOT NULL,
    recorded_by uuid NOT NULL,
    PRIMARY KEY (garden_id, look_id),
    FOREIGN KEY (garden_id, batch_id) REFERENCES midden.bedding_batches (garden_id, batch_id),
    FOREIGN KEY (garden_id, recorded_by) REFERENCES midden.memberships (garden_id, member_id)
);
CREATE INDEX bedding_looks_by_batch ON midden.bedding_looks (garden_id, batch_id, seen_at DESC, look_id DESC);

ALTER TABLE midden.dry_bedding ENABLE ROW LEVEL SECURITY;
ALTER TABLE midden.dry_bedding FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON midden.dry_bedding
    USING (garden_id = midden.garden()) WITH CHECK (garden_id = midden.garden());
ALTER TABLE midden.bedding_batches ENABLE ROW LEVEL SECURITY;
ALTER TABLE midden.bedding_batches FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON midden.bedding_batches
    USING (garden_id = midden.garden()) WITH CHECK (garden_id = midden.garden());
ALTER TABLE midden.bedding_batch_parts ENABLE ROW LEVEL SECURITY;
ALTER TABLE midden.bedding_batch_parts FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON midden.bedding_batch_parts
    USING (garden_id = midden.garden()) WITH CHECK (garden_id = midden.garden());
ALTER TABLE midden.bedding_looks ENABLE ROW LEVEL SECURITY;
ALTER TABLE midden.bedding_looks FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON midden.bedding_looks
    USING (garden_id = midden.garden()) WITH CHECK (garden_id = midden.garden());

DO $$ BEGIN
    IF EXISTS (SELECT FROM pg_roles WHERE rolname = 'midden_app') THEN
        GRANT SELECT, INSERT ON midden.dry_bedding, midden.bedding_batches, midden.bedding_batch_parts,
            midden.bedding_looks TO midden_app;
    END IF;
END $$;

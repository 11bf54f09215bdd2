-- Feedings: which lots, or parts of them, went into which section, with which
-- bedding. The grams that moved are the entry's; what was entered stands here.
CREATE TABLE midden.feedings (
    garden_id      uuid NOT NULL REFERENCES midden.gardens (garden_id),
    feeding_id     uuid NOT NULL,
    bin_id         uuid NOT NULL,
    section_id     uuid NOT NULL,
    cover_mm       integer CHECK (cover_mm BETWEEN 0 AND 500),
    plan_task_id   uuid,
    note           text NOT NULL CHECK (length(note) <= 1000),
    warnings       jsonb NOT NULL, -- as they were given then
    entry_id       uuid NOT NULL,
    fed_at         timestamptz NOT NULL,
    fed_on         date NOT NULL,
    recorded_at    timestamptz NOT NULL,
    recorded_by    uuid NOT NULL,
    content_sha256 bytea NOT NULL CHECK (octet_length(content_sha256) = 32),
    PRIMARY KEY (garden_id, feeding_id),
    -- The entry is written last, with the postings.
    CONSTRAINT feedings_entry_fkey FOREIGN KEY (garden_id, entry_id)
        REFERENCES midden.entries (garden_id, entry_id) DEFERRABLE INITIALLY DEFERRED,
    CONSTRAINT feedings_section_fkey FOREIGN KEY (garden_id, bin_id, section_id)
        REFERENCES midden.sections (garden_id, bin_id, section_id),
    CONSTRAINT feedings_recorder_fkey FOREIGN KEY (garden_id, recorded_by)
        REFERENCES midden.memberships (garden_id, member_id)
);
CREATE INDEX feedings_by_time ON midden.feedings (garden_id, fed_at DESC, feeding_id DESC);
CREATE INDEX feedings_by_bin ON midden.feedings (garden_id, bin_id, fed_at DESC, feeding_id DESC);

CREATE TABLE midden.feeding_lots (
    garden_id       uuid NOT NULL,
    feeding_id      uuid NOT NULL,
    line            smallint NOT NULL CHECK (line >= 0),
    lot_id          uuid NOT NULL,
    material        text COLLATE "C" NOT NULL,
    unrecorded      boolean NOT NULL, -- the lot was booked in with the feeding
    entered         jsonb, -- NULL: all that was left
    net_g           bigint NOT NULL CHECK (net_g > 0),
    rel_sd_permille integer NOT NULL CHECK (rel_sd_permille BETWEEN 0 AND 2000),
    PRIMARY KEY (garden_id, feeding_id, line),
    CONSTRAINT feeding_lots_once UNIQUE (garden_id, feeding_id, lot_id),
    FOREIGN KEY (garden_id, feeding_id) REFERENCES midden.feedings (garden_id, feeding_id),
    CONSTRAINT feeding_lots_lot_fkey FOREIGN KEY (garden_id, lot_id) REFERENCES midden.lots (garden_id, lot_id)
);

CREATE TABLE midden.feeding_bedding (
    garden_id       uuid NOT NULL,
    feeding_id      uuid NOT NULL,
    line            smallint NOT NULL CHECK (line >= 0),
    batch_id        uuid,
    dry_bedding_id  uuid,
    aged_days       integer CHECK (aged_days >= 0),
    moisture_pct    double precision NOT NULL CHECK (moisture_pct BETWEEN 0 AND 100),
    entered         jsonb, -- NULL: all that was left
    rel_sd_permille integer NOT NULL CHECK (rel_sd_permille BETWEEN 0 AND 2000),
    materials       text[] NOT NULL CHECK (cardinality(materials) BETWEEN 1 AND 20),
    grams           bigint[] NOT NULL CHECK (cardinality(grams) = cardinality(materials) AND 0 < ALL (grams)),
    PRIMARY KEY (garden_id, feeding_id, line),
    CONSTRAINT feeding_bedding_one_source CHECK ((batch_id IS NULL) <> (dry_bedding_id IS NULL)),
    FOREIGN KEY (garden_id, feeding_id) REFERENCES midden.feedings (garden_id, feeding_id),
    FOREIGN KEY (garden_id, batch_id) REFERENCES midden.bedding_batches (garden_id, batch_id),
    FOREIGN KEY (garden_id, dry_bedding_id) REFERENCES midden.dry_bedding (garden_id, dry_bedding_id)
);

ALTER TABLE midden.feedings ENABLE ROW LEVEL SECURITY;
ALTER TABLE midden.feedings FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON midden.feedings
    USING (garden_id = midden.garden()) WITH CHECK (garden_id = midden.garden());
ALTER TABLE midden.feeding_lots ENABLE ROW LEVEL SECURITY;
ALTER TABLE midden.feeding_lots FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON midden.feeding_lots
    USING (garden_id = midden.garden()) WITH CHECK (garden_id = midden.garden());
ALTER TABLE midden.feeding_bedding ENABLE ROW LEVEL SECURITY;
ALTER TABLE midden.feeding_bedding FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON midden.feeding_bedding
    USING (garden_id = midden.garden()) WITH CHECK (garden_id = midden.garden());

DO $$ BEGIN
    IF EXISTS (SELECT FROM pg_roles WHERE rolname = 'midden_app') THEN
        GRANT SELECT, INSERT ON midden.feedings, midden.feeding_lots, midden.feeding_bedding TO midden_app;
    END IF;
END $$;

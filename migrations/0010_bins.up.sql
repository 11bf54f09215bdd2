-- Bins, who keeps them, and their sections. A section's id never changes, only
-- its stage: the ledger's accounts are built on it.
CREATE TABLE midden.bins (
    garden_id   uuid NOT NULL REFERENCES midden.gardens (garden_id),
    bin_id      uuid NOT NULL,
    name        text NOT NULL CHECK (length(name) BETWEEN 1 AND 120),
    name_folded text COLLATE "C" NOT NULL,
    site_id     uuid NOT NULL,
    method      text NOT NULL CHECK (method IN ('wedge', 'windrow', 'flow_through', 'stacked_trays', 'batch')),
    shape       text NOT NULL CHECK (shape IN ('box', 'trough', 'cylinder', 'stack')),
    length_mm   integer NOT NULL DEFAULT 0 CHECK (length_mm >= 0),
    width_mm    integer NOT NULL DEFAULT 0 CHECK (width_mm >= 0),
    depth_mm    integer NOT NULL DEFAULT 0 CHECK (depth_mm >= 0),
    radius_mm   integer NOT NULL DEFAULT 0 CHECK (radius_mm >= 0),
    boxes       integer NOT NULL DEFAULT 0 CHECK (boxes >= 0),
    drained     boolean NOT NULL,
    lidded      boolean NOT NULL,
    ventilation text NOT NULL CHECK (ventilation IN ('none', 'holes', 'mesh', 'open')),
    species     text NOT NULL CHECK (species IN ('eisenia', 'dendrobaena', 'perionyx', 'mixed')),
    status      text NOT NULL CHECK (status IN ('being_set_up', 'in_use', 'resting', 'quarantine', 'closed')),
    bedding_laid_on  date,
    bedding_depth_mm integer CHECK (bedding_depth_mm BETWEEN 0 AND 1000),
    grit_added       boolean NOT NULL DEFAULT false,
    worms_laid_on    date,
    first_feed_on    date,
    note        text NOT NULL DEFAULT '' CHECK (length(note) <= 2000),
    created_at  timestamptz NOT NULL,
    version     integer NOT NULL DEFAULT 1 CHECK (version > 0),
    content_sha256 bytea NOT NULL CHECK (octet_length(content_sha256) = 32),
    PRIMARY KEY (garden_id, bin_id),
    CONSTRAINT bins_name_key UNIQUE (garden_id, name_folded),
    CONSTRAINT bins_site_fkey FOREIGN KEY (garden_id, site_id) REFERENCES midden.sites (garden_id, site_id)
);

CREATE TABLE midden.bin_keepers (
    garden_id uuid NOT NULL,
    bin_id    uuid NOT NULL,
    member_id uuid NOT NULL,
    PRIMARY KEY (garden_id, bin_id, member_id),
    CONSTRAINT bin_keepers_bin_fkey FOREIGN KEY (garden_id, bin_id) REFERENCES midden.bins (garden_id, bin_id),
    CONSTRAINT bin_keepers_member_fkey FOREIGN KEY (garden_id, member_id) REFERENCES midden.memberships (garden_id, member_id)
);
CREATE INDEX bin_keepers_by_member ON midden.bin_keepers (garden_id, member_id, bin_id);

CREATE TABLE midden.sections (
    garden_id  uuid NOT NULL,
    section_id uuid NOT NULL,
    bin_id     uuid NOT NULL,
    name       text NOT NULL CHECK (length(name) BETWEEN 1 AND 80),
    position   integer NOT NULL CHECK (position BETWEEN 0 AND 1000),
    stage      text NOT NULL CHECK (stage IN ('feeding', 'working', 'maturing', 'finished')),
    started_on date,
    emptied_on date,
    created_at timestamptz NOT NULL,
    version    integer NOT NULL DEFAULT 1 CHECK (version > 0),
    content_sha256 bytea NOT NULL CHECK (octet_length(content_sha256) = 32),
    PRIMARY KEY (garden_id, section_id),
    CONSTRAINT sections_of_bin UNIQUE (garden_id, bin_id, section_id),
    CONSTRAINT sections_bin_fkey FOREIGN KEY (garden_id, bin_id) REFERENCES midden.bins (garden_id, bin_id)
);
CREATE INDEX sections_by_bin ON midden.sections (garden_id, bin_id, position, section_id);

ALTER TABLE midden.bins ENABLE ROW LEVEL SECURITY;
ALTER TABLE midden.bins FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON midden.bins
    USING (garden_id = midden.garden()) WITH CHECK (garden_id = midden.garden());
ALTER TABLE midden.bin_keepers ENABLE ROW LEVEL SECURITY;
ALTER TABLE midden.bin_keepers FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON midden.bin_keepers
    USING (garden_id = midden.garden()) WITH CHECK (garden_id = midden.garden());
ALTER TABLE midden.sections ENABLE ROW LEVEL SECURITY;
ALTER TABLE midden.sections FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON midden.sections
    USING (garden_id = midden.garden()) WITH CHECK (garden_id = midden.garden());

DO $$ BEGIN
    IF EXISTS (SELECT FROM pg_roles WHERE rolname = 'midden_app') THEN
        GRANT SELECT, INSERT, UPDATE ON midden.bins, midden.sections TO midden_app;
        GRANT SELECT, INSERT, DELETE ON midden.bin_keepers TO midden_app;
    END IF;
END $$;

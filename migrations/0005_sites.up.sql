-- Where things stand, where the surplus goes, and what a garden says about materials.
CREATE TABLE midden.sites (
    garden_id  uuid NOT NULL REFERENCES midden.gardens (garden_id),
    site_id    uuid NOT NULL,
    name       text NOT NULL CHECK (length(name) BETWEEN 1 AND 120),
    kind       text NOT NULL CHECK (kind IN ('shed', 'basement', 'plot', 'greenhouse', 'outdoors', 'other')),
    latitude   double precision CHECK (latitude BETWEEN -90 AND 90),
    longitude  double precision CHECK (longitude BETWEEN -180 AND 180),
    freezer_l  integer NOT NULL DEFAULT 0 CHECK (freezer_l BETWEEN 0 AND 100000),
    area_m2    double precision NOT NULL DEFAULT 0 CHECK (area_m2 >= 0),
    note       text NOT NULL DEFAULT '' CHECK (length(note) <= 1000),
    active     boolean NOT NULL DEFAULT true,
    created_at timestamptz NOT NULL,
    version    integer NOT NULL DEFAULT 1 CHECK (version > 0),
    content_sha256 bytea NOT NULL CHECK (octet_length(content_sha256) = 32),
    PRIMARY KEY (garden_id, site_id),
    CONSTRAINT sites_name_key UNIQUE (garden_id, name),
    CONSTRAINT sites_coordinates CHECK ((latitude IS NULL) = (longitude IS NULL))
);

ALTER TABLE midden.postings ADD CONSTRAINT postings_site_fkey
    FOREIGN KEY (garden_id, site_id) REFERENCES midden.sites (garden_id, site_id);

CREATE TABLE midden.overflow_places (
    garden_id   uuid NOT NULL REFERENCES midden.gardens (garden_id),
    place_id    uuid NOT NULL,
    name        text NOT NULL CHECK (length(name) BETWEEN 1 AND 120),
    kind        text NOT NULL CHECK (kind IN ('hot_heap', 'other_garden', 'other')),
    weekly_g    bigint CHECK (weekly_g > 0),
    browns_ratio double precision CHECK (browns_ratio >= 0),
    note        text NOT NULL DEFAULT '' CHECK (length(note) <= 1000),
    active      boolean NOT NULL DEFAULT true,
    created_at  timestamptz NOT NULL,
    version     integer NOT NULL DEFAULT 1 CHECK (version > 0),
    content_sha256 bytea NOT NULL CHECK (octet_length(content_sha256) = 32),
    PRIMARY KEY (garden_id, place_id),
    CONSTRAINT overflow_places_name_key UNIQUE (garden_id, name)
);

-- A garden's own figures for a material of the catalogue, or a material of its own.
CREATE TABLE midden.garden_materials (
    garden_id  uuid NOT NULL REFERENCES midden.gardens (garden_id),
    key        text COLLATE "C" NOT NULL CHECK (key ~ '^[a-z][a-z0-9_]{0,39}$'),
    figures    jsonb NOT NULL,
    updated_at timestamptz NOT NULL,
    version    integer NOT NULL DEFAULT 1 CHECK (version > 0),
    PRIMARY KEY (garden_id, key)
);

ALTER TABLE midden.sites ENABLE ROW LEVEL SECURITY;
ALTER TABLE midden.sites FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON midden.sites
    USING (garden_id = midden.garden()) WITH CHECK (garden_id = midden.garden());
ALTER TABLE midden.overflow_places ENABLE ROW LEVEL SECURITY;
ALTER TABLE midden.overflow_places FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON midden.overflow_places
    USING (garden_id = midden.garden()) WITH CHECK (garden_id = midden.garden());
ALTER TABLE midden.garden_materials ENABLE ROW LEVEL SECURITY;
ALTER TABLE midden.garden_materials FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON midden.garden_materials
    USING (garden_id = midden.garden()) WITH CHECK (garden_id = midden.garden());

DO $$ BEGIN
    IF EXISTS (SELECT FROM pg_roles WHERE rolname = 'midden_app') THEN
        GRANT SELECT, INSERT, UPDATE ON midden.sites, midden.overflow_places TO midden_app;
        GRANT SELECT, INSERT, UPDATE, DELETE ON midden.garden_materials TO midden_app;
    END IF;
END $$;

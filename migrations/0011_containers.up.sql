-- Vessels that a garden counts scraps in, or weighs them in: volume and tare
-- as they were entered, and worked out once.
CREATE TABLE midden.containers (
    garden_id    uuid NOT NULL REFERENCES midden.gardens (garden_id),
    container_id uuid NOT NULL,
    name         text NOT NULL CHECK (length(name) BETWEEN 1 AND 120),
    volume_value text NOT NULL CHECK (length(volume_value) BETWEEN 1 AND 40),
    volume_unit  text NOT NULL CHECK (length(volume_unit) BETWEEN 1 AND 20),
    volume_ml    bigint NOT NULL CHECK (volume_ml BETWEEN 1 AND 10000000),
    tare_value   text NOT NULL DEFAULT '' CHECK (length(tare_value) <= 40),
    tare_unit    text NOT NULL DEFAULT '' CHECK (length(tare_unit) <= 20),
    tare_g       bigint CHECK (tare_g >= 0),
    created_at   timestamptz NOT NULL,
    version      integer NOT NULL DEFAULT 1 CHECK (version > 0),
    content_sha256 bytea NOT NULL CHECK (octet_length(content_sha256) = 32),
    PRIMARY KEY (garden_id, container_id),
    CONSTRAINT containers_name_key UNIQUE (garden_id, name),
    CONSTRAINT containers_tare_whole CHECK ((tare_value = '') = (tare_g IS NULL))
);

ALTER TABLE midden.containers ENABLE ROW LEVEL SECURITY;
ALTER TABLE midden.containers FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON midden.containers
    USING (garden_id = midden.garden()) WITH CHECK (garden_id = midden.garden());

DO $$ BEGIN
    IF EXISTS (SELECT FROM pg_roles WHERE rolname = 'midden_app') THEN
        GRANT SELECT, INSERT, UPDATE ON midden.containers TO midden_app;
    END IF;
END $$;

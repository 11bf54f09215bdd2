-- Checks: what keepers saw, and what a full check saw in each section.
CREATE TABLE midden.checks (
    garden_id      uuid NOT NULL REFERENCES midden.gardens (garden_id),
    check_id       uuid NOT NULL,
    bin_id         uuid NOT NULL,
    kind           text NOT NULL CHECK (kind IN ('quick', 'full')),
    smell          text CHECK (smell IN ('earth', 'nothing', 'sour', 'ammonia', 'rotten')),
    squeeze_top    smallint CHECK (squeeze_top BETWEEN 1 AND 5),
    squeeze_bottom smallint CHECK (squeeze_bottom BETWEEN 1 AND 5),
    food_left      text CHECK (food_left IN ('none', 'a_little', 'half', 'most')),
    food_left_of   text[] NOT NULL DEFAULT '{}',
    feed_c         double precision CHECK (feed_c BETWEEN -30 AND 90),
    bed_c          double precision CHECK (bed_c BETWEEN -30 AND 90),
    room_c         double precision CHECK (room_c BETWEEN -40 AND 60),
    thermometer    text CHECK (thermometer IN ('probe', 'dial')),
    leaving        boolean NOT NULL DEFAULT false,
    pests          text[] NOT NULL DEFAULT '{}',
    odd            text NOT NULL DEFAULT '' CHECK (length(odd) <= 1000),
    occurred_at    timestamptz NOT NULL,
    day            date NOT NULL,
    recorded_at    timestamptz NOT NULL,
    recorded_by    uuid NOT NULL,
    content_sha256 bytea NOT NULL CHECK (octet_length(content_sha256) = 32),
    PRIMARY KEY (garden_id, check_id),
    CONSTRAINT checks_bin_fkey FOREIGN KEY (garden_id, bin_id) REFERENCES midden.bins (garden_id, bin_id),
    CONSTRAINT checks_recorder_fkey FOREIGN KEY (garden_id, recorded_by) REFERENCES midden.memberships (garden_id, member_id)
);
CREATE INDEX checks_by_time ON midden.checks (garden_id, occurred_at DESC, check_id DESC);
CREATE INDEX checks_by_bin ON midden.checks (garden_id, bin_id, occurred_at DESC, check_id DESC);

CREATE TABLE midden.check_looks (
    garden_id  uuid NOT NULL,
    check_id   uuid NOT NULL,
    section_id uuid NOT NULL,
    depth_mm   integer CHECK (depth_mm BETWEEN 0 AND 5000),
    worms      text CHECK (worms IN ('none', 'few', 'some', 'many')),
    per_trowel integer[] NOT NULL DEFAULT '{}',
    texture    text NOT NULL DEFAULT '' CHECK (length(texture) <= 200),
    wet_spots  boolean,
    PRIMARY KEY (garden_id, check_id, section_id),
    CONSTRAINT check_looks_check_fkey FOREIGN KEY (garden_id, check_id) REFERENCES midden.checks (garden_id, check_id),
    CONSTRAINT check_looks_section_fkey FOREIGN KEY (garden_id, section_id) REFERENCES midden.sections (garden_id, section_id)
);
-- What was last seen in a section.
CREATE INDEX check_looks_by_section ON midden.check_looks (garden_id, section_id);

ALTER TABLE midden.checks ENABLE ROW LEVEL SECURITY;
ALTER TABLE midden.checks FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON midden.checks
    USING (garden_id = midden.garden()) WITH CHECK (garden_id = midden.garden());
ALTER TABLE midden.check_looks ENABLE ROW LEVEL SECURITY;
ALTER TABLE midden.check_looks FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON midden.check_looks
    USING (garden_id = midden.garden()) WITH CHECK (garden_id = midden.garden());

DO $$ BEGIN
    IF EXISTS (SELECT FROM pg_roles WHERE rolname = 'midden_app') THEN
        GRANT SELECT, INSERT ON midden.checks, midden.check_looks TO midden_app;
    END IF;
END $$;

-- Lures: drawing worms out of a section, step by step.
CREATE TABLE midden.lures (
    garden_id      uuid NOT NULL REFERENCES midden.gardens (garden_id),
    lure_id        uuid NOT NULL,
    bin_id         uuid NOT NULL,
    section_id     uuid NOT NULL,
    unfed_since    date NOT NULL,
    state          text NOT NULL CHECK (state IN ('waiting', 'dusted', 'ended')),
    note           text NOT NULL DEFAULT '' CHECK (length(note) <= 1000),
    occurred_at    timestamptz NOT NULL,
    day            date NOT NULL,
    recorded_at    timestamptz NOT NULL,
    recorded_by    uuid NOT NULL,
    content_sha256 bytea NOT NULL CHECK (octet_length(content_sha256) = 32),
    PRIMARY KEY (garden_id, lure_id),
    CONSTRAINT lures_section_fkey FOREIGN KEY (garden_id, bin_id, section_id)
        REFERENCES midden.sections (garden_id, bin_id, section_id),
    CONSTRAINT lures_recorder_fkey FOREIGN KEY (garden_id, recorded_by)
        REFERENCES midden.memberships (garden_id, member_id)
);
CREATE INDEX lures_by_time ON midden.lures (garden_id, occurred_at DESC, lure_id DESC);
-- A section is lured in one way at a time.
CREATE UNIQUE INDEX lures_open ON midden.lures (garden_id, section_id) WHERE state <> 'ended';

CREATE TABLE midden.lure_steps (
    garden_id     uuid NOT NULL,
    lure_id       uuid NOT NULL,
    line          smallint NOT NULL CHECK (line BETWEEN 0 AND 199),
    kind          text NOT NULL CHECK (kind IN ('dusted', 'looked', 'lifted', 'ended')),
    dusting_value text NOT NULL DEFAULT '' CHECK (length(dusting_value) <= 40),
    dusting_unit  text NOT NULL DEFAULT '' CHECK (length(dusting_unit) <= 20),
    transfer_id   uuid, -- of a lift's worms; its table comes later
    note          text NOT NULL DEFAULT '' CHECK (length(note) <= 500),
    occurred_at   timestamptz NOT NULL,
    day           date NOT NULL,
    recorded_at   timestamptz NOT NULL,
    recorded_by   uuid NOT NULL,
    PRIMARY KEY (garden_id, lure_id, line),
    CONSTRAINT lure_steps_lift CHECK ((kind = 'lifted') = (transfer_id IS NOT NULL)),
    CONSTRAINT lure_steps_lure_fkey FOREIGN KEY (garden_id, lure_id) REFERENCES midden.lures (garden_id, lure_id),
    CONSTRAINT lure_steps_recorder_fkey FOREIGN KEY (garden_id, recorded_by)
        REFERENCES midden.memberships (garden_id, member_id)
);

ALTER TABLE midden.lures ENABLE ROW LEVEL SECURITY;
ALTER TABLE midden.lures FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON midden.lures
    USING (garden_id = midden.garden()) WITH CHECK (garden_id = midden.garden());
ALTER TABLE midden.lure_steps ENABLE ROW LEVEL SECURITY;
ALTER TABLE midden.lure_steps FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON midden.lure_steps
    USING (garden_id = midden.garden()) WITH CHECK (garden_id = midden.garden());

DO $$ BEGIN
    IF EXISTS (SELECT FROM pg_roles WHERE rolname = 'midden_app') THEN
        GRANT SELECT, INSERT, UPDATE ON midden.lures TO midden_app;
        GRANT SELECT, INSERT ON midden.lure_steps TO midden_app;
    END IF;
END $$;

-- Care events: what was done for a bin that is no feeding. Grams that moved
-- are the entry's; what was entered stands here.
CREATE TABLE midden.care_events (
    garden_id       uuid NOT NULL REFERENCES midden.gardens (garden_id),
    care_event_id   uuid NOT NULL,
    bin_id          uuid NOT NULL,
    section_id      uuid,
    kind            text NOT NULL CHECK (kind IN ('turned', 'watered', 'lid_left_open', 'lime_or_eggshell', 'food_removed', 'fed_bedding_only')),
    water_value     text NOT NULL DEFAULT '' CHECK (length(water_value) <= 40),
    water_unit      text NOT NULL DEFAULT '' CHECK (length(water_unit) <= 20),
    material        text COLLATE "C" CHECK (material ~ '^[a-z][a-z0-9_]{0,39}$'), -- of the food taken out
    removed_to      text CHECK (removed_to IN ('overflow', 'landfill')),
    place_id        uuid,
    batch_id        uuid, -- of bedding; its table comes later, and the entry names it too
    entered         jsonb, -- of the food or the bedding
    mass_g          bigint NOT NULL DEFAULT 0 CHECK (mass_g BETWEEN 0 AND 2000000), -- of the water, food or bedding
    rel_sd_permille integer NOT NULL DEFAULT 0 CHECK (rel_sd_permille BETWEEN 0 AND 2000),
    moisture_pct    double precision CHECK (moisture_pct BETWEEN 0 AND 100), -- of the bedding as laid
    materials       text[] NOT NULL DEFAULT '{}', -- of the bedding, with their grams
    grams           bigint[] NOT NULL DEFAULT '{}' CHECK (cardinality(grams) = cardinality(materials)),
    note            text NOT NULL DEFAULT '' CHECK (length(note) <= 1000),
    entry_id        uuid,
    occurred_at     timestamptz NOT NULL,
    day             date NOT NULL,
    recorded_at     timestamptz NOT NULL,
    recorded_by     uuid NOT NULL,
    content_sha256  bytea NOT NULL CHECK (octet_length(content_sha256) = 32),
    PRIMARY KEY (garden_id, care_event_id),
    CONSTRAINT care_events_moves CHECK ((kind IN ('food_removed', 'fed_bedding_only')) = (entry_id IS NOT NULL)),
    CONSTRAINT care_events_bin_fkey FOREIGN KEY (garden_id, bin_id) REFERENCES midden.bins (garden_id, bin_id),
    CONSTRAINT care_events_section_fkey FOREIGN KEY (garden_id, bin_id, section_id)
        REFERENCES midden.sections (garden_id, bin_id, section_id),
    CONSTRAINT care_events_place_fkey FOREIGN KEY (garden_id, place_id)
        REFERENCES midden.overflow_places (garden_id, place_id),
    -- The entry is written last, with the postings.
    CONSTRAINT care_events_entry_fkey FOREIGN KEY (garden_id, entry_id)
        REFERENCES midden.entries (garden_id, entry_id) DEFERRABLE INITIALLY DEFERRED,
    CONSTRAINT care_events_recorder_fkey FOREIGN KEY (garden_id, recorded_by)
        REFERENCES midden.memberships (garden_id, member_id)
);
CREATE INDEX care_events_by_time ON midden.care_events (garden_id, occurred_at DESC, care_event_id DESC);
CREATE INDEX care_events_by_bin ON midden.care_events (garden_id, bin_id, occurred_at DESC, care_event_id DESC);

ALTER TABLE midden.care_events ENABLE ROW LEVEL SECURITY;
ALTER TABLE midden.care_events FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON midden.care_events
    USING (garden_id = midden.garden()) WITH CHECK (garden_id = midden.garden());

DO $$ BEGIN
    IF EXISTS (SELECT FROM pg_roles WHERE rolname = 'midden_app') THEN
        GRANT SELECT, INSERT ON midden.care_events TO midden_app;
    END IF;
END $$;

-- Castings lots, one from each harvest, and what was done to them. What is
-- left of a lot is the ledger's to say.
CREATE TABLE midden.castings_lots (
    garden_id       uuid NOT NULL REFERENCES midden.gardens (garden_id),
    castings_lot_id uuid NOT NULL,
    bin_id          uuid NOT NULL,
    section_id      uuid NOT NULL,
    harvested_on    date NOT NULL,
    stage           text NOT NULL CHECK (stage IN ('harvested', 'drying', 'screened', 'resting', 'ready')),
    PRIMARY KEY (garden_id, castings_lot_id),
    FOREIGN KEY (garden_id, bin_id, section_id) REFERENCES midden.sections (garden_id, bin_id, section_id)
);
CREATE INDEX castings_lots_by_day ON midden.castings_lots (garden_id, harvested_on DESC, castings_lot_id DESC);

CREATE TABLE midden.castings_steps (
    garden_id       uuid NOT NULL,
    step_id         uuid NOT NULL,
    castings_lot_id uuid NOT NULL,
    stage           text NOT NULL CHECK (stage IN ('harvested', 'drying', 'screened', 'resting', 'ready')),
    mass_g          bigint CHECK (mass_g >= 0),
    note            text NOT NULL DEFAULT '' CHECK (length(note) <= 500),
    entry_id        uuid,
    occurred_at     timestamptz NOT NULL,
    recorded_at     timestamptz NOT NULL,
    recorded_by     uuid,
    PRIMARY KEY (garden_id, step_id),
    FOREIGN KEY (garden_id, castings_lot_id) REFERENCES midden.castings_lots (garden_id, castings_lot_id),
    FOREIGN KEY (garden_id, entry_id) REFERENCES midden.entries (garden_id, entry_id) DEFERRABLE INITIALLY DEFERRED,
    FOREIGN KEY (garden_id, recorded_by) REFERENCES midden.memberships (garden_id, member_id)
);
CREATE INDEX castings_steps_by_lot ON midden.castings_steps (garden_id, castings_lot_id, occurred_at, step_id);

ALTER TABLE midden.castings_lots ENABLE ROW LEVEL SECURITY;
ALTER TABLE midden.castings_lots FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON midden.castings_lots
    USING (garden_id = midden.garden()) WITH CHECK (garden_id = midden.garden());
ALTER TABLE midden.castings_steps ENABLE ROW LEVEL SECURITY;
ALTER TABLE midden.castings_steps FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON midden.castings_steps
    USING (garden_id = midden.garden()) WITH CHECK (garden_id = midden.garden());

DO $$ BEGIN
    IF EXISTS (SELECT FROM pg_roles WHERE rolname = 'midden_app') THEN
        GRANT SELECT, INSERT, UPDATE ON midden.castings_lots TO midden_app;
        GRANT SELECT, INSERT ON midden.castings_steps TO midden_app;
    END IF;
END $$;

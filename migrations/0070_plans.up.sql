-- Plans are immutable but for their state: the problem is kept to the byte, so
-- that its digest can be checked and others can solve it again.
CREATE TABLE midden.plans (
    garden_id    uuid NOT NULL REFERENCES midden.gardens (garden_id),
    plan_id      uuid NOT NULL,
    state        text NOT NULL CHECK (state IN ('proposed', 'published', 'replaced')),
    from_day     date NOT NULL,
    days         integer NOT NULL CHECK (days BETWEEN 1 AND 60),
    nearest_bins integer NOT NULL CHECK (nearest_bins >= 0),
    expected     boolean NOT NULL,
    as_of        date NOT NULL,
    problem      bytea NOT NULL,
    input_sha256 bytea NOT NULL CHECK (octet_length(input_sha256) = 32),
    engine       text NOT NULL,
    result       bytea NOT NULL,
    value        bigint NOT NULL,
    bound        bigint NOT NULL CHECK (bound <= value),
    gap_ppm      bigint NOT NULL CHECK (gap_ppm >= 0),
    controllable_gap_ppm bigint NOT NULL CHECK (controllable_gap_ppm >= 0),
    optimal      boolean NOT NULL,
    stopped      text NOT NULL DEFAULT '',
    pivots       bigint NOT NULL CHECK (pivots >= 0),
    supply_g     bigint NOT NULL CHECK (supply_g >= 0),
    fed_g        bigint NOT NULL CHECK (fed_g >= 0),
    frozen_g     bigint NOT NULL CHECK (frozen_g >= 0),
    overflow_g   bigint NOT NULL CHECK (overflow_g >= 0),
    declined_g   bigint NOT NULL CHECK (declined_g >= 0),
    bedding_g    bigint NOT NULL CHECK (bedding_g >= 0),
    visits       integer NOT NULL CHECK (visits >= 0),
    bindings     jsonb NOT NULL,
    notes        jsonb NOT NULL,
    computed_at  timestamptz NOT NULL,
    computed_by  uuid NOT NULL,
    published_at timestamptz,
    published_by uuid,
    PRIMARY KEY (garden_id, plan_id),
    CONSTRAINT plans_maker_fkey FOREIGN KEY (garden_id, computed_by)
        REFERENCES midden.memberships (garden_id, member_id),
    CONSTRAINT plans_publisher_fkey FOREIGN KEY (garden_id, published_by)
        REFERENCES midden.memberships (garden_id, member_id),
    CONSTRAINT plans_balance CHECK (supply_g = fed_g + frozen_g + overflow_g + declined_g),
    CONSTRAINT plans_published CHECK ((state = 'proposed') = (published_at IS NULL))
);
CREATE INDEX plans_by_time ON midden.plans (garden_id, computed_at DESC, plan_id DESC);
CREATE UNIQUE INDEX plans_one_published ON midden.plans (garden_id) WHERE state = 'published';

CREATE TABLE midden.plan_tasks (
    garden_id  uuid NOT NULL,
    task_id    uuid NOT NULL,
    plan_id    uuid NOT NULL,
    position   integer NOT NULL CHECK (position >= 0),
    kind       text NOT NULL CHECK (kind IN ('feed', 'freeze', 'thaw_and_feed', 'overflow', 'turn_away', 'start_bedding')),
    day        date NOT NULL,
    lot_id     uuid,
    pledge_id  uuid,
    expected   text NOT NULL DEFAULT '' CHECK (length(expected) <= 120),
    material   text NOT NULL DEFAULT '',
    bin_id     uuid,
    section_id uuid,
    site_id    uuid,
    mass_g     bigint NOT NULL CHECK (mass_g > 0),
    bedding_g  bigint NOT NULL CHECK (bedding_g >= 0),
    bedding_batch_id uuid,
    keeper_ids uuid[] NOT NULL,
    why        text NOT NULL CHECK (length(why) BETWEEN 1 AND 1000),
    PRIMARY KEY (garden_id, task_id),
    CONSTRAINT plan_tasks_order UNIQUE (garden_id, plan_id, position),
    CONSTRAINT plan_tasks_plan_fkey FOREIGN KEY (garden_id, plan_id) REFERENCES midden.plans (garden_id, plan_id),
    CONSTRAINT plan_tasks_lot_fkey FOREIGN KEY (garden_id, lot_id) REFERENCES midden.lots (garden_id, lot_id),
    CONSTRAINT plan_tasks_section_fkey FOREIGN KEY (garden_id, bin_id, section_id)
        REFERENCES midden.sections (garden_id, bin_id, section_id),
    CONSTRAINT plan_tasks_site_fkey FOREIGN KEY (garden_id, site_id) REFERENCES midden.sites (garden_id, site_id),
    CONSTRAINT plan_tasks_one_source CHECK (num_nonnulls(lot_id, pledge_id, nullif(expected, '')) = (kind <> 'start_bedding')::integer),
    CONSTRAINT plan_tasks_bin CHECK ((kind IN ('feed', 'thaw_and_feed')) = (bin_id IS NOT NULL AND section_id IS NOT NULL))
);

ALTER TABLE midden.plans ENABLE ROW LEVEL SECURITY;
ALTER TABLE midden.plans FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON midden.plans
    USING (garden_id = midden.garden()) WITH CHECK (garden_id = midden.garden());
ALTER TABLE midden.plan_tasks ENABLE ROW LEVEL SECURITY;
ALTER TABLE midden.plan_tasks FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON midden.plan_tasks
    USING (garden_id = midden.garden()) WITH CHECK (garden_id = midden.garden());

DO $$ BEGIN
    IF EXISTS (SELECT FROM pg_roles WHERE rolname = 'midden_app') THEN
        GRANT SELECT, INSERT ON midden.plans, midden.plan_tasks TO midden_app;
        GRANT UPDATE (state, published_at, published_by) ON midden.plans TO midden_app;
    END IF;
END $$;

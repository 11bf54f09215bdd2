-- The ledger: entries and postings that are only ever added, the stock of
-- accounts that may not go below zero, and the daily roll-ups.
CREATE TABLE midden.entries (
    garden_id    uuid NOT NULL REFERENCES midden.gardens (garden_id),
    entry_id     uuid NOT NULL,
    kind         text NOT NULL CHECK (kind ~ '^[a-z][a-z0-9_]{0,39}$'),
    effective_on date NOT NULL,
    occurred_at  timestamptz NOT NULL,
    recorded_at  timestamptz NOT NULL,
    actor_id     uuid, -- the member; NULL for the service's own work
    cause_kind   text NOT NULL CHECK (cause_kind ~ '^[a-z][a-z0-9_]{0,39}$'),
    cause_id     uuid NOT NULL,
    reverses     uuid,
    format       smallint NOT NULL CHECK (format > 0),
    sha256       bytea NOT NULL CHECK (octet_length(sha256) = 32),
    PRIMARY KEY (garden_id, entry_id),
    CONSTRAINT entries_actor_fkey FOREIGN KEY (garden_id, actor_id)
        REFERENCES midden.memberships (garden_id, member_id),
    CONSTRAINT entries_reverses_fkey FOREIGN KEY (garden_id, reverses)
        REFERENCES midden.entries (garden_id, entry_id),
    CONSTRAINT entries_reversed_once UNIQUE (garden_id, reverses)
);
CREATE INDEX entries_by_day ON midden.entries (garden_id, effective_on, entry_id);
CREATE INDEX entries_by_cause ON midden.entries (garden_id, cause_id, entry_id);

CREATE TABLE midden.postings (
    garden_id       uuid NOT NULL,
    entry_id        uuid NOT NULL,
    line            smallint NOT NULL CHECK (line >= 0),
    account         text COLLATE "C" NOT NULL,
    account_kind    text NOT NULL CHECK (account_kind = split_part(account, ':', 1)),
    substance       text COLLATE "C" NOT NULL,
    grams           bigint NOT NULL CHECK (grams <> 0),
    method          text NOT NULL CHECK (method IN ('weighed', 'container', 'counted', 'estimate', 'book')),
    rel_sd_permille integer NOT NULL CHECK (rel_sd_permille BETWEEN 0 AND 2000),
    site_id         uuid,
    PRIMARY KEY (garden_id, entry_id, line),
    FOREIGN KEY (garden_id, entry_id) REFERENCES midden.entries (garden_id, entry_id)
);
CREATE INDEX postings_by_account ON midden.postings (garden_id, account, substance);

-- An entry's postings arrive in one INSERT and sum to zero for each substance.
CREATE FUNCTION midden.postings_balance() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE bad record;
BEGIN
    SELECT garden_id, entry_id, substance, sum(grams) AS sum INTO bad
      FROM added GROUP BY garden_id, entry_id, substance HAVING sum(grams) <> 0 LIMIT 1;
    IF FOUND THEN
        RAISE EXCEPTION 'entry % is out by % g of %', bad.entry_id, bad.sum, bad.substance
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'postings_balance';
    END IF;
    SELECT a.garden_id, a.entry_id INTO bad
      FROM (SELECT garden_id, entry_id, count(*) AS lines FROM added GROUP BY garden_id, entry_id) a
     WHERE a.lines < 2
        OR a.lines <> (SELECT count(*) FROM midden.postings p
                        WHERE p.garden_id = a.garden_id AND p.entry_id = a.entry_id)
     LIMIT 1;
    IF FOUND THEN
        RAISE EXCEPTION 'entry % must get all its postings, two or more, at once', bad.entry_id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'postings_at_once';
    END IF;
    RETURN NULL;
END $$;
CREATE TRIGGER postings_balance AFTER INSERT ON midden.postings
    REFERENCING NEW TABLE AS added FOR EACH STATEMENT EXECUTE FUNCTION midden.postings_balance();

CREATE FUNCTION midden.append_only() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION '% on % is barred: reverse the entry instead', TG_OP, TG_TABLE_NAME
        USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'ledger_append_only';
END $$;
CREATE TRIGGER append_only BEFORE UPDATE OR DELETE OR TRUNCATE ON midden.entries
    FOR EACH STATEMENT EXECUTE FUNCTION midden.append_only();
CREATE TRIGGER append_only BEFORE UPDATE OR DELETE OR TRUNCATE ON midden.postings
    FOR EACH STATEMENT EXECUTE FUNCTION midden.append_only();

-- What a person wrote about an entry: why it was reversed. It may name people,
-- so it is no part of the entry, its hash or the append-only rule.
CREATE TABLE midden.entry_notes (
    garden_id uuid NOT NULL,
    entry_id  uuid NOT NULL,
    note      text NOT NULL CHECK (length(note) BETWEEN 1 AND 1000),
    PRIMARY KEY (garden_id, entry_id),
    FOREIGN KEY (garden_id, entry_id) REFERENCES midden.entries (garden_id, entry_id) DEFERRABLE INITIALLY DEFERRED
);

-- Entries waiting to be sealed into the garden's hash chain.
CREATE TABLE midden.entry_queue (
    garden_id uuid NOT NULL,
    entry_id  uuid NOT NULL,
    PRIMARY KEY (garden_id, entry_id),
    FOREIGN KEY (garden_id, entry_id) REFERENCES midden.entries (garden_id, entry_id)
);

-- One row per holding: what writers lock, and its latest closing.
CREATE TABLE midden.stock_heads (
    garden_id uuid NOT NULL REFERENCES midden.gardens (garden_id),
    account   text COLLATE "C" NOT NULL,
    substance text COLLATE "C" NOT NULL,
    latest_g  bigint NOT NULL,
    PRIMARY KEY (garden_id, account, substance)
) WITH (fillfactor = 70);

-- One row per holding and day with movement. The CHECK is the last word on
-- stock: also for backdated and concurrent writes.
CREATE TABLE midden.stock_days (
    garden_id uuid NOT NULL,
    account   text COLLATE "C" NOT NULL,
    substance text COLLATE "C" NOT NULL,
    day       date NOT NULL,
    net_g     bigint NOT NULL,
    closing_g bigint NOT NULL,
    PRIMARY KEY (garden_id, account, substance, day),
    FOREIGN KEY (garden_id, account, substance) REFERENCES midden.stock_heads (garden_id, account, substance),
    CONSTRAINT stock_not_below_zero CHECK (closing_g >= 0)
) WITH (fillfactor = 80);

-- Daily roll-ups by site, account (which names the household or member, bin
-- section or place), substance and kind of entry. site_id is the zero id when
-- there was none. The class sums add to in_g + out_g; sd_linear is the sum of
-- gram·permille, sd_square of its squares.
CREATE TABLE midden.day_totals (
    garden_id    uuid NOT NULL REFERENCES midden.gardens (garden_id),
    day          date NOT NULL,
    site_id      uuid NOT NULL,
    account      text COLLATE "C" NOT NULL,
    substance    text COLLATE "C" NOT NULL,
    kind         text COLLATE "C" NOT NULL,
    account_kind text NOT NULL CHECK (account_kind = split_part(account, ':', 1)),
    in_g         bigint NOT NULL,
    out_g        bigint NOT NULL,
    weighed_g    bigint NOT NULL,
    container_g  bigint NOT NULL,
    estimate_g   bigint NOT NULL,
    book_g       bigint NOT NULL,
    records      bigint NOT NULL,
    sd_linear    bigint NOT NULL,
    sd_square    numeric NOT NULL,
    PRIMARY KEY (garden_id, day, site_id, account, substance, kind)
) WITH (fillfactor = 80);
CREATE INDEX day_totals_by_account ON midden.day_totals (garden_id, account, substance, day);

ALTER TABLE midden.entries ENABLE ROW LEVEL SECURITY;
ALTER TABLE midden.entries FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON midden.entries
    USING (garden_id = midden.garden()) WITH CHECK (garden_id = midden.garden());
ALTER TABLE midden.postings ENABLE ROW LEVEL SECURITY;
ALTER TABLE midden.postings FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON midden.postings
    USING (garden_id = midden.garden()) WITH CHECK (garden_id = midden.garden());
ALTER TABLE midden.entry_notes ENABLE ROW LEVEL SECURITY;
ALTER TABLE midden.entry_notes FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON midden.entry_notes
    USING (garden_id = midden.garden()) WITH CHECK (garden_id = midden.garden());
ALTER TABLE midden.entry_queue ENABLE ROW LEVEL SECURITY;
ALTER TABLE midden.entry_queue FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON midden.entry_queue
    USING (garden_id = midden.garden()) WITH CHECK (garden_id = midden.garden());
ALTER TABLE midden.stock_heads ENABLE ROW LEVEL SECURITY;
ALTER TABLE midden.stock_heads FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON midden.stock_heads
    USING (garden_id = midden.garden()) WITH CHECK (garden_id = midden.garden());
ALTER TABLE midden.stock_days ENABLE ROW LEVEL SECURITY;
ALTER TABLE midden.stock_days FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON midden.stock_days
    USING (garden_id = midden.garden()) WITH CHECK (garden_id = midden.garden());
ALTER TABLE midden.day_totals ENABLE ROW LEVEL SECURITY;
ALTER TABLE midden.day_totals FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON midden.day_totals
    USING (garden_id = midden.garden()) WITH CHECK (garden_id = midden.garden());

DO $$ BEGIN
    IF EXISTS (SELECT FROM pg_roles WHERE rolname = 'midden_app') THEN
        GRANT SELECT, INSERT ON midden.entries, midden.postings TO midden_app;
        GRANT SELECT, INSERT, UPDATE, DELETE ON midden.entry_notes TO midden_app;
        GRANT SELECT, INSERT, DELETE ON midden.entry_queue TO midden_app;
        GRANT SELECT, INSERT, UPDATE ON midden.stock_heads, midden.stock_days, midden.day_totals TO midden_app;
    END IF;
END $$;

-- Who people are. accounts and sessions stand before a garden is chosen and
-- are global; gardens, memberships and households are the garden's own.
CREATE TABLE midden.accounts (
    id            uuid PRIMARY KEY,
    email         text NOT NULL CHECK (length(email) BETWEEN 3 AND 254),
    email_folded  text COLLATE "C" NOT NULL,
    display_name  text NOT NULL CHECK (length(display_name) BETWEEN 1 AND 120),
    password_hash text NOT NULL,
    may_found_gardens boolean NOT NULL DEFAULT false,
    disabled_at   timestamptz,
    created_at    timestamptz NOT NULL,
    version       integer NOT NULL DEFAULT 1 CHECK (version > 0),
    CONSTRAINT accounts_email_key UNIQUE (email_folded)
);

CREATE TABLE midden.sessions (
    id           uuid PRIMARY KEY,
    account_id   uuid NOT NULL REFERENCES midden.accounts (id) ON DELETE CASCADE,
    family_id    uuid NOT NULL,
    refresh_hash bytea NOT NULL CHECK (octet_length(refresh_hash) = 32),
    device       text NOT NULL DEFAULT '',
    created_at   timestamptz NOT NULL,
    expires_at   timestamptz NOT NULL,
    used_at      timestamptz,
    revoked_at   timestamptz,
    CONSTRAINT sessions_refresh_hash_key UNIQUE (refresh_hash)
);
CREATE INDEX sessions_account ON midden.sessions (account_id);
CREATE INDEX sessions_family ON midden.sessions (family_id);

CREATE TABLE midden.gardens (
    garden_id  uuid PRIMARY KEY,
    name       text NOT NULL CHECK (length(name) BETWEEN 1 AND 120),
    time_zone  text NOT NULL CHECK (length(time_zone) BETWEEN 1 AND 64),
    hemisphere text NOT NULL CHECK (hemisphere IN ('north', 'south')),
    units      text NOT NULL CHECK (units IN ('metric', 'us')),
    settings   jsonb NOT NULL DEFAULT '{}',
    created_at timestamptz NOT NULL,
    version    integer NOT NULL DEFAULT 1 CHECK (version > 0),
    content_sha256 bytea NOT NULL CHECK (octet_length(content_sha256) = 32)
);

CREATE TABLE midden.households (
    garden_id    uuid NOT NULL REFERENCES midden.gardens (garden_id),
    household_id uuid NOT NULL,
    name         text NOT NULL CHECK (length(name) <= 120),
    name_folded  text COLLATE "C" NOT NULL,
    plot         text NOT NULL DEFAULT '' CHECK (length(plot) <= 40),
    contact      text NOT NULL DEFAULT '' CHECK (length(contact) <= 300),
    baseline     text NOT NULL CHECK (baseline IN ('landfill', 'kerbside_organics', 'home_heap', 'animal_feed', 'unknown')),
    erased_at    timestamptz,
    created_at   timestamptz NOT NULL,
    version      integer NOT NULL DEFAULT 1 CHECK (version > 0),
    content_sha256 bytea NOT NULL CHECK (octet_length(content_sha256) = 32),
    PRIMARY KEY (garden_id, household_id),
    -- What is erased keeps its quantities and nothing else.
    CONSTRAINT households_erased_is_empty
        CHECK (erased_at IS NULL OR (name = '' AND name_folded = '' AND plot = '' AND contact = ''))
);
CREATE INDEX households_by_name ON midden.households (garden_id, name_folded, household_id);

CREATE TABLE midden.memberships (
    garden_id    uuid NOT NULL REFERENCES midden.gardens (garden_id),
    member_id    uuid NOT NULL,
    account_id   uuid REFERENCES midden.accounts (id),
    role         text NOT NULL CHECK (role IN ('coordinator', 'keeper', 'donor', 'observer')),
    display_name text NOT NULL CHECK (length(display_name) BETWEEN 1 AND 120),
    name_folded  text COLLATE "C" NOT NULL,
    household_id uuid,
    active       boolean NOT NULL DEFAULT true,
    created_at   timestamptz NOT NULL,
    version      integer NOT NULL DEFAULT 1 CHECK (version > 0),
    content_sha256 bytea NOT NULL CHECK (octet_length(content_sha256) = 32),
    PRIMARY KEY (garden_id, member_id),
    CONSTRAINT memberships_account_key UNIQUE (garden_id, account_id),
    CONSTRAINT memberships_household_fkey FOREIGN KEY (garden_id, household_id)
        REFERENCES midden.households (garden_id, household_id)
);
CREATE INDEX memberships_by_name ON midden.memberships (garden_id, name_folded, member_id);
CREATE INDEX memberships_by_account ON midden.memberships (account_id) WHERE account_id IS NOT NULL;

ALTER TABLE midden.gardens ENABLE ROW LEVEL SECURITY;
ALTER TABLE midden.gardens FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON midden.gardens
    USING (garden_id = midden.garden()) WITH CHECK (garden_id = midden.garden());

ALTER TABLE midden.households ENABLE ROW LEVEL SECURITY;
ALTER TABLE midden.households FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON midden.households
    USING (garden_id = midden.garden()) WITH CHECK (garden_id = midden.garden());

ALTER TABLE midden.memberships ENABLE ROW LEVEL SECURITY;
ALTER TABLE midden.memberships FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON midden.memberships
    USING (garden_id = midden.garden()) WITH CHECK (garden_id = midden.garden());

-- Before a garden is chosen a person sees their own memberships and gardens.
-- Once one is chosen these two say nothing, so a read inside a garden can
-- never show a row of another.
CREATE POLICY own ON midden.memberships FOR SELECT
    USING (midden.garden() IS NULL AND account_id = midden.account());
CREATE POLICY own ON midden.gardens FOR SELECT
    USING (midden.garden() IS NULL AND garden_id IN (
        SELECT m.garden_id FROM midden.memberships m WHERE m.account_id = midden.account() AND m.active));

-- Schedulers need every garden's id and nothing else. The function runs as
-- the owner, whom FORCE holds to the policies: this one lets it list.
CREATE POLICY directory ON midden.gardens FOR SELECT TO CURRENT_USER USING (true);
CREATE FUNCTION midden.garden_ids() RETURNS SETOF uuid
    LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog
    AS $$ SELECT g.garden_id FROM midden.gardens g ORDER BY g.garden_id $$;
REVOKE ALL ON FUNCTION midden.garden_ids() FROM PUBLIC;

DO $$ BEGIN
    IF EXISTS (SELECT FROM pg_roles WHERE rolname = 'midden_app') THEN
        GRANT SELECT, INSERT, UPDATE ON midden.accounts, midden.gardens, midden.households, midden.memberships TO midden_app;
        GRANT SELECT, INSERT, UPDATE, DELETE ON midden.sessions TO midden_app;
        GRANT EXECUTE ON FUNCTION midden.garden_ids() TO midden_app;
    END IF;
END $$;

-- Answers already given, by account, operation and the client's key. A repeat
-- gets the stored answer; only success is stored. Global, because making a
-- garden comes before there is one; a person still sees only their own rows.
CREATE TABLE midden.once_keys (
    account_id  uuid NOT NULL REFERENCES midden.accounts (id) ON DELETE CASCADE,
    op          text COLLATE "C" NOT NULL CHECK (length(op) BETWEEN 1 AND 100),
    key         text COLLATE "C" NOT NULL CHECK (length(key) BETWEEN 1 AND 200),
    body_sha256 bytea NOT NULL CHECK (octet_length(body_sha256) = 32),
    status      smallint NOT NULL CHECK (status BETWEEN 200 AND 299),
    headers     jsonb NOT NULL,
    body        bytea NOT NULL,
    created_at  timestamptz NOT NULL,
    PRIMARY KEY (account_id, op, key)
);
CREATE INDEX once_keys_by_age ON midden.once_keys (created_at);

ALTER TABLE midden.once_keys ENABLE ROW LEVEL SECURITY;
ALTER TABLE midden.once_keys FORCE ROW LEVEL SECURITY;
CREATE POLICY own ON midden.once_keys
    USING (account_id = midden.account()) WITH CHECK (account_id = midden.account());

-- One request at a time per key: a second one is told so at once, before it
-- waits for any row.
CREATE FUNCTION midden.claim_once(op text, key text) RETURNS void LANGUAGE plpgsql AS $$
BEGIN
    IF NOT pg_try_advisory_xact_lock(hashtextextended(
            concat_ws(chr(31), midden.account()::text, op, key), 0)) THEN
        RAISE EXCEPTION 'a request with this key is being worked on'
            USING ERRCODE = 'lock_not_available', CONSTRAINT = 'once_in_flight';
    END IF;
END $$;

-- Old answers go after 30 days; the caller names the day, as business times
-- never come from the database's clock.
CREATE POLICY sweep ON midden.once_keys FOR SELECT TO CURRENT_USER USING (true);
CREATE POLICY sweep_out ON midden.once_keys FOR DELETE TO CURRENT_USER USING (true);
CREATE FUNCTION midden.forget_once_keys(before timestamptz) RETURNS bigint
    LANGUAGE sql VOLATILE SECURITY DEFINER SET search_path = pg_catalog
    AS $$ WITH gone AS (DELETE FROM midden.once_keys k WHERE k.created_at < before RETURNING 1)
          SELECT count(*) FROM gone $$;
REVOKE ALL ON FUNCTION midden.forget_once_keys(timestamptz) FROM PUBLIC;

DO $$ BEGIN
    IF EXISTS (SELECT FROM pg_roles WHERE rolname = 'midden_app') THEN
        GRANT SELECT, INSERT ON midden.once_keys TO midden_app;
        GRANT EXECUTE ON FUNCTION midden.forget_once_keys(timestamptz) TO midden_app;
    END IF;
END $$;

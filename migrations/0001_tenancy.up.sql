-- The schema, and the two settings every policy reads. Both functions are
-- plain SQL, STABLE and without SET, so that the planner inlines them and a
-- policy can use an index. Unset means NULL, and NULL matches no row.
CREATE SCHEMA midden;

CREATE FUNCTION midden.garden() RETURNS uuid
    LANGUAGE sql STABLE PARALLEL SAFE
    AS $$ SELECT nullif(current_setting('midden.garden_id', true), '')::uuid $$;

CREATE FUNCTION midden.account() RETURNS uuid
    LANGUAGE sql STABLE PARALLEL SAFE
    AS $$ SELECT nullif(current_setting('midden.account_id', true), '')::uuid $$;

DO $$ BEGIN
    IF EXISTS (SELECT FROM pg_roles WHERE rolname = 'midden_app') THEN
        GRANT USAGE ON SCHEMA midden TO midden_app;
        -- So that the service can tell whether the schema is the one it was built for.
        GRANT SELECT ON public.schema_migrations TO midden_app;
    END IF;
END $$;

-- An erased household's name also stands in the stored answer of the request
-- that added it. Erasing forgets that answer; only the garden's own can be.
CREATE INDEX once_keys_of_households ON midden.once_keys ((headers ->> 'Location')) WHERE op = 'createHousehold';
CREATE FUNCTION midden.forget_household_answers(household uuid) RETURNS void
    LANGUAGE sql VOLATILE SECURITY DEFINER SET search_path = pg_catalog
    AS $$ DELETE FROM midden.once_keys k WHERE k.op = 'createHousehold'
             AND k.headers ->> 'Location' = concat('/v1/gardens/', midden.garden(), '/households/', household) $$;
REVOKE ALL ON FUNCTION midden.forget_household_answers(uuid) FROM PUBLIC;

DO $$ BEGIN
    IF EXISTS (SELECT FROM pg_roles WHERE rolname = 'midden_app') THEN
        GRANT EXECUTE ON FUNCTION midden.forget_household_answers(uuid) TO midden_app;
    END IF;
END $$;

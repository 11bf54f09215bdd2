-- Season reports as prepared: canonical bytes and their digest. A report is
-- never changed; preparing a season again adds its next revision. The primary
-- key makes two who prepare at once get one revision each.
CREATE TABLE midden.season_reports (
    garden_id      uuid NOT NULL REFERENCES midden.gardens (garden_id),
    season_key     text COLLATE "C" NOT NULL CHECK (length(season_key) BETWEEN 1 AND 60),
    revision       integer NOT NULL CHECK (revision > 0),
    report_id      uuid NOT NULL,
    season_label   text NOT NULL CHECK (length(season_label) BETWEEN 1 AND 80),
    starts_on      date NOT NULL,
    ends_on        date NOT NULL CHECK (ends_on > starts_on), -- not in the season
    prepared_at    timestamptz NOT NULL,
    prepared_by    uuid NOT NULL,
    diverted_g     bigint NOT NULL,
    canonical      bytea NOT NULL,
    sha256         bytea NOT NULL CHECK (sha256 = sha256(canonical)),
    content_sha256 bytea NOT NULL CHECK (octet_length(content_sha256) = 32),
    PRIMARY KEY (garden_id, season_key, revision),
    CONSTRAINT season_reports_id_key UNIQUE (garden_id, report_id),
    CONSTRAINT season_reports_preparer_fkey FOREIGN KEY (garden_id, prepared_by)
        REFERENCES midden.memberships (garden_id, member_id)
);
CREATE INDEX season_reports_by_time ON midden.season_reports (garden_id, prepared_at DESC, report_id DESC);

CREATE FUNCTION midden.reports_stay() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION '% on % is barred: prepare the season again instead', TG_OP, TG_TABLE_NAME
        USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'reports_stay';
END $$;
CREATE TRIGGER reports_stay BEFORE UPDATE OR DELETE OR TRUNCATE ON midden.season_reports
    FOR EACH STATEMENT EXECUTE FUNCTION midden.reports_stay();

ALTER TABLE midden.season_reports ENABLE ROW LEVEL SECURITY;
ALTER TABLE midden.season_reports FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON midden.season_reports
    USING (garden_id = midden.garden()) WITH CHECK (garden_id = midden.garden());

DO $$ BEGIN
    IF EXISTS (SELECT FROM pg_roles WHERE rolname = 'midden_app') THEN
        GRANT SELECT, INSERT ON midden.season_reports TO midden_app;
    END IF;
END $$;

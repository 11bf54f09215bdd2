-- Complaints, incidents and official visits: what happened, what was done about
-- it and when it was closed. People add the action later, so rows are edited;
-- nothing is ever deleted.
CREATE TABLE midden.issues (
    garden_id   uuid NOT NULL REFERENCES midden.gardens (garden_id),
    issue_id    uuid NOT NULL,
    class       text NOT NULL CHECK (class IN ('complaint', 'incident', 'official_visit')),
    kind        text NOT NULL,
    what        text NOT NULL CHECK (length(what) BETWEEN 1 AND 4000),
    site_id     uuid,
    bin_id      uuid,
    action      text NOT NULL DEFAULT '' CHECK (length(action) <= 4000),
    action_by   uuid,
    closed_on   date,
    occurred_at timestamptz NOT NULL,
    day         date NOT NULL,
    recorded_at timestamptz NOT NULL,
    recorded_by uuid NOT NULL,
    version     integer NOT NULL DEFAULT 1 CHECK (version > 0),
    content_sha256 bytea NOT NULL CHECK (octet_length(content_sha256) = 32),
    PRIMARY KEY (garden_id, issue_id),
    CONSTRAINT issues_kind CHECK (kind = ANY (CASE class
        WHEN 'complaint' THEN '{smell,pests,noise,sight,other}'::text[]
        WHEN 'incident' THEN '{injury,spill,pest,refused_load,other}'::text[]
        ELSE '{inspection,advice,follow_up}'::text[] END)),
    CONSTRAINT issues_site_fkey FOREIGN KEY (garden_id, site_id) REFERENCES midden.sites (garden_id, site_id),
    CONSTRAINT issues_bin_fkey FOREIGN KEY (garden_id, bin_id) REFERENCES midden.bins (garden_id, bin_id),
    CONSTRAINT issues_action_by_fkey FOREIGN KEY (garden_id, action_by) REFERENCES midden.memberships (garden_id, member_id),
    CONSTRAINT issues_recorded_by_fkey FOREIGN KEY (garden_id, recorded_by) REFERENCES midden.memberships (garden_id, member_id)
);
CREATE INDEX issues_by_time ON midden.issues (garden_id, class, occurred_at, issue_id);

ALTER TABLE midden.issues ENABLE ROW LEVEL SECURITY;
ALTER TABLE midden.issues FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON midden.issues
    USING (garden_id = midden.garden()) WITH CHECK (garden_id = midden.garden());

DO $$ BEGIN
    IF EXISTS (SELECT FROM pg_roles WHERE rolname = 'midden_app') THEN
        GRANT SELECT, INSERT, UPDATE ON midden.issues TO midden_app;
    END IF;
END $$;

DROP FUNCTION midden.garden_ids();
DROP POLICY own ON midden.gardens;
DROP TABLE midden.memberships;
DROP TABLE midden.households;
DROP TABLE midden.gardens;
DROP TABLE midden.sessions;
DROP TABLE midden.accounts;

#!/bin/sh
# Makes Midden's two roles and its database when the database container first starts. By hand, on any server:
#   PGHOST=… PGPASSWORD=… MIDDEN_OWNER_PASSWORD=… MIDDEN_APP_PASSWORD=… sh 10-roles.sh
set -eu
: "${MIDDEN_OWNER_PASSWORD:?set it}" "${MIDDEN_APP_PASSWORD:?set it}"

# The passwords travel by the environment: arguments can be read by everyone on the computer. psql quotes them.
psql --no-psqlrc --quiet --set ON_ERROR_STOP=1 --username "${POSTGRES_USER:-postgres}" --dbname postgres <<'SQL'
\set owner_password `printf %s "$MIDDEN_OWNER_PASSWORD"`
\set app_password `printf %s "$MIDDEN_APP_PASSWORD"`

-- Migrates, and owns the database.
CREATE ROLE midden_owner LOGIN INHERIT NOSUPERUSER NOCREATEDB NOCREATEROLE NOREPLICATION NOBYPASSRLS PASSWORD :'owner_password';
-- Serves: owns nothing, and row-level security binds it.
CREATE ROLE midden_app LOGIN INHERIT NOSUPERUSER NOCREATEDB NOCREATEROLE NOREPLICATION NOBYPASSRLS PASSWORD :'app_password';

CREATE DATABASE midden OWNER midden_owner;
REVOKE ALL ON DATABASE midden FROM PUBLIC;
GRANT CONNECT ON DATABASE midden TO midden_app;
SQL

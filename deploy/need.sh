#!/bin/sh
# Sees to it that what a make target needs is on this computer, and installs it from Debian when it is not.
#
#   need.sh postgres          Postgres 15 or later, to run a private server
#   need.sh test-postgres     the same, or another way to a server that the tests know
#   need.sh gcc               a C compiler, for Go's race detector
#   need.sh glpk              glpsol, to compare plans with
#   need.sh curl jq           what the README's walk is typed with
#
# It says what it installs. Debian's own Postgres cluster is neither made nor started: Midden keeps one of its own.
set -eu

say() { printf 'need.sh: %s\n' "$*" >&2; }

have_postgres() {
	for dir in ${MIDDEN_PG_BINDIR:-} /usr/lib/postgresql/*/bin /opt/homebrew/opt/postgresql*/bin /usr/local/opt/postgresql*/bin \
		/usr/pgsql-*/bin /usr/libexec/postgresql* /usr/local/pgsql/bin; do
		[ -x "$dir/postgres" ] && [ -x "$dir/initdb" ] && return 0
	done
	command -v initdb >/dev/null && command -v postgres >/dev/null
}

have_gcc() { echo '#include <stdlib.h>' | "${CC:-gcc}" -E -x c - >/dev/null 2>&1; }

have_glpk() { command -v glpsol >/dev/null; }

# as_root runs a command as root, or fails when that needs a person who is not there.
as_root() {
	if [ "$(id -u)" = 0 ]; then
		"$@"
	elif [ -t 0 ]; then
		sudo "$@"
	else
		sudo -n "$@"
	fi
}

can_install() {
	command -v apt-get >/dev/null || return 1
	[ "$(id -u)" = 0 ] || command -v sudo >/dev/null
}

updated=
install() {
	if [ -z "$updated" ]; then
		say "reading Debian's list of packages"
		as_root apt-get -qq update </dev/null
		updated=yes
	fi
	say "installing $* from Debian"
	as_root env DEBIAN_FRONTEND=noninteractive apt-get -qq -y -o Dpkg::Use-Pty=0 --no-install-recommends install "$@" </dev/null >&2
}

# The line is put back afterwards: what this computer does with later versions is not ours to decide.
install_postgres() {
	install postgresql-common
	conf=/etc/postgresql-common/createcluster.conf
	as_root cp -p "$conf" "$conf.before-midden"
	echo 'create_main_cluster = false' | as_root tee -a "$conf" >/dev/null
	if ! install postgresql; then
		as_root mv "$conf.before-midden" "$conf"
		return 1
	fi
	as_root mv "$conf.before-midden" "$conf"
}

missing() {
	say "$1 is missing, and there is no way to install it here (apt-get as root or with sudo)."
	say "Install $2."
	exit 1
}

for what in "$@"; do
	case $what in
	postgres | test-postgres)
		have_postgres && continue
		if [ "$what" = test-postgres ]; then
			[ -n "${MIDDEN_TEST_DATABASE_URL:-}" ] && continue
			if ! can_install && docker info >/dev/null 2>&1; then
				continue
			fi
		fi
		can_install || missing Postgres "Postgres 15 or later with its server programs (Debian: postgresql), or name their folder in MIDDEN_PG_BINDIR"
		install_postgres
		have_postgres
		;;
	gcc)
		have_gcc && continue
		can_install || missing "a C compiler" "gcc and the headers of the C library (Debian: gcc libc6-dev)"
		install gcc libc6-dev
		have_gcc
		;;
	glpk)
		have_glpk && continue
		can_install || missing glpsol "GLPK's command-line solver (Debian: glpk-utils)"
		install glpk-utils
		have_glpk
		;;
	curl | jq)
		command -v "$what" >/dev/null && continue
		can_install || missing "$what" "$what"
		install "$what"
		command -v "$what" >/dev/null
		;;
	*)
		say "unknown: $what"
		exit 2
		;;
	esac
done

# shellcheck shell=bash
# What bin/start, bin/test and bin/bench share: a Python, system packages, the virtual environment, a PostgreSQL.
# Sourced, not run.

say() { printf '%s\n' "$*"; }
stop() { printf '%s\n' "$*" >&2; exit 1; }

is_debian() { [ -f /etc/debian_version ]; }

# need_packages WHAT_FOR PACKAGE...: installs Debian packages when root on Debian, else says what to type.
need_packages() {
    local what_for=$1
    shift
    [ $# -gt 0 ] || return 0
    if is_debian && [ "$(id -u)" = 0 ]; then
        say "Installing for $what_for: $*"
        local log
        log=$(mktemp)
        { apt-get update -q && DEBIAN_FRONTEND=noninteractive apt-get install -y -q --no-install-recommends "$@"; } \
            >"$log" 2>&1 </dev/null || { tail -n 20 "$log" >&2; stop "apt-get could not install: $*"; }
        rm -f "$log"
    elif is_debian; then
        stop "Missing for $what_for. Install with:
    sudo apt-get update && sudo apt-get install --no-install-recommends $*"
    else
        stop "Missing for $what_for: what Debian 12 calls $*. Install what your system calls it, and start again."
    fi
}

# suits PYTHON: 3.11, 3.12 or 3.13, as pyproject.toml asks.
suits() { "$1" -c 'import sys; sys.exit(not (3, 11) <= sys.version_info < (3, 14))' 2>/dev/null; }
makes_venvs() { "$1" -c 'import ensurepip, venv' 2>/dev/null; }

find_python() {
    local name
    for name in python3 python3.11 python3.12 python3.13; do
        if suits "$name" && makes_venvs "$name"; then
            command -v "$name"
            return
        fi
    done
    return 1
}

# make_venv LOCK [LOCK_INSIDE_IT]: .venv holds what the lock names; costs nothing while the lock is unchanged.
# A lock that the first one contains counts as installed with it.
make_venv() {
    local lock python sum
    if ! .venv/bin/python -c '' 2>/dev/null; then
        if ! python=$(find_python); then
            need_packages "Python 3.11" python3 python3-venv
            python=$(find_python) || stop "No Python of 3.11, 3.12 or 3.13 was found. Caststead needs one of them."
        fi
        rm -rf .venv
        "$python" -m venv .venv
    fi
    sum=$(sha256sum <"$1")
    if [ "$sum" != "$(cat ".venv/$1.sha256" 2>/dev/null)" ]; then
        say "Installing what $1 names (only when it changes) ..."
        .venv/bin/python -m pip install -qq --disable-pip-version-check --require-hashes --requirement "$1" ||
            stop "The packages could not be installed; the lines above say why. The next start tries again."
        for lock in "$@"; do sha256sum <"$lock" >".venv/$lock.sha256"; done
    fi
}

# missing_libraries LIBRARY=PACKAGE...: Debian's packages of those libraries that do not load.
missing_libraries() {
    [ "$(uname)" = Linux ] || return 0
    .venv/bin/python - "$@" <<'PYTHON'
import ctypes
import sys

for pair in sys.argv[1:]:
    library, package = pair.split("=")
    try:
        ctypes.CDLL(library)
    except OSError:
        print(package)
PYTHON
}

# need_libraries: those that WeasyPrint loads.
need_libraries() {
    local missing
    missing=$(missing_libraries libpango-1.0.so.0=libpango-1.0-0 libpangoft2-1.0.so.0=libpangoft2-1.0-0 \
        libharfbuzz-subset.so.0=libharfbuzz-subset0)
    # shellcheck disable=SC2086  # one word per package
    need_packages "printing (PDF)" $missing
}

# need_browser: Chromium without tabs and menus, what drives it (its node wants libatomic), WebKitGTK with a screen, and
# what reads PDFs back.
need_browser() {
    local missing
    missing=$(missing_libraries libatomic.so.1=libatomic1)
    command -v chromium-headless-shell >/dev/null || missing+=" chromium-headless-shell"
    command -v WebKitWebDriver >/dev/null || missing+=" webkit2gtk-driver"
    command -v Xvfb >/dev/null || missing+=" xvfb"
    command -v pdftotext >/dev/null || missing+=" poppler-utils"
    # shellcheck disable=SC2086  # one word per package
    need_packages "pages in a browser and PDFs" $missing
}

# --- PostgreSQL: a cluster of our own, thrown away afterwards
postgres_bin() {
    local initdb
    for initdb in $(command -v initdb) /usr/lib/postgresql/*/bin/initdb; do
        [ ! -x "$initdb" ] || { dirname "$initdb"; return; }
    done
    return 1
}
need_postgres() { postgres_bin >/dev/null || need_packages "PostgreSQL, for a while" postgresql; }

# PostgreSQL refuses to run as root.
as_postgres() { if [ "$(id -u)" = 0 ]; then runuser -u postgres -- "$@"; else "$@"; fi; }

cluster=
stop_postgres() {
    [ -n "$cluster" ] || return 0
    (cd / && as_postgres "$(postgres_bin)/pg_ctl" --pgdata "$cluster/data" --mode immediate --silent stop) || true
    rm -rf "$cluster"
    cluster=
}

# start_postgres: exports DATABASE_URL; stop_postgres must run at the end, whatever happened.
# Tests roll their rows back: what autovacuum learns of such tables is that they are empty, and a join of a few hundred
# rows then takes a hundred times as long. Who waits a minute for a lock, or two for an answer, is told so: it ends a test, not the run.
start_postgres() {
    local bin port
    bin=$(postgres_bin)
    port=$(.venv/bin/python -c 'import socket; s = socket.socket(); s.bind(("127.0.0.1", 0)); print(s.getsockname()[1])')
    cluster=$(mktemp -d)
    [ "$(id -u)" != 0 ] || chown postgres "$cluster"
    (
        cd / || return
        as_postgres "$bin/initdb" --pgdata "$cluster/data" --username caststead --auth trust --no-sync \
            --encoding UTF8 --locale C.UTF-8 >"$cluster/log" 2>&1 &&
            as_postgres "$bin/pg_ctl" --pgdata "$cluster/data" --wait --silent --log "$cluster/data/log" --options \
                "-p $port -c listen_addresses=127.0.0.1 -c unix_socket_directories='' -c fsync=off -c full_page_writes=off \
            -c autovacuum=off -c lock_timeout=60s -c statement_timeout=120s" start
    ) || { cat "$cluster/log" "$cluster/data/log"; return 1; }
    export DATABASE_URL="postgres://caststead@127.0.0.1:$port/postgres"
}

# Sourced by ./start and ./test: makes the virtual environment and keeps it in step with a lock.
#
# CHARGEWRIGHT_VENV    another place for the environment (default: .venv beside this checkout)
# CHARGEWRIGHT_PYTHON  the interpreter to build it from (default: the first fitting one found)
# shellcheck shell=bash

root=$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd -P)
venv=${CHARGEWRIGHT_VENV:-$root/.venv}
case $venv in
    /*) ;;
    *) venv=$PWD/$venv ;;
esac

fail() {
    printf '%s: %s\n' "${0##*/}" "$1" >&2
    exit 1
}

# Prints the path of interpreter $1 when it runs and its version is one the lock files cover.
# Running it matters: a version manager's shim can exist and still refuse.
fitting() {
    "$1" -c 'import sys
if not (3, 11) <= sys.version_info[:2] <= (3, 14):
    sys.exit(1)
print(sys.executable)' 2>/dev/null
}

find_python() {
    local name
    if [ -n "${CHARGEWRIGHT_PYTHON:-}" ]; then
        fitting "$CHARGEWRIGHT_PYTHON"
        return
    fi
    for name in python3 python3.13 python3.12 python3.14 python3.11 python; do
        fitting "$name" && return
    done
    return 1
}

have_uv() {
    command -v uv >/dev/null 2>&1
}

# Makes the environment unless a working one is there. Only what is marked as an environment
# is ever removed.
make_venv() {
    local python
    if [ -x "$venv/bin/python" ] && fitting "$venv/bin/python" >/dev/null; then
        return
    fi
    if [ -e "$venv" ] && [ ! -f "$venv/pyvenv.cfg" ] && [ -n "$(ls -A "$venv")" ]; then
        fail "$venv is not a virtual environment; move it away or set CHARGEWRIGHT_VENV"
    fi
    python=$(find_python) || {
        have_uv && [ -z "${CHARGEWRIGHT_PYTHON:-}" ] ||
            fail "no Python 3.11 to 3.14 found${CHARGEWRIGHT_PYTHON:+ at $CHARGEWRIGHT_PYTHON}; install python3 or uv"
        python=3.13 # uv brings its own
    }
    rm -rf "$venv"
    if have_uv; then
        uv venv --quiet --python "$python" "$venv" || fail "uv could not make $venv (see above)"
    elif "$python" -c 'import ensurepip, venv' 2>/dev/null; then
        "$python" -m venv "$venv" || fail "could not make $venv (see above)"
    elif "$python" -c 'import pip, venv' 2>/dev/null; then
        "$python" -m venv --without-pip "$venv" || fail "could not make $venv (see above)"
    else
        fail "this Python cannot make virtual environments; run: apt install python3-venv"
    fi
}

# Installs into the environment with whichever installer there is.
install() {
    local python
    if have_uv; then
        uv pip install --quiet --python "$venv/bin/python" --no-deps "$@"
    elif "$venv/bin/python" -c 'import pip' 2>/dev/null; then
        "$venv/bin/python" -m pip --disable-pip-version-check install -qq --no-deps "$@"
    else
        python=$(find_python) || fail "no Python with pip found; install python3-pip or uv"
        "$python" -m pip --disable-pip-version-check --python "$venv/bin/python" \
            install -qq --no-deps "$@"
    fi
}

# Brings the environment in step with lock file $1 and installs this checkout in place.
# The stamp makes the next run instant; a changed lock, pyproject.toml or place undoes it.
set_up() {
    local lock=$1 stamp state
    stamp=$venv/.chargewright-$lock.stamp
    make_venv
    state=$({ printf '%s\n' "$root" && cat "$root/$lock" "$root/pyproject.toml"; } | cksum)
    if [ -f "$stamp" ] && [ "$(cat "$stamp")" = "$state" ]; then
        return
    fi
    printf 'Setting up (first run, or the packages changed): this can take a few minutes.\n' >&2
    install --require-hashes -r "$root/$lock" ||
        fail "could not install $lock (see above); is the package index within reach?"
    install --no-build-isolation -e "$root" ||
        fail "could not install this checkout into $venv (see above)"
    printf '%s\n' "$state" >"$stamp"
}

# Installs programs that some tests ask for, where this machine lets us; such tests skip without
# them and say so. Nothing else depends on them.
get_witnesses() {
    local missing=""
    command -v ngspice >/dev/null 2>&1 || missing="$missing ngspice"
    command -v chromium >/dev/null 2>&1 || missing="$missing chromium"
    [ -n "$missing" ] || return 0
    if [ "$(id -u)" = 0 ] && command -v apt-get >/dev/null 2>&1; then
        # shellcheck disable=SC2086 # a list of names
        DEBIAN_FRONTEND=noninteractive timeout 240 apt-get install -qq -y $missing >/dev/null 2>&1 ||
            printf 'could not install%s: the tests that need them are skipped\n' "$missing" >&2
    else
        printf 'not here:%s; the tests that need them are skipped\n' "$missing" >&2
    fi
}

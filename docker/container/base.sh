#!/usr/bin/env bash
# Makes the root of a small Debian without a registry, as images of it are: FOLDER/RELEASE, kept and not made twice.
#
#   docker/container/base.sh FOLDER RELEASE       as root, with debootstrap; RELEASE: bookworm, trixie
#
# EMBERLINE_MIRROR is where from. Exit status: 0 it is there, 3 the surroundings do not allow it.
set -euo pipefail
export LC_ALL=C

[ $# = 2 ] || { echo "base: expected a folder and a release" >&2; exit 2; }
base=$1/$2
[ ! -f "$base.complete" ] || exit 0
[ "$(id -u)" = 0 ] || { echo "base: making a root needs root" >&2; exit 3; }
command -v debootstrap > /dev/null || { echo "base: debootstrap is missing" >&2; exit 3; }

mkdir -p "$1"
rm -rf "$base"
debootstrap --variant=minbase "$2" "$base" "${EMBERLINE_MIRROR:-http://deb.debian.org/debian}" > "$base.log" 2>&1 ||
  { tail -n 3 "$base.log" >&2; echo "base: debootstrap failed; is there a network?" >&2; exit 3; }
# The slim images leave out what nobody reads in a container, and keep it out.
cat > "$base/etc/dpkg/dpkg.cfg.d/slim" <<'SLIM'
path-exclude /usr/share/doc/*
path-include /usr/share/doc/*/copyright
path-exclude /usr/share/man/*
path-exclude /usr/share/locale/*
path-exclude /usr/share/info/*
SLIM
find "$base/usr/share/doc" -type f ! -name copyright -delete
find "$base/usr/share/doc" -type l -delete
rm -rf "$base"/usr/share/{man,locale,info}/* "$base"/var/lib/apt/lists/* "$base"/var/cache/apt/*.bin \
  "$base"/var/cache/apt/archives/*.deb "$base"/var/log/{bootstrap.log,dpkg.log,alternatives.log,apt}
touch "$base.complete"

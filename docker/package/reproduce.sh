#!/usr/bin/env bash
# Builds the program and its package twice, in two folders of other names, one of them without ccache, at another hour and
# under another umask, locale and time zone, and compares the bytes.
#
#   docker/package/reproduce.sh [FOLDER]        FOLDER: build/reproduce
#
# EMBERLINE_BUILT names a Release build of the same sources that is there already; it is then the first of the two. Exit
# status: 0 the same bytes, 1 not, 3 the surroundings do not allow it.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/../.."

fail() { printf 'reproduce: %s\n' "$*" >&2; exit 1; }
for tool in cmake ninja cpack readelf; do
  command -v "$tool" > /dev/null || { echo "reproduce: left out, $tool is missing" >&2; exit 3; }
done
if [ -n "${EMBERLINE_BUILT:-}" ] && grep -q '^EMBERLINE_UNITY:BOOL=ON' "$EMBERLINE_BUILT/CMakeCache.txt"; then
  echo "reproduce: $EMBERLINE_BUILT compiles several sources as one, so its bytes are others; expected one with EMBERLINE_UNITY=OFF" >&2
  exit 3
fi
root=$PWD
work=$(realpath -m "${1:-build/reproduce}")
rm -rf "$work"
mkdir -p "$work/a" "$work/another-place/of-another-length"
second=$work/another-place/of-another-length
unset SOURCE_DATE_EPOCH

# copy FOLDER: what a build reads.
copy() { mkdir -p "$1" && cp -a CMakeLists.txt LICENSE README.md DEVELOPERS.md config docker plant-models scenarios sim "$1/" && mkdir "$1/tests" && cp -a tests/architecture "$1/tests/"; }
# build SOURCES FOLDER: program and package.
build() {
  { cmake -S "$1" -B "$2" -G Ninja -DCMAKE_BUILD_TYPE=Release -DEMBERLINE_TESTS=OFF -DEMBERLINE_BENCH=OFF &&
    cmake --build "$2" --target emberline && cd "$2" && cpack -G DEB -B "$2/packed"; } > "$2.log" 2>&1 ||
    { tail -n 20 "$2.log" >&2; fail "a build failed; see $2.log"; }
}

copy "$second/sources"
if [ -n "${EMBERLINE_BUILT:-}" ]; then
  first=$(realpath "$EMBERLINE_BUILT")
  (cd "$first" && cpack -G DEB -B "$work/a/packed") > "$work/a.log" 2>&1 || { tail -n 20 "$work/a.log" >&2; fail "no package of $first"; }
  cp "$first/emberline" "$work/a/"
else
  first=$work/a
  build "$root" "$first"
fi
(umask 027
 export CCACHE_DISABLE=1 LC_ALL=C.UTF-8 TZ=Pacific/Auckland
 build "$second/sources" "$second/build")

same() { # WHAT A B
  if cmp -s "$2" "$3"; then
    printf 'reproduce: %s: the same %d bytes twice, SHA-256 %s\n' "$1" "$(stat -c %s "$2")" "$(sha256sum "$2" | cut -d' ' -f1)"
    return 0
  fi
  printf 'reproduce: %s differs\n' "$1" >&2
  return 1
}
# What differs, so that somebody can mend it: sections of the program, files of the package.
explain() {
  diff <(readelf -WS "$1/emberline") <(readelf -WS "$2/emberline") | head -n 20 || true
  diff <(readelf -Ws "$1/emberline" | awk '{ $1 = ""; print }') <(readelf -Ws "$2/emberline" | awk '{ $1 = ""; print }') | head -n 20 || true
  mkdir -p "$work/unpacked/a" "$work/unpacked/b"
  dpkg-deb -R "$1"/packed/*.deb "$work/unpacked/a" && dpkg-deb -R "$2"/packed/*.deb "$work/unpacked/b" || true
  diff -rq "$work/unpacked/a" "$work/unpacked/b" || true
  diff <(dpkg-deb -c "$1"/packed/*.deb) <(dpkg-deb -c "$2"/packed/*.deb) | head -n 20 || true
}
status=0
same "the program" "$work/a/emberline" "$second/build/emberline" || status=1
same "the package" "$work"/a/packed/*.deb "$second"/build/packed/*.deb || status=1
[ "$status" = 0 ] || explain "$work/a" "$second/build" >&2
exit "$status"

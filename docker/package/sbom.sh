#!/usr/bin/env bash
# Says what a built program consists of: a bill of materials as SPDX 2.3 in JSON, on standard output.
#
#   docker/package/sbom.sh PROGRAM VERSION [--header FILE]... [--vendored NAME:VERSION:LICENCE:PURL]...
#
# What it is linked with is read from the program and asked of dpkg: package, version, licence. --header is a file of a
# library that leaves nothing to link with, as Boost's; --vendored is what the sources bring along. Where there is no
# dpkg, versions are left open. The time in it is SOURCE_DATE_EPOCH where that is set, so that it repeats to the byte.
set -euo pipefail
export LC_ALL=C

[ $# -ge 2 ] && [ -f "$1" ] || { echo "sbom: expected a program and its version" >&2; exit 2; }
program=$1 version=$2
shift 2
headers=() vendored=()
while [ $# -gt 0 ]; do
  case "$1" in
    --header) headers+=("$2") ;;
    --vendored) vendored+=("$2") ;;
    *) echo "sbom: \"$1\" is not known; expected --header or --vendored" >&2; exit 2 ;;
  esac
  shift 2
done

# By the source a package is built from; SPDX's own names for what its copyright file says (a test compares the two).
licence() {
  case "$1" in
    libmodbus | libcsv) echo "LGPL-2.1-or-later" ;;
    spdlog | fmtlib | yaml-cpp) echo "MIT" ;;
    libmd) echo "BSD-3-Clause AND BSD-2-Clause AND ISC AND Beerware" ;;
    boost*) echo "BSL-1.0" ;;
    cli11) echo "BSD-3-Clause" ;;
    gcc-*) echo "GPL-3.0-or-later WITH GCC-exception-3.1" ;;
    glibc) echo "LGPL-2.1-or-later" ;;
    *) echo "NOASSERTION" ;;
  esac
}

have_dpkg=no
if command -v dpkg-query > /dev/null; then have_dpkg=yes; fi
distribution=$(. /etc/os-release 2> /dev/null && echo "${ID:-linux}-${VERSION_ID:-0}" || echo linux-0)
vendor=${distribution%%-*}

# owner FILE: the package a file belongs to, by any of the names it has where /lib is a link to /usr/lib.
owner() {
  local real
  real=$(realpath "$1")
  dpkg-query -S "$1" "/usr$1" "${1#/usr}" "$real" "/usr$real" "${real#/usr}" 2> /dev/null | sed -n '1 { s/: .*//; s/:.*//; p }'
}

declare -A linked_as=() how=()
order=()
# take FILE HOW NAME: one more file that is part of the program.
take() {
  local package=""
  if [ "$have_dpkg" = yes ]; then package=$(owner "$1" || true); fi
  [ -n "$package" ] || package=$3
  if [ -z "${how[$package]:-}" ]; then order+=("$package"); fi
  how[$package]=$2
  linked_as[$package]="${linked_as[$package]:+${linked_as[$package]}, }$3"
}

while read -r soname path; do take "$path" DYNAMIC_LINK "$soname"; done < <(
  ldd "$program" | awk '$2 == "=>" && $3 ~ /^\// { print $1, $3 } $1 ~ /^\// && $2 ~ /^\(/ { n = split($1, part, "/"); print part[n], $1 }' | sort)
for header in "${headers[@]}"; do
  [ -f "$header" ] || { echo "sbom: no such header: $header" >&2; exit 2; }
  take "$header" STATIC_LINK "${header##*/include/}"
done

packages=() relations=()
package() { # NAME VERSION LICENCE PURL SUPPLIER COMMENT [RELATION]
  local id="SPDXRef-${1//[^A-Za-z0-9.-]/-}" references=""
  if [ -n "$4" ]; then
    references=",
      \"externalRefs\": [
        { \"referenceCategory\": \"PACKAGE-MANAGER\", \"referenceType\": \"purl\", \"referenceLocator\": \"$4\" }
      ]"
  fi
  packages+=("    {
      \"name\": \"$1\",
      \"SPDXID\": \"$id\",
      \"versionInfo\": \"$2\",
      \"supplier\": \"$5\",
      \"downloadLocation\": \"NOASSERTION\",
      \"filesAnalyzed\": false,
      \"licenseConcluded\": \"NOASSERTION\",
      \"licenseDeclared\": \"$3\",
      \"copyrightText\": \"NOASSERTION\",
      \"comment\": \"$6\"$references
    }")
  [ "$1" = emberline ] || relations+=("    { \"spdxElementId\": \"SPDXRef-emberline\", \"relationshipType\": \"${7}\", \"relatedSpdxElement\": \"$id\" }")
}

sum=$(sha256sum "$program" | cut -d' ' -f1)
package emberline "$version" MIT "" "Organization: The Emberline project" "SHA-256 of the program: $sum"
if [ ${#order[@]} -gt 0 ]; then
  while read -r name; do
    found="NOASSERTION" source=$name architecture="" purl=""
    if [ "$have_dpkg" = yes ]; then
      read -r found source architecture < <(dpkg-query -W -f '${Version} ${source:Package} ${Architecture}\n' "$name" 2> /dev/null | head -n 1) || true
      purl="pkg:deb/$vendor/${name//+/%2B}@$(sed 's/:/%3A/g; s/+/%2B/g' <<< "$found")?arch=$architecture&distro=$distribution"
    fi
    words="linked with: ${linked_as[$name]}"
    [ "${how[$name]}" = DYNAMIC_LINK ] || words="compiled in: ${linked_as[$name]}"
    package "$name" "$found" "$(licence "$source")" "$purl" "Organization: ${vendor^}" "$words" "${how[$name]}"
  done < <(printf '%s\n' "${order[@]}" | sort)
fi
for entry in "${vendored[@]}"; do
  IFS=: read -r name found terms purl <<< "$entry"
  package "$name" "$found" "$terms" "$purl" "NOASSERTION" "comes with the sources" CONTAINS
done

joined() { local first=$1; shift; printf '%s' "$first"; [ $# = 0 ] || printf ',\n%s' "$@"; echo; }
cat <<END
{
  "spdxVersion": "SPDX-2.3",
  "dataLicense": "CC0-1.0",
  "SPDXID": "SPDXRef-DOCUMENT",
  "name": "emberline-$version",
  "documentNamespace": "urn:sha256:$sum",
  "creationInfo": {
    "created": "$(date -u -d "@${SOURCE_DATE_EPOCH:-$(date +%s)}" +%Y-%m-%dT%H:%M:%SZ)",
    "creators": ["Tool: docker/package/sbom.sh"]
  },
  "documentDescribes": ["SPDXRef-emberline"],
  "packages": [
$(joined "${packages[@]}")
  ],
  "relationships": [
    { "spdxElementId": "SPDXRef-DOCUMENT", "relationshipType": "DESCRIBES", "relatedSpdxElement": "SPDXRef-emberline" },
$(joined "${relations[@]}")
  ]
}
END

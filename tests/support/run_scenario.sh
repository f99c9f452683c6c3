#!/usr/bin/env bash
# run_scenario.sh EMBERLINE STATUS FILE: rehearses FILE twice (EMBERLINE_SCENARIO_RUNS times) and compares.
#
# Passes when all runs end with STATUS and, with the stepped clock, write the same JSON to the byte. A file
# that has to fail (status 1) says why in a line "# fails with: WORDS"; those words must be in the verdict,
# or it failed for another reason than the one it was written for.
set -uo pipefail
emberline=$1 expected=$2 file=$3
folder=$(mktemp -d "${TMPDIR:-/tmp}/emberline-scenario-XXXXXX")
trap 'rm -rf "$folder"' EXIT

for run in $(seq "${EMBERLINE_SCENARIO_RUNS:-2}"); do
  "$emberline" rehearse "$file" --seed 1 --json "$folder/$run.json" > "$folder/said.txt" 2> "$folder/log.txt"
  status=$?
  if [ "$run" = 1 ]; then cat "$folder/said.txt" "$folder/log.txt"; fi
  if [ "$status" != "$expected" ]; then
    echo "$file: run $run ended with status $status, expected $expected"
    exit 1
  fi
  # A run on the wall clock is no two times the same, and slow; once is enough.
  if grep -qE '^clock:[[:space:]]*wall' "$file"; then break; fi
done

if [ -f "$folder/2.json" ] && ! cmp "$folder/1.json" "$folder/2.json"; then
  echo "$file: two runs with one seed wrote different JSON"
  exit 1
fi
if [ "$expected" = 1 ]; then
  words=$(sed -n 's/^# fails with: //p' "$file")
  if [ -z "$words" ]; then
    echo "$file: has no line '# fails with: WORDS' that says what the verdict must hold"
    exit 1
  fi
  # The terminal breaks long sentences into lines.
  if ! tr -s '[:space:]' ' ' < "$folder/said.txt" | grep -qF -- "$words"; then
    echo "$file: failed, but the verdict does not say: $words"
    exit 1
  fi
fi

#!/usr/bin/env bash
# Runs the fuzzers of a build folder over their kept corpora and on from there; prints a line for each and ends
# with 1 if one found something.
#
#   tests/fuzz/run.sh FOLDER            a fixed number of inputs, the same each time
#   tests/fuzz/run.sh FOLDER SECONDS    as many as there are in that time, others each time
set -uo pipefail
here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
folder=$1 seconds=${2:-}

# What some seconds are good for, build with sanitizers.
runs() {
  case "$1" in
    yaml_* | csv_* | json_*) echo 1500 ;;
    panel) echo 500 ;;
    words) echo 3000 ;;
    *) echo 20000 ;;
  esac
}

one() {
  local name=$1 limits=() longest=1000 log=$folder/fuzz_$1.log found=$folder/found_$1
  rm -rf "$found" && mkdir -p "$found"
  if [ -n "$seconds" ]; then limits=("-max_total_time=$seconds"); else limits=(-seed=1 "-runs=$(runs "$name")"); fi
  case "$name" in
    yaml_*) longest=6000 limits+=("-dict=$here/yaml.dict") ;;
    csv_* | json_*) longest=6000 ;;
    words | panel) limits+=("-dict=$here/$name.dict") ;;
  esac
  # The first folder takes what is found, the second is only read.
  if "$folder/fuzz_$name" "${limits[@]}" -max_len=$longest -timeout=20 -print_final_stats=1 \
      -artifact_prefix="$folder/broken_$name-" "$found" "$here/corpus/$name" > "$log" 2>&1; then
    awk -v name="$name" '/DONE/ { for (i = 1; i < NF; ++i) if ($i == "cov:") edges = $(i + 1) }
      /number_of_executed_units/ { runs = $2 } /average_exec_per_sec/ { rate = $2 }
      END { printf "%s: %d inputs, %d a second, %d edges\n", name, runs, rate, edges }' "$log"
  else
    grep -vE '^(INFO|#[0-9])' "$log" | tail -n 40
    echo "$name: BROKEN (all of it: $log)"
    return 1
  fi
}

export -f one runs
export here folder seconds
printf '%s\n' panel words rtu_framer mbap_framer pdu unit csv_table json_state json_verdicts yaml_poll_plan yaml_register_table \
  yaml_bench yaml_scenario |
  xargs -P "$(nproc)" -I '{}' bash -c 'one {}'

#!/usr/bin/env bash
# Sets up, builds and runs the tests; the last line counts what passed and failed. Callable from any folder.
#
#   tests/run.sh         the short run, some minutes: tests, rehearsals, what takes bytes from outside apart under
#                        ASan and UBSan, with what the fuzzers have kept and inputs like it, architecture, format,
#                        clang-tidy on what changed
#   tests/run.sh --all   that with the property tests ten times as long, tests labelled long, everything under ASan and
#                        UBSan, all that has threads under TSan, minutes of fuzzing, clang-tidy and every header by
#                        itself, mutants, a soak of five minutes, the package and the image as people install them, and
#                        whether two builds give the same bytes
#
# What cannot be tried here (a missing engine, another clang-format) is left out; the line before the last counts that.
set -uo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/.." || exit 3

all=no
case "${1:-}" in
  "") ;;
  --all) all=yes ;;
  *) echo "tests/run.sh: \"$1\" is not known; expected --all or nothing at all" >&2; exit 2 ;;
esac

case "$all" in
  yes) bash tests/setup.sh all || exit 3 ;;
  no) bash tests/setup.sh || exit 3 ;;
esac

jobs=$(nproc)
passed=0
failed=0
left_out=0
started=$SECONDS
note() { printf '\n--- %s (at %d s)\n' "$*" $((SECONDS - started)); }
good() { passed=$((passed + 1)); printf 'passed: %s\n' "$*"; }
bad() { failed=$((failed + 1)); printf 'FAILED: %s\n' "$*"; }
without() { left_out=$((left_out + 1)); printf '%s\n' "$*"; }

# finish: the closing line, and the status that goes with it. No test at all is a failure too.
finish() {
  printf '\nThe whole run took %d s; %d left out.\n%d passed, %d failed\n' $((SECONDS - started)) "$left_out" "$passed" "$failed"
  [ "$failed" = 0 ] && [ "$passed" -gt 0 ]
  exit
}

# compile FOLDER TARGETS... -- OPTIONS...: configures and builds; what is said goes to FOLDER/build.log.
compile() {
  local folder=$1 targets=() generator=()
  shift
  while [ "$1" != -- ]; do targets+=("$1"); shift; done
  shift
  [ -f "$folder/CMakeCache.txt" ] || generator=(-G Ninja)
  mkdir -p "$folder"
  { cmake -S . -B "$folder" "${generator[@]}" "$@" &&
    cmake --build "$folder" --parallel "$jobs" --target "${targets[@]}"; } > "$folder/build.log" 2>&1
}

# compile_meanwhile FOLDER ...: as compile, behind what else runs, and only with time that is left over from it. A test
# that waits for a clock or a port leaves much, and loses none: this yields at once.
compile_meanwhile() {
  chrt --idle --pid 0 "$BASHPID" > /dev/null 2>&1 || renice -n 19 "$BASHPID" > /dev/null 2>&1
  compile "$@"
  echo $? > "$1/built"
}

# built NAME FOLDER [STATUS]: a build that fails is one failure. Without a status it waits for compile_meanwhile.
built() {
  local name=$1 folder=$2 status=${3:-}
  if [ -z "$status" ]; then
    while [ ! -s "$folder/built" ] && kill -0 "$meanwhile" 2> /dev/null; do sleep 0.2; done
    status=$(cat "$folder/built" 2> /dev/null || echo 1)
  fi
  if [ "$status" = 0 ]; then
    good "$name: builds without a warning"
    return 0
  fi
  tail -n 60 "$folder/build.log"
  bad "$name: the build; the end of $folder/build.log is above"
  return 1
}

# run_tests NAME FOLDER CTEST-ARGUMENTS...: runs them and counts test cases, not executables.
run_tests() {
  local name=$1 folder=$2 counts good_cases bad_cases skipped
  shift 2
  rm -f "$folder/ctest.xml"
  # A test takes two slots, or one where it mostly waits (PROCESSORS): one that waits finds room beside those that do not.
  ctest --test-dir "$folder" -j $((2 * jobs + 1)) --output-on-failure --no-tests=error \
    --test-output-size-passed 1000000 --test-output-size-failed 1000000 --output-junit ctest.xml "$@" \
    > "$folder/ctest.log" 2>&1
  local status=$?
  counts=$("$python" tests/support/tally.py "$folder/ctest.xml") || { bad "$name: no test results"; return 1; }
  read -r good_cases bad_cases skipped <<< "$counts"
  printf '%s: %d test cases passed, %d failed\n' "$name" "$good_cases" "$bad_cases"
  if [ "$skipped" != 0 ]; then
    grep -F '***Skipped' "$folder/ctest.log"
    left_out=$((left_out + skipped))
  fi
  passed=$((passed + good_cases))
  failed=$((failed + bad_cases))
  if [ "$status" != 0 ]; then
    [ "$bad_cases" != 0 ] || bad "$name: ctest ended with status $status"
    awk '/\*\*\*/ { show = 60 } show-- > 0' "$folder/ctest.log" | head -n 300
    echo "(all of it: $folder/ctest.log)"
  fi
}

python=/usr/bin/python3
[ -x "$python" ] || python=python3

# Sources under our hand: those git knows, and new ones it does not ignore.
sources() { git ls-files --cached --others --exclude-standard -- "$@" | while read -r f; do [ -f "$f" ] && echo "$f"; done; }

check_format() {
  local tool=clang-format files version
  command -v clang-format-14 > /dev/null && tool=clang-format-14
  version=$($tool --version | sed -n 's/.*version \([0-9]*\).*/\1/p')
  if [ "$version" != 14 ]; then
    without "format: left out, since clang-format $version lays out some lines otherwise than the 14 we agreed on"
    return
  fi
  mapfile -t files < <(sources 'sim/*.[ch]pp' 'plant-models/*.[ch]pp' 'tests/*.[ch]pp')
  if $tool --dry-run -Werror "${files[@]}" > build/format.log 2>&1; then
    good "format: ${#files[@]} files as clang-format lays them out"
  else
    grep -E 'error:' build/format.log | cut -d: -f1 | sort | uniq -c
    bad "format: these files; clang-format -i mends them"
  fi
}

# What counts as changed: since the branch left its upstream, or in the last four commits where nothing is ahead of it.
base_of_change() {
  local base
  base=${EMBERLINE_TIDY_BASE:-$(git merge-base HEAD '@{upstream}' 2> /dev/null)}
  if [ -z "$base" ] || [ "$(git rev-parse "$base")" = "$(git rev-parse HEAD)" ]; then
    base=$(git rev-parse --verify -q HEAD~4) || base=$(git hash-object -t tree /dev/null)
  fi
  printf '%s\n' "$base"
}
changed_sources() {
  local base
  base=$(base_of_change)
  { git diff --name-only "$base" -- 'sim/*.cpp' 'plant-models/*.cpp'
    git ls-files --others --exclude-standard -- 'sim/*.cpp' 'plant-models/*.cpp'; } | sort -u
}

# Reads the program, not the tests: clang 14 refuses a structured binding in the lambda that CAPTURE makes.
check_tidy() {
  local files
  if [ "$all" = yes ]; then
    mapfile -t files < <(sources 'sim/*.cpp' 'plant-models/*.cpp')
  else
    mapfile -t files < <(changed_sources | while read -r f; do [ -f "$f" ] && echo "$f"; done)
  fi
  if [ "${#files[@]}" = 0 ]; then
    echo "clang-tidy: no source of the program has changed"
    return
  fi
  # Its path analysis takes four times as long as all else, minutes on a file with Asio in it, where it finds
  # nothing. So it is left to the long run, and to what is not io.
  # Each source by itself, as it would be compiled without any of our shortcuts: here a missing #include is seen.
  if ! cmake -S . -B build/tidy -G Ninja -DCMAKE_BUILD_TYPE=Release -DEMBERLINE_TESTS=OFF -DEMBERLINE_BENCH=OFF \
      > build/tidy.log 2>&1; then
    bad "clang-tidy: how sources are compiled could not be found out (build/tidy.log)"
    return
  fi
  if printf '%s\n' "${files[@]}" | EMBERLINE_ALL=$all xargs -P "$jobs" -I '{}' bash -c '
      extra=(); case "$EMBERLINE_ALL $1" in no\ *|*\ sim/io/*|*\ sim/cli/*) extra=(--checks=-clang-analyzer-*) ;; esac
      clang-tidy -p build/tidy --quiet "${extra[@]}" "$1" 2>&1' tidy '{}' > build/tidy.log; then
    good "clang-tidy: ${#files[@]} files without a complaint"
  else
    grep -E 'error:|warning:' build/tidy.log | sort -u | head -n 60
    bad "clang-tidy: the complaints above (all of it: build/tidy.log)"
  fi
}

# One test a fuzzer, each for three minutes, with other inputs every time. (What they have kept, and a fixed number of
# inputs like it, is among the tests under ASan.)
run_fuzzers() {
  local line counted=0
  while read -r line; do
    case "$line" in
      *": BROKEN"*) bad "fuzzing $line" ;;
      *" inputs, "*) good "fuzzing $line" ;;
      *) printf '%s\n' "$line"; continue ;;
    esac
    counted=$((counted + 1))
  done < <(bash tests/fuzz/run.sh build/fuzz 180 2>&1)
  [ "$counted" = "$(find tests/fuzz/corpus -mindepth 1 -type d | wc -l)" ] || bad "fuzzing: not every fuzzer has run"
}

# One test a mutant: killed is passed.
check_mutants() {
  local line status before=$failed
  bash tests/mutants/run.sh build > build/mutants.log 2>&1
  status=$?
  while read -r line; do
    case "$line" in
      "killed: "*) passed=$((passed + 1)) ;;
      "SURVIVED: "*) bad "mutant: $line" ;;
      "mutants: "*) bad "$line" ;;
    esac
  done < build/mutants.log
  tail -n 1 build/mutants.log
  [ "$status" = 0 ] || [ "$before" != "$failed" ] || bad "mutants: status $status, see build/mutants.log"
}

# trial NAME COMMAND...: 0 good, 3 left out for want of something it names itself, anything else bad.
trial() {
  local name=$1 log=build/trial-$1.log status=0
  shift
  "$@" > "$log" 2>&1 || status=$?
  case "$status" in
    0) grep -E "^$name: " "$log"; good "$name: all as it should be" ;;
    3) without "$(tail -n 1 "$log")" ;;
    *) tail -n 30 "$log"; bad "$name: the end of $log is above" ;;
  esac
}

# What people install: the package, the image, and that both come out the same whoever builds them.
check_installation() {
  local release=unknown
  if [ -r /etc/os-release ]; then release=$(. /etc/os-release && echo "${VERSION_CODENAME:-unknown}"); fi
  if [ -f build/CPackConfig.cmake ] && (cd build && cpack -G DEB -B packed) > build/cpack.log 2>&1; then
    trial package bash docker/package/try.sh build/packed/emberline_*.deb "$release"
  else
    tail -n 5 build/cpack.log
    bad "package: cpack could not make it"
  fi
  mkdir -p build/container/ccache
  trial container bash docker/container/try.sh --ccache build/container/ccache
  trial reproduce env EMBERLINE_BUILT=build nice bash docker/package/reproduce.sh
  if ! command -v docker > /dev/null || ! timeout 20 docker info > /dev/null 2>&1; then
    without "engine: left out, no docker engine answers"
    return
  fi
  trial engine bash docker/try.sh
}

# Five minutes of everything at once; the seed stands in its last line.
check_soak() {
  if bash tests/soak/run.sh 5 > build/soak.log 2>&1; then
    good "$(grep '^soak: ' build/soak.log)"
  else
    grep -E '^(FAILED|soak|kept)' build/soak.log
    bad "soak: see build/soak.log"
  fi
}

if [ "$all" = yes ]; then export EMBERLINE_LONG=1; fi
export CCACHE_SLOPPINESS=pch_defines,time_macros,include_file_mtime,include_file_ctime # for precompiled headers

# A build folder from scratch is compiled several sources at a time; one that somebody works in stays as it is. The
# long run compiles every source by itself, since only so a missing #include is seen wherever it is.
together=()
if [ "$all" = yes ]; then
  together=(-DEMBERLINE_UNITY=OFF)
elif [ ! -f build/CMakeCache.txt ]; then
  together=(-DEMBERLINE_UNITY=ON)
fi

note "build"
targets=(all)
[ "$all" = no ] || targets+=(bench_speed)
compile build "${targets[@]}" -- -DCMAKE_BUILD_TYPE=Release -DEMBERLINE_TESTS=ON -DEMBERLINE_BENCH=ON "${together[@]}"
built "program and tests" build $? || finish

# Unoptimised, since compiling is what takes the time here: -O1 doubles it for code with checks in it. -g1 is
# enough for readable reports.
lean=(-DCMAKE_BUILD_TYPE=Debug "-DCMAKE_CXX_FLAGS_DEBUG=-O0 -g1" -DEMBERLINE_BENCH=OFF -DEMBERLINE_UNITY=ON)
rm -f build/{asan,tsan,fuzz}/built
set -m  # a process group of its own, which can be ended as a whole
{
  # The short run asks what takes bytes from outside apart.
  if [ "$all" = yes ]; then
    looked_at=(-DEMBERLINE_PROGRAM=ON -DEMBERLINE_PLAIN_BUILD=)
  else
    looked_at=(-DEMBERLINE_PROGRAM=OFF "-DEMBERLINE_PLAIN_BUILD=$PWD/build")
  fi
  compile_meanwhile build/asan all -- "${lean[@]}" -DEMBERLINE_SANITIZE=address,undefined "-DEMBERLINE_TEST_OBJECTS=$PWD/build" \
    "${looked_at[@]}"
  [ "$all" = no ] || compile_meanwhile build/tsan threaded_tests -- "${lean[@]}" -DEMBERLINE_SANITIZE=thread "-DEMBERLINE_PLAIN_BUILD=$PWD/build"
  [ "$all" = no ] || compile_meanwhile build/fuzz fuzzers -- -DCMAKE_CXX_COMPILER=clang++ "-DEMBERLINE_FUZZ=$PWD/build" -DEMBERLINE_UNITY=ON
} &
meanwhile=$!
set +m
trap 'kill -- "-$meanwhile" 2> /dev/null' EXIT
trap 'exit 130' INT TERM

note "tests and rehearsals"
if [ "$all" = no ]; then EMBERLINE_CHANGED_SINCE=$(base_of_change) && export EMBERLINE_CHANGED_SINCE; fi
which=()
[ "$all" = yes ] || which=(-LE "^long$")
run_tests "tests and rehearsals" build "${which[@]}"

note "format"
check_format

note "clang-tidy"
check_tidy

# That rehearsals repeat has been seen above, so one run of each is enough from here on.
export EMBERLINE_SCENARIO_RUNS=1
unset EMBERLINE_LONG
export ASAN_OPTIONS=detect_stack_use_after_return=1 UBSAN_OPTIONS=print_stacktrace=1

note "memory and undefined behaviour (ASan, UBSan)"
if built "address and undefined" build/asan; then
  run_tests "under ASan and UBSan" build/asan
fi

if [ "$all" = yes ]; then
  note "threads (TSan), where there are any"
  if built "thread" build/tsan; then
    run_tests "under TSan" build/tsan -L threads
  fi
fi

if [ "$all" = yes ]; then
  note "fuzzing"
  if built "fuzzers" build/fuzz; then
    run_fuzzers
  fi
fi

if [ "$all" = yes ]; then
  note "mutants"
  check_mutants
fi

if [ "$all" = yes ]; then
  note "soak"
  check_soak
fi

if [ "$all" = yes ]; then
  note "package, container, the same bytes"
  check_installation
fi
finish

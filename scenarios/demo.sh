#!/usr/bin/env bash
# Sets up, builds the program and shows its main job: eight hours of a furnace in a few seconds, with the
# cable pulled at soak. Callable from any folder, as often as wanted, and offline once set up.
set -euo pipefail
called_from=$PWD
cd "$(dirname "${BASH_SOURCE[0]}")/.."

bash tests/setup.sh build

# The same folder and options as tests/run.sh, so that neither makes the other build again.
generator=()
[ -f build/CMakeCache.txt ] || generator=(-G Ninja)
echo "demo: configuring and building build/emberline (the first time takes a few minutes)"
build() { cmake -S . -B build "${generator[@]}" && cmake --build build --target emberline --parallel; }
mkdir -p build
if [ -t 1 ]; then
  build || { echo "demo: the build failed; see above" >&2; exit 3; }
elif ! build > build/demo.log 2>&1; then
  tail -n 40 build/demo.log >&2
  echo "demo: the build failed; the end of build/demo.log is above" >&2
  exit 3
fi

echo "demo: build/emberline rehearse scenarios/eight-hour-firing.yaml"
echo
status=0
start=$(date +%s%N)
build/emberline rehearse scenarios/eight-hour-firing.yaml || status=$?
end=$(date +%s%N)
echo
printf 'demo: that took %d.%d s on this machine\n' $(((end - start) / 1000000000)) $(((end - start) / 100000000 % 10))

here=""
[ "$called_from" = "$PWD" ] || here="    cd $PWD
"
cat <<NEXT

Next, let a master of yours talk to it. In one terminal:
$here    build/emberline serve config/benches/annealing-lehr.yaml
and in another:
$here    build/emberline read  --bench config/benches/annealing-lehr.yaml ethernet soak-heater state setpoint load_power
    build/emberline tell  config/benches/annealing-lehr.yaml 'cut field'
Heat it and pull its cable:  README.md, First steps, has the commands
The other rehearsals:        build/emberline rehearse scenarios/*.yaml
One that has to fail:        build/emberline rehearse scenarios/must-fail/*.yaml
Build and run the tests:     tests/run.sh
NEXT
exit $status

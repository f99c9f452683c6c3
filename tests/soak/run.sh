#!/usr/bin/env bash
# A long run with faults, masters, visitors and power cycles all at once; see README.md beside this.
#
#   tests/soak/run.sh [MINUTES [SEED]]     30 minutes, a seed of the hour. The last line says what it came to.
#
# EMBERLINE=path/to/emberline takes another program than build/emberline, as one with a sanitizer in it.
set -euo pipefail
root=$(cd "$(dirname "${BASH_SOURCE[0]}")/../.." && pwd)
minutes=${1:-30}
seed=${2:-$(date +%s)}
program=${EMBERLINE:-$root/build/emberline}
[[ $minutes =~ ^[0-9]+(\.[0-9]+)?$ ]] || { echo "soak: \"$minutes\" is no number of minutes" >&2; exit 2; }
[[ $seed =~ ^[0-9]{1,18}$ ]] || { echo "soak: \"$seed\" is no seed, a whole number" >&2; exit 2; }
[ -x "$program" ] || { echo "soak: there is no $program; build it first" >&2; exit 2; }
python=/usr/bin/python3
[ -x "$python" ] || python=python3
exec "$python" -B "$root/tests/soak/soak.py" "$program" "$minutes" "$seed"

#!/usr/bin/env bash
# Breaks the watchdog and the framers on purpose and asks the tests; run.py says how.
#
#   tests/mutants/run.sh [BUILD]
set -u
cd "$(dirname "${BASH_SOURCE[0]}")/../.." || exit 3
python=/usr/bin/python3
[ -x "$python" ] || python=python3
exec "$python" tests/mutants/run.py "$@"

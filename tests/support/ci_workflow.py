#!/usr/bin/env python3
"""Runs the steps of docker/ci-workflow.yml: ci_workflow.py EMBERLINE ROOT

No forge and no container engine: the steps run in bash as a runner would start them, one after the other, with a
stand-in for `docker` that starts the built program instead of a container and refuses what it does not know. Once
with a PLC that does what the scenario asks for, when all steps have to pass, and once with one that does not, when
the last has to fail and nothing else.
"""
import os
import shutil
import subprocess
import sys
import tempfile
import threading

import yaml

DOCKER = r"""#!/usr/bin/env bash
# Stands in for `docker`: the same words, but the program runs right here. EMBERLINE_BINARY, BOXES are set.
set -euo pipefail
refuse() { echo "docker stand-in: $*" >&2; exit 125; }
word=$1; shift
case "$word" in
  build)
    [ "$1" = -f ] && [ -f "$2" ] && [ "$3" = -t ] && [ "$4" = emberline ] && [ -f "$5/CMakeLists.txt" ] ||
      refuse "build $*" ;;
  run)
    detach=no name=none
    while [ "$1" != emberline ]; do
      case "$1" in
        --detach) detach=yes; shift ;;
        --rm) shift ;;
        --name) name=$2; shift 2 ;;
        --network) [ "$2" = host ] || refuse "network $2"; shift 2 ;;
        --user) [[ "$2" =~ ^[0-9]+$ ]] || refuse "user $2"; shift 2 ;;
        -v) [ -d "${2%%:*}" ] || refuse "no folder ${2%%:*}"; shift 2 ;;
        -w) cd "$2"; shift 2 ;;
        *) refuse "run $1" ;;
      esac
    done
    shift
    if [ "$detach" = no ]; then exec "$EMBERLINE_BINARY" "$@"; fi
    "$EMBERLINE_BINARY" "$@" < /dev/null > "$BOXES/$name.log" 2>&1 &
    echo $! | tee "$BOXES/$name.pid" ;;
  exec)
    [ -f "$BOXES/$1.pid" ] && [ "$2" = emberline ] || refuse "exec $*"
    shift 2; exec "$EMBERLINE_BINARY" "$@" ;;
  logs) cat "$BOXES/$1.log" ;;
  stop)
    [ "$1" = --time ] || refuse "stop $*"
    kill "$(cat "$BOXES/$3.pid")"
    for _ in $(seq 100); do kill -0 "$(cat "$BOXES/$3.pid")" 2> /dev/null || exit 0; sleep 0.1; done
    refuse "$3 did not stop" ;;
  rm) [ "$1" = --force ] || refuse "rm $*"; kill -9 "$(cat "$BOXES/$2.pid")" 2> /dev/null || true; rm "$BOXES/$2.pid" ;;
  *) refuse "$word" ;;
esac
"""

SCENARIO = """scenario: The PLC asks for half
bench: bench.yaml
ends: 8 s
expect:
  - { name: asks for half, first_write: { heater-1.setpoint: { near: 50 %, tolerance: 0.1 % } } }
"""


def fail(text):
    print(text)
    sys.exit(1)


def look(workflow):
    """What a runner would stumble over before the first step."""
    for key in ("name", "on", "env", "jobs"):
        if key not in workflow:
            fail(f"ci-workflow.yml: no '{key}'")
    for name, job in workflow["jobs"].items():
        if not job.get("runs-on") or not job.get("steps"):
            fail(f"job {name}: needs 'runs-on' and 'steps'")
        for step in job["steps"]:
            if ("run" in step) == ("uses" in step) or not step.get("name"):
                fail(f"job {name}: a step has a name and either 'run' or 'uses': {step}")
            if set(step) - {"name", "run", "uses", "with", "if"}:
                fail(f"{step['name']}: unknown keys {sorted(set(step))}")
            checked = subprocess.run(["bash", "-n", "-c", step.get("run", ":")], capture_output=True, text=True)
            if checked.returncode != 0:
                fail(f"{step['name']}: {checked.stderr}")


class Run:
    """All steps in a folder of their own; `outcomes` is what they ended with."""

    def __init__(self, workflow, emberline, root, setpoint):
        self.folder = tempfile.mkdtemp(prefix="emberline-workflow-")
        self.outcomes, self.said = {}, ""
        tools = os.path.join(self.folder, "tools")
        os.makedirs(tools)
        self.put("tools/docker", DOCKER)
        self.put("plc-tests", '#!/usr/bin/env bash\n'
                 f'exec "$EMBERLINE_BINARY" write --bench my/bench.yaml "$1" 1 "setpoint={setpoint}"\n')
        subprocess.run([emberline, "new", "my", "--line", "127.0.0.1:0", "--policy", "hold-last-command", "--yes"],
                       cwd=self.folder, check=True, capture_output=True)
        self.put("my/story.yaml", SCENARIO)
        self.environment = {**os.environ, **workflow["env"], "PATH": tools + ":" + os.environ["PATH"],
                            "EMBERLINE_BINARY": emberline, "BOXES": tools, "EMBERLINE": root,
                            "BENCH": "my/bench.yaml", "SCENARIO": "my/story.yaml", "PLC_TESTS": "./plc-tests",
                            "OUTAGE": "0"}
        [self.steps] = [job["steps"] for job in workflow["jobs"].values()]

    def put(self, name, text):
        path = os.path.join(self.folder, name)
        with open(path, "w", encoding="utf-8") as file:
            file.write(text)
        os.chmod(path, 0o755)

    def steps_with_shell(self):
        failed = False
        for step in self.steps:
            if "run" not in step or (failed and "if" not in step):
                continue
            done = subprocess.run(["bash", "-e", "-c", step["run"]], cwd=self.folder, env=self.environment,
                                  stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=240)
            self.outcomes[step["name"]] = done.returncode
            self.said += f"--- {step['name']}: {done.returncode}\n{done.stdout}{done.stderr}"
            failed = failed or done.returncode != 0

    def result(self, name):
        path = os.path.join(self.folder, "results", name)
        if not os.path.exists(path):
            return ""
        with open(path, encoding="utf-8") as file:
            return file.read()


def main():
    emberline, root = (os.path.abspath(path) for path in sys.argv[1:3])
    with open(os.path.join(root, "docker", "ci-workflow.yml"), encoding="utf-8") as file:
        workflow = yaml.load(file, Loader=yaml.BaseLoader)
    look(workflow)
    for name in ("BENCH", "SCENARIO"):  # as they stand in a checkout
        path = workflow["env"][name].replace(workflow["env"]["EMBERLINE"], root, 1)
        if subprocess.run([emberline, "check", path], capture_output=True).returncode != 0:
            fail(f"{name} of the workflow is not good: {path}")
    good, bad = (Run(workflow, emberline, root, setpoint) for setpoint in ("50 %", "5 %"))
    threads = [threading.Thread(target=run.steps_with_shell) for run in (good, bad)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    wrong = []
    last = "Rehearse with the PLC program as the master"
    if set(good.outcomes.values()) != {0} or last not in good.outcomes:
        wrong.append("with a good PLC every step has to pass:\n" + good.said)
    if [name for name, status in bad.outcomes.items() if status] != [last] or bad.outcomes.get(last) != 1:
        wrong.append("with a bad PLC the last step has to fail, and no other:\n" + bad.said)
    if 'failures="0"' not in good.result("verdicts.xml") or 'failures="1"' not in bad.result("verdicts.xml"):
        wrong.append("the verdicts are not those expected:\n" + good.result("verdicts.xml") + bad.result("verdicts.xml"))
    if "cable pulled" not in good.result("field.log"):
        wrong.append("the cable was not pulled:\n" + good.result("field.log"))
    for run in (good, bad):
        shutil.rmtree(run.folder)
    if wrong:
        fail("\n".join(wrong))
    print(f"{len(good.outcomes)} steps run with a PLC that is good and with one that is not, as they should end")


if __name__ == "__main__":
    main()

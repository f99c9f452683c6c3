#!/usr/bin/env python3
"""Runs the steps of docker/ci-workflow.yml: ci_workflow.py EMBERLINE ROOT

No forge and no container engine: the steps run in bash as a runner would start them, job after job, each job in a
checkout of its own, with a stand-in for `docker` that starts the built program instead of a container and refuses what
it does not know, and with artifacts that go through a folder. Once with a PLC that does what the scenario asks for and
stories that pass, when all steps have to pass, and once with one that does not and a story that fails, when those
steps have to fail that say so, and no other.
"""
import glob
import os
import re
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
        --user) [[ "$2" =~ ^[0-9]+:[0-9]+$ ]] || refuse "user $2"; shift 2 ;;
        -v) [ -d "${2%%:*}" ] || refuse "no folder ${2%%:*}"; shift 2 ;;
        -w) cd "$2"; shift 2 ;;
        --device) [ -c "$2" ] || refuse "no device $2"; shift 2 ;;
        --group-add) [[ "$2" =~ ^[0-9]+$ ]] || refuse "group $2"; shift 2 ;;
        --read-only) shift ;;
        --cap-drop) [ "$2" = ALL ] || refuse "capability $2"; shift 2 ;;
        --security-opt) [ "$2" = no-new-privileges ] || refuse "option $2"; shift 2 ;;
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


STORY = """scenario: Story {number}
bench: ../my/bench.yaml
ends: 5 s
masters:
  plc: {{ lines: [ethernet], program: [ {{ at: 1 s, write: {{ heater-1.setpoint: 50 % }} }} ] }}
expect:
  - {{ name: asks for half, first_write: {{ heater-1.setpoint: {{ near: {near} %, tolerance: 0.1 % }} }} }}
"""
STORIES = 5  # more than shards, and not a multiple of them

JOB_KEYS = {"runs-on", "timeout-minutes", "steps", "needs", "if", "strategy"}
STEP_KEYS = {"name", "run", "uses", "with", "if", "env"}


def fail(text):
    print(text)
    sys.exit(1)


def closed(workflow, name):
    """What a job may do is no more than it needs: its token reads, stays in no checkout, containers have no privilege."""
    if workflow.get("permissions") != {"contents": "read"}:
        fail(f"{name}: the token of a job is to read contents and no more: {workflow.get('permissions')}")
    for job in workflow["jobs"].values():
        for step in job["steps"]:
            if step.get("uses", "").startswith("actions/checkout@") and step.get("with", {}).get("persist-credentials") != "false":
                fail(f"{name}, {step['name']}: persist-credentials: false keeps the token out of the checkout")
            said = step.get("run", "").replace("\\\n", " ").replace("$CLOSED", workflow["env"].get("CLOSED", ""))
            for line in re.findall(r"docker run .*", said):
                for wanted in ("--cap-drop ALL ", "--security-opt no-new-privileges ", '--user "$(id -u):$(id -g)" '):
                    if wanted not in line:
                        fail(f"{name}, {step['name']}: a container without {wanted}")


def look(workflow):
    """What a runner would stumble over before the first step."""
    for key in ("name", "on", "env", "jobs"):
        if key not in workflow:
            fail(f"ci-workflow.yml: no '{key}'")
    closed(workflow, "ci-workflow.yml")
    for name, job in workflow["jobs"].items():
        if not job.get("runs-on") or not job.get("steps"):
            fail(f"job {name}: needs 'runs-on' and 'steps'")
        if set(job) - JOB_KEYS:
            fail(f"job {name}: unknown keys {sorted(set(job) - JOB_KEYS)}")
        if job.get("needs", name) != name and job["needs"] not in workflow["jobs"]:
            fail(f"job {name}: there is no job {job['needs']}")
        for step in job["steps"]:
            if ("run" in step) == ("uses" in step) or not step.get("name"):
                fail(f"job {name}: a step has a name and either 'run' or 'uses': {step}")
            if set(step) - STEP_KEYS:
                fail(f"{step['name']}: unknown keys {sorted(set(step))}")
            if "${{" in step.get("run", ""):
                fail(f"{step['name']}: a shell takes its values from 'env', not from the text of a step")
            checked = subprocess.run(["bash", "-n", "-c", step.get("run", ":")], capture_output=True, text=True)
            if checked.returncode != 0:
                fail(f"{step['name']}: {checked.stderr}")
    shards = workflow["jobs"]["rehearsals"]["strategy"]["matrix"]["shard"]
    if shards != [str(number) for number in range(1, int(workflow["env"]["SHARDS"]) + 1)]:
        fail(f"SHARDS is {workflow['env']['SHARDS']}, the matrix has {shards}")


def instances(workflow):
    """(job's name, job, values of the matrix) in the order in which a forge could run them."""
    for name, job in workflow["jobs"].items():
        matrix = job.get("strategy", {}).get("matrix", {})
        if not matrix:
            yield name, job, {}
        for key, values in matrix.items():
            for value in values:
                yield name, job, {key: value}


def filled(text, matrix):
    def value(match):
        where, _, key = match.group(1).partition(".")
        if where != "matrix" or key not in matrix:
            fail(f"'{match.group(0)}' means nothing here")
        return matrix[key]
    return re.sub(r"\$\{\{ *([\w.-]+) *\}\}", value, text)


class Run:
    """All jobs, each in a folder of its own; `outcomes` is what their steps ended with."""

    def __init__(self, workflow, emberline, root, good):
        self.base = tempfile.mkdtemp(prefix="emberline-workflow-")
        self.store = os.path.join(self.base, "artifacts")
        self.workflow, self.emberline, self.root, self.good = workflow, emberline, root, good
        self.outcomes, self.said = {}, ""

    def put(self, name, text):
        path = os.path.join(self.folder, name)
        os.makedirs(os.path.dirname(path), exist_ok=True)
        with open(path, "w", encoding="utf-8") as file:
            file.write(text)
        os.chmod(path, 0o755)

    def check_out(self, folder):
        self.folder = os.path.join(self.base, folder)
        os.makedirs(self.folder)
        tools = os.path.join(self.folder, "tools")
        self.put("tools/docker", DOCKER)
        self.put("plc-tests", '#!/usr/bin/env bash\n'
                 f'exec "$EMBERLINE_BINARY" write --bench my/bench.yaml "$1" 1 "setpoint={"50 %" if self.good else "5 %"}"\n')
        subprocess.run([self.emberline, "new", "my", "--line", "127.0.0.1:0", "--policy", "hold-last-command", "--yes"],
                       cwd=self.folder, check=True, capture_output=True)
        self.put("my/story.yaml", SCENARIO)
        for number in range(1, STORIES + 1):
            near = 50 if self.good or number != 4 else 60
            self.put(f"stories/story-{number}.yaml", STORY.format(number=number, near=near))
        return {**os.environ, **self.workflow["env"], "PATH": tools + ":" + os.environ["PATH"],
                "EMBERLINE_BINARY": self.emberline, "BOXES": tools, "EMBERLINE": self.root,
                "BENCH": "my/bench.yaml", "SCENARIO": "my/story.yaml", "SCENARIOS": "stories/*.yaml",
                "PLC_TESTS": "./plc-tests", "OUTAGE": "0"}

    def artifact(self, step, matrix):
        """What a forge keeps for later jobs: a folder each."""
        if step["uses"].startswith("actions/upload-artifact@"):
            target = os.path.join(self.store, filled(step["with"]["name"], matrix))
            os.makedirs(target)
            for path in filled(step["with"]["path"], matrix).split():
                for found in glob.glob(os.path.join(self.folder, path)):
                    shutil.copy(found, target)
        elif step["uses"].startswith("actions/download-artifact@"):
            target = os.path.join(self.folder, step["with"]["path"])
            os.makedirs(target, exist_ok=True)
            for found in glob.glob(os.path.join(self.store, step["with"]["pattern"], "*")):
                shutil.copy(found, target)
        elif not step["uses"].startswith("actions/checkout@"):
            fail(f"{step['name']}: what does {step['uses']} do?")

    def job(self, name, job, matrix):
        environment = self.check_out("-".join([name, *matrix.values()]))
        failed = False
        for step in job["steps"]:
            if failed and "if" not in step:
                continue
            if "uses" in step:
                self.artifact(step, matrix)
                continue
            own = {key: filled(value, matrix) for key, value in step.get("env", {}).items()}
            done = subprocess.run(["bash", "-e", "-c", step["run"]], cwd=self.folder, env={**environment, **own},
                                  stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=240)
            step_name = " ".join([name, *matrix.values(), "/", step["name"]])
            self.outcomes[step_name] = done.returncode
            self.said += f"--- {step_name}: {done.returncode}\n{done.stdout}{done.stderr}"
            failed = failed or done.returncode != 0
        return failed

    def all_jobs(self):
        failed = set()
        for name, job, matrix in instances(self.workflow):
            if job.get("needs") in failed and "if" not in job:
                continue
            if self.job(name, job, matrix):
                failed.add(name)

    def result(self, job, name):
        path = os.path.join(self.base, job, "results", name)
        if not os.path.exists(path):
            return ""
        with open(path, encoding="utf-8") as file:
            return file.read()


def look_at(good, bad):
    """What is not as it should be."""
    wrong = []
    if set(good.outcomes.values()) != {0}:
        wrong.append("with a good PLC and good stories every step has to pass:\n" + good.said)
    expected = {"field-device / Rehearse with the PLC program as the master": 1,
                "rehearsals 1 / Rehearse this shard": 1,  # the fourth of five stories is in the first of three shards
                "verdict / Merge them": 1}
    found = {name: status for name, status in bad.outcomes.items() if status}
    if found != expected or set(expected) - set(good.outcomes):
        wrong.append(f"with a bad PLC and a bad story these have to fail: {expected}\nfound: {found}\n" + bad.said)
    for run, failures in ((good, 0), (bad, 1)):
        if f'failures="{failures}"' not in run.result("field-device", "verdicts.xml"):
            wrong.append("the verdicts are not those expected:\n" + run.result("field-device", "verdicts.xml"))
        merged = run.result("verdict", "rehearsals.xml")
        if f'tests="{STORIES}" failures="{failures}"' not in merged:
            wrong.append(f"the merged verdicts are not those of {STORIES} stories:\n" + merged)
        page = run.result("verdict", "rehearsals.html")
        if [number for number in range(1, STORIES + 1) if f"Story {number}" not in page]:
            wrong.append("the merged page does not show every story:\n" + page[:2000])
    if "cable pulled" not in good.result("field-device", "field.log"):
        wrong.append("the cable was not pulled:\n" + good.result("field-device", "field.log"))
    return wrong


def main():
    emberline, root = (os.path.abspath(path) for path in sys.argv[1:3])
    with open(os.path.join(root, "docker", "ci-workflow.yml"), encoding="utf-8") as file:
        workflow = yaml.load(file, Loader=yaml.BaseLoader)
    look(workflow)
    for name in ("BENCH", "SCENARIO", "SCENARIOS"):  # as they stand in a checkout
        paths = glob.glob(workflow["env"][name].replace(workflow["env"]["EMBERLINE"], root, 1))
        if not paths or subprocess.run([emberline, "check", *paths], capture_output=True).returncode != 0:
            fail(f"{name} of the workflow is not good: {paths}")
    good, bad = (Run(workflow, emberline, root, is_good) for is_good in (True, False))
    threads = [threading.Thread(target=run.all_jobs) for run in (good, bad)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    wrong = look_at(good, bad)
    for run in (good, bad):
        shutil.rmtree(run.base)
    if wrong:
        fail("\n".join(wrong))
    print(f"{len(good.outcomes)} steps run with a PLC and stories that are good and with some that are not, as they "
          "should end")


if __name__ == "__main__":
    main()

#!/usr/bin/env python3
"""Runs what docker/ has to be copied besides ci-workflow.yml: deployments.py EMBERLINE ROOT

- compose.yaml: its services are started as they stand, with the built program in place of the image and this machine in
  place of the network; the master beside the bench has to get its setpoint through.
- rehearse-job.yaml: the script of its pods, once for each index, and the merged verdicts. Every story is judged once. The
  pod is held against the profile "restricted" of the Kubernetes Pod Security Standards (v1.25 and later, from memory).
- serial-workflow.yml: its steps, with two pseudo-terminals in place of an adapter and a wire, with a PLC that does what
  the story asks for, and with one that does not.

Neither an engine nor a cluster has a part in it. Prints what is wrong and exits 1, or says what it has run.
"""
import glob
import json
import os
import re
import select
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
import time

import yaml

from ci_workflow import DOCKER, closed

STORIES = 6  # not a multiple of the pods
STORY = """scenario: Story {number}
bench: my/bench.yaml
ends: 5 s
masters:
  plc: {{ lines: [ethernet], program: [ {{ at: 1 s, write: {{ heater-1.setpoint: 50 % }} }} ] }}
expect:
  - {{ name: asks for half, first_write: {{ heater-1.setpoint: {{ near: {near} %, tolerance: 0.1 % }} }} }}
"""
ASKS_FOR_HALF = """scenario: The PLC asks for half
bench: bench.yaml
ends: 8 s
expect:
  - { name: asks for half, first_write: { heater-1.setpoint: { near: 50 %, tolerance: 0.1 % } } }
"""
LIMIT_s = 60  # nothing here takes a tenth of that; a hang is to end as a failure


def fail(text):
    print(text)
    sys.exit(1)


def load(root, name):
    with open(os.path.join(root, "docker", name), encoding="utf-8") as file:
        return yaml.safe_load(file)


def put(path, text, mode=0o644):
    os.makedirs(os.path.dirname(path), exist_ok=True)
    with open(path, "w", encoding="utf-8") as file:
        file.write(text)
    os.chmod(path, mode)


def until(what, condition):
    end = time.monotonic() + LIMIT_s
    while time.monotonic() < end:
        found = condition()
        if found:
            return found
        time.sleep(0.05)
    fail(f"{what}: not within {LIMIT_s} s")


def instructions(root):
    """The Dockerfile's ENTRYPOINT, CMD and so on, the last of each; lines that go on joined."""
    with open(os.path.join(root, "docker", "Dockerfile"), encoding="utf-8") as file:
        text = re.sub(r"^#.*\n", "", file.read(), flags=re.M).replace("\\\n", " ")
    return {word: rest for word, rest in re.findall(r"^([A-Z]+) +(.*)$", text, flags=re.M)}


def sealed(name, service):
    """What both services of compose.yaml promise."""
    if service.get("read_only") is not True or service.get("cap_drop") != ["ALL"] or \
            service.get("security_opt") != ["no-new-privileges:true"] or service.get("privileged") or "user" in service:
        fail(f"compose.yaml: {name} is not as closed as it should be: {service}")


def compose(emberline, root, folder):
    services = load(root, "compose.yaml")["services"]
    image = instructions(root)
    for name, service in services.items():
        sealed(name, service)
        if "build" not in service and service.get("pull_policy") != "never":
            fail(f"compose.yaml: {name} would be fetched from a registry of strangers")
    ports = services["bench"]["ports"]
    if any(not port.startswith("127.0.0.1:") for port in ports):
        fail(f"compose.yaml: a port is open to others than this machine: {ports}")
    build = services["bench"]["build"]
    if not os.path.isfile(os.path.normpath(os.path.join(root, "docker", build["context"], build["dockerfile"]))):
        fail(f"compose.yaml: there is no {build}")
    if json.loads(image["ENTRYPOINT"]) != ["emberline"] or not image["USER"].isdigit() or image["USER"] == "0":
        fail("the Dockerfile: expected the program as ENTRYPOINT and an ordinary user's number")
    uid = image["USER"]
    if not all(f"uid={uid}" in mount for service in services.values() for mount in service.get("tmpfs", [])):
        fail(f"compose.yaml: what can be written to belongs to another than user {uid} of the image")

    # The image's bench, on a port that is free here; /run/emberline is a folder of ours.
    for top in ("config", "scenarios"):
        shutil.copytree(os.path.join(root, top), os.path.join(folder, top))
    own = os.path.join(folder, "run")
    os.mkdir(own)
    with open(os.path.join(root, "config/benches/annealing-lehr.yaml"), encoding="utf-8") as file:
        bench = file.read().replace("127.0.0.1:1502", "127.0.0.1:0").replace("/tmp/emberline", own)
    put(os.path.join(folder, "config/benches/container.yaml"), bench)
    here = {"/run/emberline": own}
    serve = [own + word[len("/run/emberline"):] if word.startswith("/run/emberline") else word for word in json.loads(image["CMD"])]
    ready = os.path.join(folder, "ready.json")
    processes = []
    try:
        processes.append(subprocess.Popen([emberline, *serve, "--ready-file", ready, "--panel", "off"], cwd=folder,
                                          stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL))
        until("the bench of compose.yaml", lambda: os.path.exists(ready) and os.path.getsize(ready))
        asked = re.match(r".*?CMD +(\[.*\])$", image["HEALTHCHECK"])
        health = [word.replace("/run/emberline", here["/run/emberline"]) for word in json.loads(asked[1])]
        until("HEALTHCHECK", lambda: subprocess.run([emberline, *health[1:]], cwd=folder, capture_output=True).returncode == 0)
        with open(ready, encoding="utf-8") as file:
            port = json.load(file)["lines"]["ethernet"]["port"]
        command = [word.replace("bench:1502", f"localhost:{port}") for word in services["plc"]["command"]]
        if not any(f"localhost:{port}" == word for word in command):
            fail(f"compose.yaml: the master does not ask the bench: {command}")
        processes.append(subprocess.Popen([emberline, *command], cwd=folder, stdout=subprocess.DEVNULL))
        unit = command[command.index(f"localhost:{port}") + 1]
        ask = [emberline, "read", "--bench", "config/benches/container.yaml", f"localhost:{port}", unit, "setpoint", "state"]
        def arrived():
            said = subprocess.run(ask, cwd=folder, capture_output=True, text=True).stdout
            return "setpoint = 50 %" in said and "running" in said
        until("the setpoint of the master beside the bench, and a unit that runs", arrived)
    finally:
        for process in reversed(processes):
            process.send_signal(signal.SIGTERM)
            process.wait(LIMIT_s)


def restricted(pod):
    """The Pod Security Standards' profile "restricted", as far as a pod without init containers goes."""
    allowed = {"name", "configMap", "csi", "downwardAPI", "emptyDir", "ephemeral", "persistentVolumeClaim", "projected", "secret"}
    context = pod.get("securityContext", {})
    for key in ("hostNetwork", "hostPID", "hostIPC"):
        if pod.get(key):
            fail(f"rehearse-job.yaml: {key}")
    if context.get("runAsNonRoot") is not True or context.get("runAsUser") == 0 or \
            context.get("seccompProfile", {}).get("type") not in ("RuntimeDefault", "Localhost"):
        fail(f"rehearse-job.yaml: the pod is not 'restricted': {context}")
    for volume in pod.get("volumes", []):
        if set(volume) - allowed:
            fail(f"rehearse-job.yaml: a volume is not 'restricted': {volume}")
    for container in pod["containers"]:
        own = container.get("securityContext", {})
        if own.get("allowPrivilegeEscalation") is not False or own.get("capabilities", {}).get("drop") != ["ALL"] or \
                own.get("capabilities", {}).get("add") or own.get("privileged") or own.get("readOnlyRootFilesystem") is not True:
            fail(f"rehearse-job.yaml: the container is not 'restricted': {own}")
        volumes = {volume["name"] for volume in pod["volumes"]}
        if {mount["name"] for mount in container["volumeMounts"]} != volumes:
            fail("rehearse-job.yaml: what is mounted is not what there is")


def job(emberline, root, folder):
    described = load(root, "rehearse-job.yaml")
    spec = described["spec"]
    if (described["apiVersion"], described["kind"], spec["completionMode"]) != ("batch/v1", "Job", "Indexed"):
        fail("rehearse-job.yaml: no indexed job")
    # One index that fails must not end the others, as `backoffLimit: 0` would.
    if spec.get("backoffLimitPerIndex") != 0 or "backoffLimit" in spec:
        fail("rehearse-job.yaml: expected backoffLimitPerIndex: 0, and no backoffLimit")
    pod = spec["template"]["spec"]
    restricted(pod)
    if str(pod["securityContext"]["runAsUser"]) != instructions(root)["USER"]:
        fail("rehearse-job.yaml: another user than the image's")
    container = pod["containers"][0]
    stories, results = os.path.join(folder, "stories"), os.path.join(folder, "results")
    os.makedirs(results)
    subprocess.run([emberline, "new", "stories/my", "--line", "127.0.0.1:0", "--policy", "hold-last-command", "--yes"],
                   cwd=folder, check=True, capture_output=True)
    for number in range(1, STORIES + 1):
        put(os.path.join(stories, f"story-{number}.yaml"), STORY.format(number=number, near=60 if number == 2 else 50))
    put(os.path.join(folder, "tools/emberline"), f'#!/bin/sh\nexec "{emberline}" "$@"\n', 0o755)
    script = container["args"][0].replace("/stories/", stories + "/").replace("/results/", results + "/")
    statuses = []
    for index in range(spec["completions"]):
        done = subprocess.run([*container["command"], script], cwd="/", capture_output=True, text=True, timeout=LIMIT_s,
                              env={"PATH": os.path.join(folder, "tools") + ":" + os.environ["PATH"], "JOB_COMPLETION_INDEX": str(index)})
        statuses.append(done.returncode)
        if done.returncode not in (0, 1):
            fail(f"rehearse-job.yaml, index {index}: status {done.returncode}\n{done.stdout}{done.stderr}")
    if sorted(statuses) != [0] * (spec["completions"] - 1) + [1]:
        fail(f"rehearse-job.yaml: one pod has to fail, that of the story that does: {statuses}")
    shards = sorted(glob.glob(os.path.join(results, "shard-*.json")))
    report = os.path.join(folder, "merged.xml")
    merged = subprocess.run([emberline, "merge", *shards, "--junit", report], capture_output=True, text=True)
    with open(report, encoding="utf-8") as file:
        text = file.read()
    if merged.returncode != 1 or f'tests="{STORIES}" failures="1"' not in text or \
            [number for number in range(1, STORIES + 1) if f"Story {number}" not in text]:
        fail(f"rehearse-job.yaml: the merged verdicts are not those of {STORIES} stories:\n{merged.stderr}{text}")


class Wire:
    """Two pseudo-terminals, and what is written to one comes out of the other."""

    def __init__(self):
        self.ends = [os.openpty() for _ in range(2)]
        self.names = [os.ttyname(slave) for _, slave in self.ends]
        self.closed = False
        self.thread = threading.Thread(target=self.pump)
        self.thread.start()

    def pump(self):
        masters = [master for master, _ in self.ends]
        while not self.closed:
            for master in select.select(masters, [], [], 0.1)[0]:
                os.write(masters[1 - masters.index(master)], os.read(master, 4096))

    def close(self):
        self.closed = True
        self.thread.join()
        for end in self.ends:
            for descriptor in end:
                os.close(descriptor)


def serial(emberline, root, folder, good):
    workflow = yaml.load(open(os.path.join(root, "docker/serial-workflow.yml"), encoding="utf-8"), Loader=yaml.BaseLoader)
    only = workflow["jobs"]["on-the-wire"]
    if only["runs-on"][0] != "self-hosted" or "concurrency" not in workflow:
        fail("serial-workflow.yml: a wire is on one runner, and for one job at a time")
    closed(workflow, "serial-workflow.yml")
    if not [step for step in only["steps"] if step.get("if") == "always()" and "docker rm --force rehearsal" in step.get("run", "")]:
        fail("serial-workflow.yml: a job that is cancelled would leave the port taken")
    wire = Wire()
    try:
        subprocess.run([emberline, "new", "bench", "--line", "/tmp/emberline/nobody", "--policy", "hold-last-command", "--yes"],
                       cwd=folder, check=True, capture_output=True)
        path = os.path.join(folder, "bench/bench.yaml")
        with open(path, encoding="utf-8") as file:
            bench = file.read()
        bench, replaced = re.subn(r"pty: /tmp/emberline/nobody", f"serial-port: {wire.names[0]}", bench)
        if replaced != 1:
            fail(f"serial-workflow.yml: no bench with a serial port could be made of this one:\n{bench}")
        put(path, bench)
        put(os.path.join(folder, "bench/story.yaml"), ASKS_FOR_HALF)
        put(os.path.join(folder, "tools/docker"), DOCKER, 0o755)
        put(os.path.join(folder, "start-plc"), f'#!/bin/sh\nexec "{emberline}" write --bench bench/bench.yaml {wire.names[1]} 1 '
            f'"setpoint={"50 %" if good else "5 %"}"\n', 0o755)
        environment = {**os.environ, **workflow["env"], "PORT": wire.names[0], "EMBERLINE_BINARY": emberline,
                       "BOXES": os.path.join(folder, "tools"), "PATH": os.path.join(folder, "tools") + ":" + os.environ["PATH"]}
        outcomes = {}
        for step in only["steps"]:
            if "run" not in step:
                continue
            if "${{" in step["run"]:
                fail(f"{step['name']}: a shell takes its values from 'env', not from the text of a step")
            done = subprocess.run(["bash", "-e", "-c", step["run"]], cwd=folder, env=environment, stdin=subprocess.DEVNULL,
                                  capture_output=True, text=True, timeout=2 * LIMIT_s)
            outcomes[step["name"]] = done.returncode
            if done.returncode != (0 if good or "Rehearse" not in step["name"] else 1):
                fail(f"serial-workflow.yml, PLC {'good' if good else 'bad'}, {step['name']}: status {done.returncode}\n"
                     f"{done.stdout}{done.stderr}")
        with open(os.path.join(folder, "results/verdicts.xml"), encoding="utf-8") as file:
            if f'failures="{0 if good else 1}"' not in file.read():
                fail("serial-workflow.yml: the verdict is not the one expected")
        return len(outcomes)
    finally:
        wire.close()


def main():
    emberline, root = (os.path.abspath(path) for path in sys.argv[1:3])
    base = tempfile.mkdtemp(prefix="emberline-deploy-")
    try:
        folders = {name: os.path.join(base, name) for name in ("compose", "job", "good", "bad")}
        for folder in folders.values():
            os.mkdir(folder)
        compose(emberline, root, folders["compose"])
        job(emberline, root, folders["job"])
        steps = serial(emberline, root, folders["good"], True) + serial(emberline, root, folders["bad"], False)
    finally:
        shutil.rmtree(base)
    print(f"a bench and its master as in compose.yaml, {STORIES} stories shared out as in rehearse-job.yaml, {steps} steps "
          "with a serial port, with a good PLC and a bad one")


if __name__ == "__main__":
    main()

#!/usr/bin/env python3
"""Has systemd look at docker/package/emberline@.service: service.py EMBERLINE ROOT

`systemd-analyze verify` finds nothing wrong in it, and `systemd-analyze security` nothing dangerous: it sums up, offline,
what a service may do, from 0 (nothing) to 10. The bound is 1.5; what is left is mostly the network, without which there
is no Modbus. Its command is one the program knows. The bench that docker/README.md makes for it is good, and its
pseudo-terminals stand where the service may write. Exit status 77: systemd is not installed here.
"""
import os
import re
import shlex
import shutil
import subprocess
import sys
import tempfile

BOUND = 1.5


def bench_of_readme(emberline, root):
    """What is wrong with the bench that docker/README.md makes by sed."""
    with open(os.path.join(root, "docker/README.md"), encoding="utf-8") as file:
        text = file.read().replace("\\\n", " ")
    found = re.search(r"^ +(sed .*?) \| sudo tee /etc/emberline/(\S+)\.yaml", text, flags=re.M)
    if not found:
        return ["docker/README.md: no sed that makes a bench of a service"]
    made = subprocess.run(["bash", "-c", found[1].replace("/usr/share/emberline", root)], capture_output=True, text=True)
    with tempfile.TemporaryDirectory(prefix="emberline-service-") as folder:
        path = os.path.join(folder, "bench.yaml")
        with open(path, "w", encoding="utf-8") as file:
            file.write(made.stdout)
        checked = subprocess.run([emberline, "check", path], capture_output=True, text=True)
    if checked.returncode != 0:
        return [f"docker/README.md, the bench of a service: {checked.stderr}{made.stderr}"]
    return [f"docker/README.md, the bench of a service: {place} is not where it may write"
            for place in re.findall(r"\bpty: *(\S+)", made.stdout) if not place.startswith(f"/run/emberline-{found[2]}/")]


def main():
    emberline, root = (os.path.abspath(path) for path in sys.argv[1:3])
    with open(os.path.join(root, "docker/package/emberline@.service"), encoding="utf-8") as file:
        unit = file.read()
    words = shlex.split(re.search(r"^ExecStart=(.*)$", unit, flags=re.M)[1])
    known = subprocess.run([emberline, words[1], "--help"], capture_output=True, text=True).stdout
    flags = [word for word in words if word.startswith("--")]
    complaints = [f"emberline {words[1]} knows no {flag}" for flag in flags if flag not in known]
    if words[:2] != ["/usr/bin/emberline", "serve"]:
        complaints.append(f"it starts {words}")
    if re.search(r"^User=(root|0)?$", unit, flags=re.M) or "DynamicUser=yes" not in unit:
        complaints.append("it does not run as an ordinary user")
    if not re.search(r"^CapabilityBoundingSet=$", unit, flags=re.M):
        complaints.append("it may have capabilities")
    # Otherwise a call it can do without ends the service.
    if "SystemCallFilter=~" in unit and not re.search(r"^SystemCallErrorNumber=EPERM$", unit, flags=re.M):
        complaints.append("a system call that is filtered kills it")
    complaints += bench_of_readme(emberline, root)
    if complaints:
        print("\n".join(complaints))
        sys.exit(1)
    if not shutil.which("systemd-analyze"):
        print("systemd is not installed: nobody has looked at the service")
        sys.exit(77)
    with tempfile.TemporaryDirectory(prefix="emberline-service-") as folder:
        path = os.path.join(folder, "emberline@lehr.service")
        with open(path, "w", encoding="utf-8") as file:
            file.write(unit.replace("/usr/bin/emberline", emberline).replace("Documentation=man:", "#Documentation=man:"))
        verified = subprocess.run(["systemd-analyze", "verify", "--man=no", path], capture_output=True, text=True)
        about_us = [line for line in verified.stderr.split("\n") if "emberline@" in line]
        if verified.returncode != 0 or about_us:
            print("\n".join(about_us) or verified.stderr)
            sys.exit(1)
        looked = subprocess.run(["systemd-analyze", "security", "--offline=true", "--no-pager", path], capture_output=True, text=True)
        found = re.search(r"Overall exposure level for .*: ([0-9.]+)", looked.stdout)
        if not found or float(found[1]) > BOUND:
            print(looked.stdout + looked.stderr)
            print(f"exposure {found[1] if found else 'unknown'}; expected {BOUND} at most")
            sys.exit(1)
    print(f"verified; exposure {found[1]} of 10")


if __name__ == "__main__":
    main()

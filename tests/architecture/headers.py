#!/usr/bin/env python3
"""Compiles every public header by itself: headers.py ROOT RULES COMPILER

A header that needs another one to be included first works only by luck. Where the source of the same name
includes it before anything else, the build has tried it already; the others are tried here, or with
EMBERLINE_CHANGED_SINCE=COMMIT those that have changed since then. Exits 1 and prints the compiler's first error for
each header that does not stand alone.
"""
import concurrent.futures
import os
import subprocess
import sys

from check import read_rules, sources


def first_error(root, header, compiler):
    """The compiler's first error when a file includes only this header, or nothing."""
    command = [compiler, "-std=c++20", "-fsyntax-only", "-Wall", "-Wextra", "-Wpedantic", "-Wshadow", "-Werror",
               "-I", root, "-I", "/usr/include/modbus", "-x", "c++", "-"]
    done = subprocess.run(command, input=f'#include "{header}"\n', text=True,
                          capture_output=True, check=False, cwd=root)
    if done.returncode == 0:
        return None
    lines = [line for line in done.stderr.splitlines() if "error" in line] or done.stderr.splitlines()
    return f"{header} does not compile by itself: {lines[0] if lines else 'the compiler said nothing'}"


def tried_by_its_source(root, header):
    """True when the source of the same name begins with this header, so that the build compiles it first."""
    source = os.path.join(root, os.path.splitext(header)[0] + ".cpp")
    if not os.path.isfile(source):
        return False
    with open(source, encoding="utf-8") as lines:
        first = next((line for line in lines if line.startswith("#include")), "")
    return first.strip() == f'#include "{header}"'


def changed(root, since):
    """The files under git that differ from a commit, and those it does not know yet."""
    listed = set()
    for command in (["diff", "--name-only", since], ["ls-files", "--others", "--exclude-standard"]):
        listed |= set(subprocess.run(["git", *command], cwd=root, text=True, capture_output=True, check=True).stdout.split())
    return listed


def guarded(root, header):
    with open(os.path.join(root, header), encoding="utf-8") as lines:
        return any(line.strip() == "#pragma once" for line in lines)


def run(root, modules, compiler, since=None):
    folders = sorted({folder for folder, _ in modules.values()})
    headers = sorted({path for path in sources(root, folders) if path.endswith((".hpp", ".h"))})
    complaints = [f"{header} lacks #pragma once" for header in headers if not guarded(root, header)]
    asked = headers if not since else sorted(changed(root, since) & set(headers))
    untried = [header for header in asked if not tried_by_its_source(root, header)]
    with concurrent.futures.ThreadPoolExecutor(max_workers=os.cpu_count()) as pool:
        complaints += [c for c in pool.map(lambda header: first_error(root, header, compiler), untried) if c]
    return headers, untried, complaints


def main():
    root, rules, compiler = sys.argv[1:4]
    headers, tried, complaints = run(root, read_rules(rules), compiler, os.environ.get("EMBERLINE_CHANGED_SINCE"))
    if not headers:
        complaints.append(f"{root}: no header found, so nothing was checked")
    print("\n".join(complaints) if complaints else f"{len(tried)} of {len(headers)} headers were compiled by themselves")
    return 1 if complaints else 0


if __name__ == "__main__":
    sys.exit(main())

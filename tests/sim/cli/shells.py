#!/usr/bin/env python3
"""Asks bash, zsh and fish what they complete, and two programs of others what they think of the man page: shells.py EMBERLINE

Prints one line for each complaint and exits 1 if there is any.
"""
import os
import re
import shlex
import shutil
import subprocess
import sys
import tempfile

# (words before, what is typed of the last one, what has to be among the answers, what must not be)
CASES = [
    (["emberline"], "re", {"read", "rehearse", "registers"}, {"serve"}),
    (["emberline"], "--ver", {"--version", "--verbose"}, set()),
    (["emberline", "serve"], "--pa", {"--panel", "--panel-token"}, {"--capture"}),
    (["emberline", "read"], "--be", {"--bench"}, set()),
    (["emberline", "rehearse"], "--j", {"--junit", "--json", "--jobs"}, set()),
    (["emberline", "registers", "bench.yaml", "--as"], "", {"text", "csv", "html", "st"}, {"bench.yaml"}),
    (["emberline", "registers", "--as"], "mark", {"markdown"}, {"csv"}),
    (["emberline", "completion"], "", {"bash", "zsh", "fish"}, set()),
    (["emberline", "check"], "be", {"bench.yaml"}, {"bench.txt"}),
    (["emberline", "merge"], "sh", {"shard-1.json"}, {"shard.txt"}),
    (["emberline", "read", "--bench"], "", {"bench.yaml"}, {"bench.txt", "shard-1.json"}),
    (["emberline", "serve", "bench.yaml", "--token-file"], "bench.t", set(), set()),
    (["emberline", "serve", "--panel-token"], "bench.t", {"bench.txt"}, set()),
]
FILES = ["bench.yaml", "bench.txt", "shard-1.json", "shard.txt", "a bench with blanks.yaml"]

BASH = """
source {script}
COMP_WORDS=({words}); COMP_CWORD=$((${{#COMP_WORDS[@]}} - 1))
_emberline emberline {last} {before}
printf '%s\\n' "${{COMPREPLY[@]}}"
"""
# As the function is called by bashcompinit: with the arrays and the splitting of the other shell.
ZSH = """
autoload -Uz compinit && compinit -u -d {folder}/dump
source {script}
ask() {{
  emulate -L sh; setopt kshglob noshglob braceexpand ksharrays
  COMP_WORDS=({words}); COMP_CWORD=$((${{#COMP_WORDS[@]}} - 1))
  _emberline emberline {last} {before}
  printf '%s\\n' "${{COMPREPLY[@]}}"
}}
ask
"""
FISH = "source {script}; complete --do-complete {line}"


def run(words, **more):
    return subprocess.run(words, capture_output=True, text=True, check=False, stdin=subprocess.DEVNULL, **more)


def answers(shell, script, before, typed, folder):
    given = {"script": shlex.quote(script), "words": " ".join(map(shlex.quote, before + [typed])), "folder": folder,
             "last": shlex.quote(typed), "before": shlex.quote(before[-1])}
    if shell == "fish":
        done = run(["fish", "--no-config", "-c", FISH.format(script=given["script"],
                                                             line=shlex.quote(" ".join(before + [typed])))], cwd=folder)
    else:
        text = (BASH if shell == "bash" else ZSH).format(**given)
        done = run(["bash", "--norc", "-c", text] if shell == "bash" else ["zsh", "-f", "-c", text], cwd=folder)
    return [line.split("\t")[0] for line in done.stdout.split("\n") if line], done.stderr.strip()


def shells(program, folder, complaints):
    asked = 0
    for name in FILES:
        with open(os.path.join(folder, name), "w", encoding="utf-8"):
            pass
    for shell in ("bash", "zsh", "fish"):
        if shutil.which(shell) is None:
            complaints.append(f"{shell} is not installed; tests/setup.sh installs it")
            continue
        script = os.path.join(folder, f"completion.{shell}")
        with open(script, "w", encoding="utf-8") as file:
            file.write(run([program, "completion", shell]).stdout)
        if (done := run([shell, "-n", script])).returncode != 0:
            complaints.append(f"completion for {shell}: {done.stderr.strip()}")
        for before, typed, wanted, unwanted in CASES:
            found, said = answers(shell, script, before, typed, folder)
            asked += 1
            where = f"{shell}: {' '.join(before)} {typed}<Tab>"
            if said:
                complaints.append(f"{where}: {said}")
            if not wanted <= set(found):
                complaints.append(f"{where}: {', '.join(sorted(wanted - set(found)))} missing in: {' '.join(found)}")
            if shell == "fish":  # puts files with another ending last, and does not leave them out
                unwanted = {one for one in unwanted if "." not in one}
            if unwanted & set(found):
                complaints.append(f"{where}: has {', '.join(sorted(unwanted & set(found)))}")
        found, _ = answers(shell, script, ["emberline", "check"], "a", folder)
        if not any("blanks.yaml" in one for one in found):
            complaints.append(f"{shell}: a file with blanks in its name is missing in: {found}")
    if run([program, "completion", "csh"]).returncode != 2:
        complaints.append("completion csh: expected exit status 2")
    return asked


def man_page(program, folder, complaints):
    page = os.path.join(folder, "emberline.1")
    done = run([program, "man"])
    with open(page, "w", encoding="utf-8") as file:
        file.write(done.stdout)
    for words in (["groff", "-mandoc", "-ww", "-z", "-Tutf8", page], ["mandoc", "-T", "lint", "-W", "error", page]):
        if shutil.which(words[0]) is None:
            complaints.append(f"{words[0]} is not installed; tests/setup.sh installs it")
            continue
        said = run(words)
        for line in (said.stdout + said.stderr).strip().split("\n"):
            if line:
                complaints.append(f"man page, {words[0]}: {line}")
    shown = run(["mandoc", "-T", "utf8", page]).stdout if shutil.which("mandoc") else ""
    shown = re.sub(r".\x08", "", shown)
    for command in re.findall(r"^  ([a-z-]+) ", run([program, "--help"]).stdout.split("Subcommands:")[1].split("\n\n")[0],
                              flags=re.M):
        if f"emberline {command}" not in shown:
            complaints.append(f"man page: says nothing of {command}")
    for heading in ("NAME", "SYNOPSIS", "DESCRIPTION", "COMMANDS", "EXIT STATUS", "ENVIRONMENT", "FILES", "CAUTIONS", "EXAMPLES"):
        if not re.search(rf"^{heading}$", shown, flags=re.M):
            complaints.append(f"man page: no {heading}")
    for words in ("emberline check config/benches/annealing-lehr.yaml", "no safety validation", "emberline rehearse scenarios/*.yaml -j"):
        if words not in shown:
            complaints.append(f"man page: '{words}' cannot be read in it")


def main():
    program, complaints = os.path.abspath(sys.argv[1]), []
    with tempfile.TemporaryDirectory() as folder:
        asked = shells(program, folder, complaints)
        man_page(program, folder, complaints)
    print("\n".join(complaints) if complaints else f"{asked} completions, and a man page without a complaint")
    return 1 if complaints else 0


if __name__ == "__main__":
    sys.exit(main())

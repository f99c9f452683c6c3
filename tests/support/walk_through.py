#!/usr/bin/env python3
"""Walks through config/walk-through.md as a reader would: walk_through.py EMBERLINE ROOT [FOLDER]

Runs every ```sh block of the page in one shell, in a folder of its own (FOLDER: there, and it is kept) where
build/emberline, config and scenarios are; and those of the README in another. Every command of a block has to end with
status 0, or the first that does not with what stands before the block: <!-- ends with 1 -->. A block ```text that follows
one shows what it says: every line of it has to be there, in that sequence, where lines of three dots stand for any.

    walk_through.py EMBERLINE ROOT FOLDER --pictures CHROMIUM

draws the two pictures of the page anew, config/poll-plan.svg and config/evidence.png.
"""
import os
import re
import shutil
import subprocess
import sys
import tempfile

MARK = "@@@ block"


def blocks(page):
    with open(page, encoding="utf-8") as file:
        text = file.read()
    found = re.findall(r"(?:<!-- ends with (\d) -->\n)?```(sh|text)\n(.*?)^```", text, flags=re.S | re.M)
    commands = []
    for status, kind, code in found:
        if kind == "sh":
            commands.append([int(status or 0), code, None])
        elif commands and commands[-1][2] is None:
            commands[-1][2] = code
    return commands


def script(commands):
    lines = ["trap 'kill $(jobs -p) 2> /dev/null' EXIT", "trap 'failed=${failed:-$?}' ERR"]
    for number, (status, code, _) in enumerate(commands):
        lines += [f"echo '{MARK} {number}'; failed=", code.rstrip("\n"), f"status=${{failed:-0}}; echo; echo '{MARK} end' $status",
                  f"[ $status = {status} ] || exit 9"]
    return "\n".join(lines) + "\n"


def follows(shown, said):
    """The first line of `shown` that does not come, in its turn, in `said`; None if all of them do."""
    rest = [line.rstrip() for line in said.split("\n")]
    for line in (one.rstrip() for one in shown.split("\n")):
        if line in ("", "..."):
            continue
        if line not in rest:
            return line
        rest = rest[rest.index(line) + 1:]
    return None


def shortened(plan):
    """What a picture has room for: the requests, the first ages, all of the watchdogs; dots where something is left out."""
    parts = {part.split("\n")[0].split(",")[0]: part.split("\n") for part in plan.split("\n\n")}
    names = list(parts)
    requests = parts["Requests"]
    end = next(i for i, line in enumerate(requests) if line.startswith("  Addresses"))
    shown = [parts[names[0]], requests[:end], ["   ..."], parts["Age of the values"][:5] + ["   ..."], parts["Comms watchdogs"]]
    return "\n\n".join("\n".join(part) for part in shown) + "\n"


def draw(program, root, folder, chromium):
    plan = subprocess.run([program, "poll-plan", "my-furnace/poll-plan.yaml"], cwd=folder, capture_output=True, text=True,
                          check=True).stdout
    with open(os.path.join(root, "config", "poll-plan.svg"), "w", encoding="utf-8") as picture:
        subprocess.run([sys.executable, os.path.join(root, "tests/support/draw_terminal.py"),
                        "build/emberline poll-plan my-furnace/poll-plan.yaml"], input=shortened(plan), text=True,
                       stdout=picture, check=True)
    subprocess.run([chromium, "--headless", "--no-sandbox", "--disable-gpu", "--hide-scrollbars", "--window-size=1100,1370",
                    "--screenshot=" + os.path.join(root, "config", "evidence.png"),
                    "file://" + os.path.join(os.path.abspath(folder), "evidence.html")], check=True, capture_output=True)


def walk(page, program, root, folder):
    """(what is wrong with the blocks of `page` when they are run in `folder`, how many there are, all that they said)"""
    commands = blocks(page)
    os.makedirs(os.path.join(folder, "build"), exist_ok=True)
    for link, target in (("build/emberline", program), ("config", os.path.join(root, "config")),
                         ("scenarios", os.path.join(root, "scenarios"))):
        if not os.path.lexists(os.path.join(folder, link)):
            os.symlink(target, os.path.join(folder, link))
    done = subprocess.run(["bash", "-c", script(commands)], cwd=folder, text=True, stdin=subprocess.DEVNULL, check=False,
                          stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
    complaints = []
    parts = re.split(rf"^{MARK} \d+\n", done.stdout, flags=re.M)[1:]
    for number, ((status, code, shown), said) in enumerate(zip(commands, parts)):
        where = f"{os.path.basename(page)}, block {number}, {code.strip().splitlines()[0]}"
        ended = re.search(rf"^{MARK} end (\d+)", said, flags=re.M)
        if not ended or int(ended[1]) != status:
            complaints.append(f"{where}: ended with {ended[1] if ended else 'nothing'}, not {status}:\n{said}")
        elif shown and (missing := follows(shown, said)):
            complaints.append(f"{where}: does not say '{missing}':\n{said}")
    if len(parts) != len(commands):
        complaints.append(f"{os.path.basename(page)}: {len(parts)} of {len(commands)} blocks were reached")
    return complaints, len(commands), done.stdout


def main():
    program, root = os.path.abspath(sys.argv[1]), os.path.abspath(sys.argv[2])
    kept = sys.argv[3] if len(sys.argv) > 3 else None
    folder = kept or tempfile.mkdtemp()
    complaints, count, said = walk(os.path.join(root, "config", "walk-through.md"), program, root, folder)
    if not complaints and "--pictures" in sys.argv:
        draw(program, root, folder, sys.argv[sys.argv.index("--pictures") + 1])
    with tempfile.TemporaryDirectory() as short:
        of_readme, short_count, _ = walk(os.path.join(root, "README.md"), program, root, short)
    complaints += of_readme
    if count < 6 or short_count < 1:
        complaints.append(f"{count} blocks in the walk-through, {short_count} in the README: too few to believe in")
    if not kept:
        shutil.rmtree(folder, ignore_errors=True)
    elif not complaints:
        print(said)
    print("\n".join(complaints) if complaints else
          f"{count} blocks of the walk-through and {short_count} of the README do what is said of them")
    return 1 if complaints else 0


if __name__ == "__main__":
    sys.exit(main())

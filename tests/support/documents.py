#!/usr/bin/env python3
"""Holds what is written for people against the program: documents.py EMBERLINE ROOT

- Every link in a *.md leads to a file that is there, and its #anchor to a heading.
- Every picture that a page shows is there and says what it shows.
- Every command in a page and in the program's help that begins with emberline or build/emberline is one the program knows,
  with flags that its help lists, and the files of config and scenarios that it names are there.
- Every command has two examples at least in its help. The files they read are there, or made by an example before; and
  those that touch nothing but files end with status 0.

Prints one line for each complaint and exits 1 if there is any.
"""
import fnmatch
import glob
import os
import re
import shlex
import subprocess
import sys
import tempfile

WRITES = {">", "--out", "--json", "--junit", "--report", "--ready-file", "--capture", "--save-state"}  # what follows
# Those that end by themselves, ask nobody and write, if at all, into the folder they run in.
RUNNABLE = {"check", "registers", "import", "poll-plan", "rehearse", "completion", "man", "new"}


def pages(root):
    for top in ("*.md", "config/**/*.md", "scenarios/**/*.md", "docker/**/*.md", "tests/**/*.md"):
        yield from sorted(glob.glob(os.path.join(root, top), recursive=True))


def anchor(heading):
    """As forges make it of a heading."""
    text = re.sub(r"\[([^\]]*)\]\([^)]*\)", r"\1", heading).strip().lower()
    return re.sub(r"[^\w\- ]", "", text).replace(" ", "-")


def without_code(text):
    text = re.sub(r"^```.*?^```", "", text, flags=re.S | re.M)
    text = re.sub(r"^(?: {4}|\t).*$", "", text, flags=re.M)
    return re.sub(r"`[^`\n]*`", "", text)


def links(root, page, complaints):
    with open(page, encoding="utf-8") as file:
        text = without_code(file.read())
    for picture, words, target in re.findall(r"(!?)\[([^\]]*)\]\(([^)\s]+)\)", text):
        if re.match(r"[a-z]+:", target):
            continue
        path, _, wanted = target.partition("#")
        found = os.path.normpath(os.path.join(os.path.dirname(page), path)) if path else page
        where = os.path.relpath(page, root)
        if not os.path.exists(found):
            complaints.append(f"{where}: the link {target} leads nowhere")
        elif os.path.relpath(found, root).startswith(".."):
            complaints.append(f"{where}: the link {target} leads out of the repository")
        elif wanted:
            with open(found, encoding="utf-8") as file:
                headings = {anchor(one) for one in re.findall(r"^#+ +(.*)$", file.read(), flags=re.M)}
            if wanted not in headings:
                complaints.append(f"{where}: {target}: there is no such heading")
        if picture and len(words) < 10:
            complaints.append(f"{where}: the picture {target} is not described")


def code_lines(text):
    """Lines of fenced and of indented code, those that go on joined; and code in one line of prose."""
    lines = []
    for block in re.findall(r"^```(?:sh|bash|shell)?\n(.*?)^```", text, flags=re.S | re.M):
        lines += block.replace("\\\n", " ").split("\n")
    plain = re.sub(r"^```.*?^```", "", text, flags=re.S | re.M)
    lines += [line.strip() for line in plain.replace("\\\n", " ").split("\n") if line.startswith("    ")]
    lines += re.findall(r"`((?:build/)?emberline [^`]+)`", re.sub(r"\n", " ", plain))
    return lines


def commands(lines):
    """The words of each command, as a shell would split them; pipes, redirections and comments cut off."""
    for line in lines:
        for part in re.split(r"\s(?:\||&&|;)\s|\$\(", line):
            found = re.search(r"(?:^|\s)(?:build/)?emberline\s+(.*)$", part)
            if not found or re.match(r"\s*(docker|apt|ninja|cmake)\b", part):
                continue
            try:
                words = shlex.split(found[1], comments=True)
            except ValueError:
                continue
            words = words[:next((i for i, word in enumerate(words) if re.match(r"[0-9]?[<>&|]|\)$", word)), len(words))]
            if words:
                yield words


class Help:
    def __init__(self, program):
        self.program, self.texts = program, {}
        listed = re.search(r"^Subcommands:\n(.*?)\n\n", self.said(["--help"]) + "\n\n", flags=re.S | re.M)
        self.names = re.findall(r"^  ([a-z-]+) ", listed[1], flags=re.M) if listed else []

    def said(self, words):
        return subprocess.run([self.program] + words, capture_output=True, text=True, check=False).stdout

    def text(self, name):
        if name not in self.texts:
            self.texts[name] = self.said([name, "--help"] if name else ["--help"])
        return self.texts[name]

    def examples(self, name):
        return [line.strip() for line in self.text(name).split("\n") if line.startswith("  emberline ")]


def hold(words, manual, root, where, complaints):
    """One command against what its help says."""
    name = words[0]
    if name.startswith("-"):
        if name not in manual.text(""):
            complaints.append(f"{where}: emberline {name}: there is no such flag")
        return
    if name.isupper() or name in ("...",):
        return
    if name not in manual.names:
        complaints.append(f"{where}: emberline {name}: there is no such command")
        return
    for word in words[1:]:
        flag = word.split("=")[0]
        if re.match(r"--?[a-z]", flag) and not re.search(rf"(?<![\w-]){re.escape(flag)}(?![\w-])", manual.text(name)):
            complaints.append(f"{where}: emberline {name} {flag}: there is no such flag")
        if re.match(r"(config|scenarios)/[\w./*-]+\.(yaml|csv)$", word) and not glob.glob(os.path.join(root, word)):
            complaints.append(f"{where}: {word}: there is no such file")


def unmade(line, made, root):
    """The files an example reads that are neither shipped nor made by one before it; adds to `made` what it makes."""
    words = shlex.split(line)
    missing = []
    for before, word in zip(words, words[1:]):
        if not re.search(r"\.(yaml|csv|json|txt)$", word) or word.startswith("/"):
            continue
        if before in WRITES:
            made.add(word)
        elif not glob.glob(os.path.join(root, word)) and not fnmatch.filter(made, word):
            missing.append(word)
    return missing


def try_example(program, line, folder, where, complaints):
    words = next(commands([line]))
    files = [word for word in words[1:] if word.endswith((".yaml", ".csv"))]
    if words[0] not in RUNNABLE or "*" in line and words[0] == "rehearse" or any(
            flag in words for flag in ("--real-master", "--by-hand", "--repeat")):
        return False
    if words[0] == "new" and "--yes" not in words:
        return False
    if not all(glob.glob(os.path.join(folder, one)) for one in files if not words[words.index(one) - 1] == "--out"):
        return False
    if re.search(r"[~|]", line):
        line = re.split(r"[>|]", line)[0]
    done = subprocess.run(["bash", "-c", line.replace("emberline ", f"{shlex.quote(program)} ", 1)], cwd=folder,
                          capture_output=True, text=True, stdin=subprocess.DEVNULL, check=False)
    if done.returncode != 0:
        last = (done.stderr.strip() or done.stdout.strip()).split("\n")[-1]
        complaints.append(f"{where}: {line}: ended with {done.returncode}: {last}")
    return True


def main():
    program, root = os.path.abspath(sys.argv[1]), os.path.abspath(sys.argv[2])
    complaints, seen, tried = [], 0, 0
    manual = Help(program)
    if len(manual.names) < 10:
        complaints.append("emberline --help lists hardly any command")
    for page in pages(root):
        links(root, page, complaints)
        with open(page, encoding="utf-8") as file:
            for words in commands(code_lines(file.read())):
                seen += 1
                hold(words, manual, root, os.path.relpath(page, root), complaints)
    with tempfile.TemporaryDirectory() as folder:
        for top in ("config", "scenarios"):
            os.symlink(os.path.join(root, top), os.path.join(folder, top))
        for name in manual.names:
            examples = manual.examples(name)
            if len(examples) < 2:
                complaints.append(f"emberline {name} --help: {len(examples)} examples, expected two at least")
            made = set(re.findall(r"^  \(umask .*> (\S+)\)$", manual.text(name), flags=re.M))
            for line in examples:
                complaints += [f"emberline {name} --help: {line}: where does {one} come from?" for one in unmade(line, made, root)]
                for words in commands([line]):
                    hold(words, manual, root, f"emberline {name} --help", complaints)
                tried += try_example(program, line, folder, f"emberline {name} --help", complaints)
    if seen < 40 or tried < 8:
        complaints.append(f"{seen} commands in pages and {tried} examples tried: too few to believe in")
    print("\n".join(complaints) if complaints else
          f"{seen} commands in pages, {sum(len(manual.examples(name)) for name in manual.names)} examples in the help of "
          f"{len(manual.names)} commands, {tried} of them tried")
    return 1 if complaints else 0


if __name__ == "__main__":
    sys.exit(main())

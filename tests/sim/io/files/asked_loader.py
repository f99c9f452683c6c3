"""The loader as a user asks it: files written among the samples, and what `emberline check` complains of in each."""
import os
import re
import shutil
import subprocess
import tempfile
from collections import defaultdict

from yaml_trees import flow

SAMPLES = "tests/sim/io/files/samples"


class Loader:
    """Asks the built program about many files at once."""

    def __init__(self, emberline, root):
        self.emberline, self.root = emberline, root
        self.folder = tempfile.mkdtemp(prefix="emberline-schemas-")
        shutil.copytree(os.path.join(root, SAMPLES), os.path.join(self.folder, SAMPLES))
        self.asked = {}
        self.due = []
        self.collecting = False  # only remember what will be asked, so that one call of the program answers it all

    def ask(self, name, trees):
        """The complaints about each tree, as if it stood among the samples."""
        texts = [flow(tree) for tree in trees]
        self.due += [text for text in texts if text not in self.asked]
        if self.collecting:
            return [[] for _ in texts]
        self.run_due()
        return [self.asked[text] for text in texts]

    def run_due(self):
        due, self.due = list(dict.fromkeys(self.due)), []
        for start in range(0, len(due), 200):
            self.run(due[start:start + 200])

    def run(self, texts):
        names = []
        for i, text in enumerate(texts):
            names.append(os.path.join(self.folder, SAMPLES, f"probe-{i:04d}.yaml"))
            with open(names[-1], "w", encoding="utf-8") as file:
                file.write(text + "\n")
        done = subprocess.run([self.emberline, "check", *names], capture_output=True, text=True, timeout=240)
        if done.returncode not in (0, 2):
            raise SystemExit(f"emberline check ended with {done.returncode}: {done.stderr[-500:]}")
        said = defaultdict(list)
        for line in done.stderr.splitlines():
            found = re.match(r"(.*?probe-\d+\.yaml)(:\d+:\d+)?: (.*)", line)
            if not found:
                raise SystemExit(f"a sample that others refer to is not good: {line}")
            said[found.group(1)].append(found.group(3))
        good = set(re.findall(r"^(.*?probe-\d+\.yaml): ok", done.stdout, re.M))
        for text, name in zip(texts, names):
            if (name in good) == bool(said[name]):
                raise SystemExit(f"{name}: neither ok nor complained about")
            self.asked[text] = said[name]

    def close(self):
        shutil.rmtree(self.folder)


def listed(complaints, word):
    """What a complaint about `word` says is known, and whether that is the whole list; None if no complaint does."""
    for complaint in complaints:
        found = re.search(rf"unknown [\w -]+ '{word}[^']*'; known: (.*)", complaint)
        if found:
            whole = not found.group(1).endswith("...")
            words = found.group(1).split(", ")
            return set(words if whole else words[:-1]), whole
    return None


def refused(complaints, word):
    pattern = rf"unknown [\w -]+ '{re.escape(word)}'|'{re.escape(word)}' is not there yet|found '{re.escape(word)}'"
    return any(re.search(pattern, c) for c in complaints)

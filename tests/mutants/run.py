#!/usr/bin/env python3
"""Breaks the watchdog and the framers on purpose, one mistake at a time, and asks whether a test notices.

    run.sh [BUILD]    BUILD: a folder configured with Ninja and tests, "build" if it is not said

The tests are those of BUILD. The libraries under test are compiled once, each source by itself; for a mutant a changed
copy of one source is compiled, linked in its place and run. The tree is not touched. Prints "killed" or "SURVIVED" for
each; ends with 1 if one survived or its text is no longer in the source.
"""
import concurrent.futures
import os
import pathlib
import shlex
import shutil
import signal
import subprocess
import sys
import tempfile
import time

HERE = pathlib.Path(__file__).resolve().parent
ROOT = HERE.parents[1]
SECONDS = 30  # of processor time for one run of tests, which takes 3: some mutants never end
# Tests that take most of that time; they are asked when the others have noticed nothing.
SLOW = "*random*,*in some order of events*,*with one bit turned*,*of any size*"
# The library that a source is in, and the tests that have to notice.
SUITES = {"sim/modbus": ("modbus", "test_modbus"), "sim/unit": ("unit", "test_unit")}


class Mutant:
    """A change of a source and what it breaks."""

    def __init__(self, where, title):
        self.where, self.title, self.file = where, title, ""
        self.old, self.new = [], []

    def apply(self):
        """The source with the change in it; the complaint, if it is not to be had."""
        path = ROOT / self.file
        if not self.file or not path.is_file():
            raise ValueError(f"{self.where}: there is no file \"{self.file}\"")
        if self.suite() is None:
            raise ValueError(f"{self.where}: no tests are named for {self.file}; expected one of {', '.join(SUITES)}")
        old, new, text = "\n".join(self.old), "\n".join(self.new), path.read_text()
        if not old or old == new:
            raise ValueError(f"{self.where}: expected lines with \"- \" and \"+ \" that differ")
        if text.count(old) != 1:
            raise ValueError(f"{self.where}: its text is {text.count(old)} times in {self.file}; expected once. "
                             "Write it as the source has it now")
        return text.replace(old, new)

    def suite(self):
        return SUITES.get(os.path.dirname(self.file))


def read_mutants(path):
    """Blocks of "# what is broken", "file: PATH", lines "- as it is" and "+ as it would be"."""
    mutants = []
    for number, line in enumerate(path.read_text().splitlines(), 1):
        where = f"{path.name}:{number}"
        if line.startswith("# "):
            mutants.append(Mutant(where, line[2:]))
        elif line.startswith("file: ") and mutants:
            mutants[-1].file = line[6:]
        elif mutants and (line in ("-", "+") or line.startswith(("- ", "+ "))):
            (mutants[-1].old if line[0] == "-" else mutants[-1].new).append(line[2:])
        elif line.strip():
            sys.exit(f"{where}: expected \"# WORDS\", \"file: PATH\", \"- TEXT\" or \"+ TEXT\"")
    return mutants


class Builder:
    """Compiles and links as the build folder does, but each source by itself, and with a changed one among them."""

    def __init__(self, build, folder):
        self.build, self.folder = build, pathlib.Path(folder)
        targets = sorted({name for _, name in SUITES.values()})
        subprocess.run(["cmake", "--build", build, "--target", *targets], check=True, stdout=subprocess.DEVNULL)
        self.commands = {}
        for line in subprocess.check_output(["ninja", "-C", build, "-t", "commands", *targets], text=True).splitlines():
            words = self.plain_words(line)
            if "-o" in words:
                self.commands[words[words.index("-o") + 1]] = words
        jobs = [(source, library) for where, (library, _) in SUITES.items() for source in sorted((ROOT / where).rglob("*.cpp"))]
        cache = [name] if (name := shutil.which("ccache")) else []
        with concurrent.futures.ThreadPoolExecutor(os.cpu_count()) as pool:
            list(pool.map(lambda job: self.compile(*job, self.folder / job[1], cache), jobs))

    @staticmethod
    def plain_words(line):
        """The command itself: without the ": && " around it and the compiler's cache before it."""
        words = shlex.split(line)
        while words and words[0] in (":", "&&"):
            words.pop(0)
        if "&&" in words:
            words = words[:words.index("&&")]
        return words[1:] if words and os.path.basename(words[0]) == "ccache" else words

    def compile(self, source, library, place, before=()):
        """A source with the flags of its library, quickly compiled; the build may have put several into one file."""
        words = iter(next(words for out, words in self.commands.items() if out.startswith(f"CMakeFiles/{library}.dir/")))
        flags = [next(words)]
        for word in words:
            if word in ("-MF", "-MT", "-o", "-c"):
                next(words)
            elif word not in ("-MD", "-g") and not word.startswith("-O") and "FORTIFY" not in word:
                flags.append(word)
        place.mkdir(exist_ok=True)
        built = place / (source.name + ".o")
        subprocess.run([*before, *flags, "-O0", "-w", "-c", source, "-o", built], check=True, cwd=self.build,
                       stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)
        return built

    def link(self, mutant, built, place):
        library, test = mutant.suite()
        others = [name for name in sorted((self.folder / library).glob("*.o")) if name.name != built.name]
        changed = place / f"lib{library}.a"
        subprocess.run(["ar", "qcs", changed, built, *others], check=True)
        words = [str(changed) if word == f"lib{library}.a" else word for word in self.commands[test]]
        words[words.index("-o") + 1] = str(place / test)
        subprocess.run([*words, "-Wl,--strip-debug"], check=True, cwd=self.build)
        return place / test

    def survives(self, mutant, text):
        """Whether the tests of a source pass with this text in its place; what they say."""
        with tempfile.TemporaryDirectory(dir=self.folder) as name:
            place = pathlib.Path(name)
            source = place / os.path.basename(mutant.file)
            source.write_text(text)
            try:
                built = self.compile(source, mutant.suite()[0], place)
            except subprocess.CalledProcessError as error:
                sys.exit(f"mutants: {mutant.where} does not compile: {error.stderr.decode(errors='replace')[:600]}")
            test = self.link(mutant, built, place)
            for which in (f"--test-case-exclude={SLOW}", f"--test-case={SLOW}"):
                # The processor's time and not the clock's, or a busy machine would kill what no test notices.
                done = subprocess.run(["bash", "-c", f"ulimit -c 0 -t {SECONDS}; exec \"$0\" \"$@\"", test, which,
                                       "--abort-after=1", "--no-colors=true"],
                                      cwd=place, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, check=False)
                if done.returncode in (-signal.SIGXCPU, -signal.SIGKILL):
                    return False, f"no end within {SECONDS} s"
                if done.returncode != 0:
                    return False, noticed_by(done)
            return True, ""


def noticed_by(done):
    """The name of the test that failed, or how the program ended."""
    for line in done.stdout.decode(errors="replace").splitlines():
        if line.startswith("TEST CASE:"):
            return line[len("TEST CASE:"):].strip()
    return f"ended by signal {-done.returncode}" if done.returncode < 0 else f"ended with {done.returncode}"


def check_itself(builder, first, nothing):
    """The way of looking: what is not changed passes, and a change that nobody can see is one that survives."""
    for mutant in {mutant.suite(): mutant for mutant in first}.values():
        passes, said = builder.survives(mutant, (ROOT / mutant.file).read_text())
        if not passes:
            sys.exit(f"mutants: the tests fail without any change: {said}")
    for mutant in nothing:
        if not builder.survives(mutant, mutant.apply())[0]:
            sys.exit(f"mutants: {mutant.where} changes nothing, and a test fails")


def main():
    build = pathlib.Path(sys.argv[1] if len(sys.argv) > 1 else "build").absolute()
    if not (build / "build.ninja").is_file():
        sys.exit(f"mutants: {build} is no folder that was configured with Ninja; expected one with tests")
    mutants = [m for path in sorted(HERE.glob("*.mutants")) if path.stem != "nothing" for m in read_mutants(path)]
    nothing = read_mutants(HERE / "nothing.mutants")
    stale = 0
    for mutant in mutants + nothing:
        try:
            mutant.apply()
        except ValueError as error:
            print(f"mutants: {error}")
            stale += 1
    if stale or not mutants:
        return 1
    started, survived = time.monotonic(), 0
    with tempfile.TemporaryDirectory() as folder:
        builder = Builder(build, folder)
        check_itself(builder, mutants, nothing)
        with concurrent.futures.ThreadPoolExecutor(os.cpu_count()) as pool:
            for mutant, (alive, said) in zip(mutants, pool.map(lambda m: builder.survives(m, m.apply()), mutants)):
                survived += alive
                verdict = f"SURVIVED: {mutant.title} ({mutant.where}, {mutant.file})" if alive else \
                    f"killed: {mutant.title} [{said}]"
                print(verdict, flush=True)
    print(f"{len(mutants)} mutants, {len(mutants) - survived} killed, {survived} survived, "
          f"{time.monotonic() - started:.0f} s")
    return 1 if survived else 0


if __name__ == "__main__":
    sys.exit(main())

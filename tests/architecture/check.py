#!/usr/bin/env python3
"""Holds the sources against the architecture: check.py ROOT RULES

RULES has one line a module, "name;folder;may_use may_use ...", written by CMake from the add_module calls.
Prints one line for each violation and exits 1 if there is any, 0 if there is none.
"""
import os
import re
import sys

TOP_LEVEL = {"CMakeLists.txt", "README.md", "DEVELOPERS.md", "LICENSE",
             "sim", "plant-models", "config", "tests", "scenarios", "docker"}
SECOND_LEVEL = {
    "sim": {"base", "modbus", "registers", "unit", "faults", "bench", "polling", "rehearsal", "io", "cli"},
    "sim/io": {"files", "line", "master", "control", "panel", "report", "tables"},
    "plant-models": {"electrical", "thermal", "materials"},
    "config": {"registers", "benches", "mappings", "polls", "samples", "schema"},
    "tests": {"plant-models", "sim", "published", "signs", "interop", "page", "architecture", "fuzz", "mutants", "bench", "soak", "support"},
}

# Third-party headers by their beginning, and the folders that may have them. What is not listed is refused.
THIRD_PARTY = [
    (r"boost/numeric/odeint", {"plant-models/thermal"}),
    (r"boost/asio", {"sim/io/line", "sim/io/control", "sim/io/panel"}),
    (r"boost/beast", {"sim/io/panel"}),
    (r"boost/json", {"sim/io/report", "sim/io/tables", "sim/io/control", "sim/io/panel", "sim/cli"}),
    (r"boost/system|boost/version\.hpp", {"sim/io", "sim/cli"}),
    (r"yaml-cpp/", {"sim/io/files"}),
    (r"sha2\.h$", {"sim/io/files"}),
    (r"csv\.h$", {"sim/io/tables"}),
    (r"(modbus/)?modbus(-[a-z]+)?\.h$", {"sim/io/master"}),
    (r"CLI/", {"sim/cli"}),
    (r"spdlog/", {"sim/io", "sim/cli"}),
]
# Where the program may touch the outside: threads, clocks, files, sockets, the screen.
OUTSIDE = ("sim/io", "sim/cli")
# Within it, these work on what they are handed and tell no time, or a run could not be repeated to the byte.
NO_CLOCK = ("sim/io/files", "sim/io/report", "sim/io/tables")
# What nobody may guess cannot come from a seed; nothing that is simulated hangs on it.
UNGUESSABLE = ("sim/io/panel/session_id.cpp",)
# Test folders that must be as repeatable as what they test; reading a file of published values is fine there.
REPEATABLE_TESTS = ("tests/plant-models", "tests/published", "tests/signs", "tests/sim/base", "tests/sim/modbus",
                    "tests/sim/registers", "tests/sim/unit", "tests/sim/bench", "tests/sim/faults",
                    "tests/sim/polling", "tests/sim/rehearsal", "tests/support")

BANNED_HEADERS = {"thread", "mutex", "shared_mutex", "condition_variable", "future", "stop_token", "semaphore",
                  "latch", "barrier", "atomic", "fstream", "filesystem", "iostream", "ctime",
                  "csignal", "syncstream", "coroutine"}
CLOCK_WORDS = [
    (r"\b(system|steady|high_resolution|file|utc)_clock\b", "a clock"),
    (r"\b(clock_gettime|gettimeofday|localtime|gmtime|timespec_get)\b", "a clock"),
    (r"(?<![\w.>:])(std::|::)?(time|clock)\s*\(\s*(NULL|nullptr|0|&\s*\w+|)\s*\)", "a clock"),
    (r"\bthis_thread\b|\b(u|nano)sleep\s*\(|(?<![\w.>])(::)?sleep\s*\(", "a sleep"),
]
CHANCE_WORDS = [(r"\brandom_device\b|(?<![\w.>])(std::)?s?rand\s*\(|\bgetrandom\b|\barc4random\b", "unseeded chance")]
OUTSIDE_WORDS = [
    (r"\bstd::(jthread|thread|mutex|async|promise|future|atomic)\b|\bpthread_\w+", "a thread"),
    (r"\bf?open\s*\(|\bstd::(i|o)?fstream\b|\bpopen\s*\(|\bsystem\s*\(", "a file or a process"),
    (r"(?<!\w)::(socket|connect|bind|listen|accept|poll|select|read|write)\s*\(", "a socket or a file descriptor"),
    (r"\bstd::(cout|cerr|clog|cin)\b|(?<![\w.>])(std::)?f?printf\s*\(|(?<![\w.>])(std::)?f?put[sc]\s*\(|\b(stdout|stderr|stdin)\b", "the screen or keyboard"),
    (r"\b(secure_)?getenv\s*\(", "the environment"),
]


def inside(path, folders):
    return any(path == f or path.startswith(f + "/") for f in folders)


def code_only(text):
    """The text with comments and the contents of strings blanked, line breaks kept."""
    pattern = r'//[^\n]*|/\*.*?\*/|R"(\w*)\(.*?\)\1"|"(?:\\.|[^"\\\n])*"|\'(?:\\.|[^\'\\\n])\''
    def blank(match):
        return re.sub(r"[^\n]", " ", match.group(0))
    return re.sub(pattern, blank, text, flags=re.S)


def read_rules(path):
    modules = {}
    with open(path, encoding="utf-8") as rules:
        for line in rules:
            if line.strip():
                name, folder, may_use = line.rstrip("\n").split(";")
                modules[name] = (folder, may_use.split())
    return modules


def sources(root, tops):
    for top in tops:
        for folder, folders, files in os.walk(os.path.join(root, top)):
            folders.sort()
            for file in sorted(files):
                if file.endswith((".hpp", ".cpp", ".h", ".cc")):
                    yield os.path.relpath(os.path.join(folder, file), root)


class Check:
    def __init__(self, root, modules):
        self.root = root
        self.modules = modules
        self.complaints = []
        self.graph = {}  # file -> files it includes
        self.defined = {}  # (namespace, name) -> the header that defines it

    def complain(self, where, words):
        self.complaints.append(f"{where}: {words}")

    def module_of(self, path):
        """The module with the longest folder that holds the file."""
        best = None
        for name, (folder, _) in self.modules.items():
            if inside(path, [folder]) and (best is None or len(folder) > len(self.modules[best][0])):
                best = name
        return best

    def layout(self):
        for entry in sorted(os.listdir(self.root)):
            if not entry.startswith((".", "build")) and entry not in TOP_LEVEL:
                self.complain(entry, "is not one of the agreed names at the top: " + ", ".join(sorted(TOP_LEVEL)))
        for parent, allowed in SECOND_LEVEL.items():
            where = os.path.join(self.root, parent)
            for entry in sorted(os.listdir(where)) if os.path.isdir(where) else []:
                if os.path.isdir(os.path.join(where, entry)) and entry not in allowed and entry != "__pycache__":
                    self.complain(f"{parent}/{entry}", "is not one of the agreed folders: " + ", ".join(sorted(allowed)))

    def quoted_include(self, path, where, name, module):
        if not os.path.isfile(os.path.join(self.root, name)):
            self.complain(where, f'"{name}" is no path from the root of the repository')
            return
        self.graph[path].append(name)
        if module is None:
            return  # a test may include whatever it tests
        other = self.module_of(name)
        if other is None:
            self.complain(where, f'{module} includes "{name}", which belongs to no module')
        elif other != module and other not in self.modules[module][1]:
            allowed = " ".join(self.modules[module][1]) or "nothing"
            self.complain(where, f'{module} includes "{name}" of {other}; it may use {allowed}')

    def angle_include(self, path, where, name):
        if not path.startswith("tests/"):
            for pattern, folders in THIRD_PARTY:
                if re.match(pattern, name):
                    if not inside(path, folders):
                        self.complain(where, f"<{name}> belongs to {', '.join(sorted(folders))} only")
                    return
        if inside(path, OUTSIDE) or path.startswith("tests/"):
            return
        if not re.fullmatch(r"[a-z_0-9]+", name):
            self.complain(where, f"<{name}> is no header of the C++ standard library; only sim/io and sim/cli "
                                 "may use the system's")
        elif name in BANNED_HEADERS:
            self.complain(where, f"<{name}> outside sim/io and sim/cli")

    def words(self, path, code):
        tables = []
        if inside(path, REPEATABLE_TESTS):
            tables = [CLOCK_WORDS, CHANCE_WORDS]
        elif inside(path, NO_CLOCK):
            tables = [CLOCK_WORDS, CHANCE_WORDS]
        elif path.startswith(("sim/", "plant-models/")):
            tables = [CHANCE_WORDS] if inside(path, OUTSIDE) else [CLOCK_WORDS, CHANCE_WORDS, OUTSIDE_WORDS]
            tables = [table for table in tables if table is not CHANCE_WORDS or path not in UNGUESSABLE]
        for number, line in enumerate(code.split("\n"), 1):
            for pattern, what in (rule for table in tables for rule in table):
                found = re.search(pattern, line)
                if found:
                    self.complain(f"{path}:{number}", f"{what} ({found.group(0).strip()}) has no place here")

    def file(self, path):
        with open(os.path.join(self.root, path), encoding="utf-8") as source:
            text = source.read()
        self.graph[path] = []
        module = None
        if not path.startswith("tests/"):
            module = self.module_of(path)
            if module is None:
                self.complain(path, "belongs to no module; every folder is declared with add_module")
        code = code_only(text)
        for number, (line, original) in enumerate(zip(code.split("\n"), text.split("\n")), 1):
            if not re.match(r"\s*#\s*include\b", line):
                continue
            where = f"{path}:{number}"
            found = re.match(r'\s*#\s*include\s*(?:"([^"]+)"|<([^>]+)>)', original)
            if not found:
                self.complain(where, "an include that is neither \"path\" nor <header>")
            elif found.group(1):
                self.quoted_include(path, where, found.group(1), module)
            else:
                self.angle_include(path, where, found.group(2))
        self.words(path, code)
        if path.endswith(".hpp") and not path.startswith("tests/"):
            self.names(path, code)

    def names(self, path, code):
        """Types and constants of a header for all to use: two of one name are one to the linker, whichever it takes."""
        namespace = ""
        for number, line in enumerate(code.split("\n"), 1):
            opened = re.match(r"namespace ([\w:]+) \{", line)
            if opened:
                namespace = opened.group(1)
            found = (re.match(r"(?:class|struct|union|enum(?: class)?) (\w+)(?: final)?\s*(?::(?!:)[^;]*)?(?:\{|$)", line) or
                     re.match(r"inline const(?:expr)? [^=({;]*?(\w+)\s*(?:=|\{|$)", line))
            if not found:
                continue
            known = self.defined.setdefault((namespace, found.group(1)), path)
            if known != path:
                self.complain(f"{path}:{number}", f"{namespace}::{found.group(1)} is defined in {known}, too; one of the two needs another name")

    def cycles(self, graph, kind):
        """Complains of one cycle for each place where one closes."""
        done, trail = set(), []

        def visit(node):
            if node in trail:
                self.complain(node, f"{kind} in a circle: " + " -> ".join(trail[trail.index(node):] + [node]))
                return
            if node in done:
                return
            trail.append(node)
            for next_node in graph.get(node, []):
                visit(next_node)
            trail.pop()
            done.add(node)

        for node in sorted(graph):
            visit(node)

    def run(self):
        self.layout()
        for name, (folder, may_use) in self.modules.items():
            for other in may_use:
                if other not in self.modules:
                    self.complain(folder, f"{name} may use {other}, which is no module")
                elif folder.startswith("plant-models") and self.modules[other][0].startswith("sim"):
                    self.complain(folder, f"{name} may use {other}; models know nothing of the simulator")
        for path in sources(self.root, ["sim", "plant-models", "tests"]):
            self.file(path)
        self.cycles({name: may_use for name, (_, may_use) in self.modules.items()}, "modules use each other")
        self.cycles(self.graph, "files include each other")
        return self.complaints


def main():
    root, rules = sys.argv[1:3]
    modules = read_rules(rules)
    check = Check(root, modules)
    complaints = check.run()
    if not modules or not check.graph:
        complaints.append(f"{root}: no module or no source found, so nothing was checked")
    print("\n".join(complaints) if complaints else
          f"{len(check.graph)} files of {len(modules)} modules keep to the architecture")
    return 1 if complaints else 0


if __name__ == "__main__":
    sys.exit(main())

#!/usr/bin/env python3
"""Proves that every guard of the architecture can fail: self_test.py COMPILER

Builds a small made-up tree without a fault, then breaks it in one way at a time. Each break has to bring
exactly the complaint that belongs to it; the sound tree has to bring none.
"""
import os
import sys
import tempfile

import check
import headers

MODULES = {
    "base": ("sim/base", []),
    "unit": ("sim/unit", ["base"]),
    "io_files": ("sim/io/files", ["base", "unit"]),
    "io_line": ("sim/io/line", ["base", "unit"]),
    "plant_thermal": ("plant-models/thermal", []),
}
SOUND = {
    "CMakeLists.txt": "",
    "README.md": "",
    "sim/base/result.hpp": '#pragma once\n#include <string>\ninline std::string word() { return "std::thread"; }\n',
    "sim/base/word.hpp": "#pragma once\nnamespace emberline {\nclass Reader;\nstruct Word {\n  int kMost;\n};\ninline constexpr int kMost = 1;\n}\n",
    "sim/unit/unit.hpp": '#pragma once\n#include "sim/base/result.hpp"\n// steady_clock in a comment is no clock\n',
    "sim/unit/unit.cpp": '#include <cstdio>\n#include "sim/unit/unit.hpp"\nint now_of(int time) { return time; }\n'
                         'int Framer::poll(int now) { return std::snprintf(text, size, "%d", now); }\n',
    "sim/io/line/line.hpp": '#pragma once\n#include <thread>\n#include "sim/unit/unit.hpp"\n',
    "sim/io/line/line.cpp": '#include <boost/asio.hpp>\n#include <unistd.h>\n#include "sim/io/line/line.hpp"\n',
    "sim/io/files/load.cpp": '#include <yaml-cpp/yaml.h>\n#include <fstream>\n',
    "plant-models/thermal/zone.cpp": "#include <boost/numeric/odeint.hpp>\n",
    "tests/sim/unit/unit_test.cpp": '#include <doctest/doctest.h>\n#include "sim/unit/unit.hpp"\n',
}
# What is broken, in which file, by which added line, and words that the complaint has to hold.
BREAKS = [
    ("a folder includes one it may not use", "sim/unit/unit.cpp", '#include "sim/io/line/line.hpp"', "unit includes"),
    ("a neighbour's include that is not declared", "sim/io/files/load.cpp", '#include "sim/io/line/line.hpp"', "io_files includes"),
    ("a model includes the simulator", "plant-models/thermal/zone.cpp", '#include "sim/base/result.hpp"', "plant_thermal includes"),
    ("an include that is no path from the root", "sim/unit/unit.cpp", '#include "unit.hpp"', "no path from the root"),
    ("the simulator includes a test", "sim/unit/unit.cpp", '#include "tests/sim/unit/unit_test.cpp"', "belongs to no module"),
    ("an include by macro", "sim/unit/unit.cpp", "#include HEADER", "neither"),
    ("Asio outside the lines", "sim/unit/unit.cpp", "#include <boost/asio/io_context.hpp>", "belongs to sim/io/control, sim/io/line, sim/io/panel only"),
    ("yaml-cpp outside the files", "sim/io/line/line.hpp", "#include <yaml-cpp/yaml.h>", "belongs to sim/io/files only"),
    ("libmodbus outside the masters", "sim/io/line/line.cpp", "#include <modbus.h>", "belongs to sim/io/master only"),
    ("libmodbus by its long name", "sim/io/line/line.cpp", "#include <modbus/modbus.h>", "belongs to sim/io/master only"),
    ("Odeint outside the thermal model", "sim/unit/unit.cpp", "#include <boost/numeric/odeint.hpp>", "belongs to plant-models/thermal only"),
    ("the command line's library elsewhere", "sim/io/line/line.cpp", "#include <CLI/CLI.hpp>", "belongs to sim/cli only"),
    ("the log outside io", "sim/unit/unit.cpp", "#include <spdlog/spdlog.h>", "belongs to sim/cli, sim/io only"),
    ("a library nobody agreed to", "sim/unit/unit.cpp", "#include <curl/curl.h>", "no header of the C++ standard library"),
    ("a header of the system in the core", "sim/unit/unit.cpp", "#include <unistd.h>", "no header of the C++ standard library"),
    ("threads in the core", "sim/unit/unit.hpp", "#include <thread>", "<thread> outside"),
    ("files in the core", "sim/unit/unit.cpp", "#include <fstream>", "<fstream> outside"),
    ("a thread by word", "sim/unit/unit.cpp", "std::jthread worker;", "a thread"),
    ("a clock in the core", "sim/unit/unit.cpp", "auto t = std::chrono::steady_clock::now();", "a clock"),
    ("the time of day", "sim/unit/unit.cpp", "auto t = std::time(nullptr);", "a clock"),
    ("the time of day, the old way", "plant-models/thermal/zone.cpp", "long t = time(NULL);", "a clock"),
    ("a sleep in the core", "sim/unit/unit.cpp", "void f() { std::this_thread::sleep_for(x); }", "a sleep"),
    ("a clock in the loader", "sim/io/files/load.cpp", "auto t = std::chrono::system_clock::now();", "a clock"),
    ("a sleep in a test of the core", "tests/sim/unit/unit_test.cpp", "void f() { usleep(10); }", "a sleep"),
    ("unseeded chance, anywhere", "sim/io/line/line.cpp", "std::random_device chance;", "unseeded chance"),
    ("a socket in the core", "sim/unit/unit.cpp", "int s = ::socket(1, 2, 3);", "a socket"),
    ("a file by word", "sim/unit/unit.cpp", 'auto f = fopen(name, mode);', "a file"),
    ("printing from the core", "sim/unit/unit.cpp", "void f() { std::cout << 1; }", "the screen"),
    ("printing from the core, the old way", "sim/unit/unit.cpp", "void f() { std::fputs(text, out); }", "the screen"),
    ("the environment in the core", "sim/unit/unit.cpp", "auto home = getenv(name);", "the environment"),
    ("a folder without a module", "sim/bench/bench.cpp", "int x;", "belongs to no module"),
    ("a new name at the top", "notes/todo.md", "", "is not one of the agreed names"),
    ("a new folder under sim", "sim/helpers/x.txt", "", "is not one of the agreed folders"),
    ("two types of one name", "sim/unit/unit.hpp", "namespace emberline {\nstruct Word {\n};\n}", "emberline::Word is defined in sim/base/word.hpp, too"),
    ("two constants of one name", "sim/unit/unit.hpp", "namespace emberline {\ninline constexpr int kMost = 2;\n}",
     "emberline::kMost is defined in sim/base/word.hpp, too"),
    ("headers in a circle", "sim/base/result.hpp", '#include "sim/base/second.hpp"', "files include each other in a circle"),
]
EXTRA_FILES = {"headers in a circle": {"sim/base/second.hpp": '#pragma once\n#include "sim/base/result.hpp"\n'}}


def build(root, files):
    for path, text in files.items():
        full = os.path.join(root, path)
        os.makedirs(os.path.dirname(full), exist_ok=True)
        with open(full, "w", encoding="utf-8") as out:
            out.write(text)


def complaints_of(files, modules=None):
    with tempfile.TemporaryDirectory(prefix="emberline-architecture-") as root:
        build(root, files)
        return check.Check(root, modules or MODULES).run()


def broken(name, path, line):
    files = {**SOUND, **EXTRA_FILES.get(name, {})}
    files[path] = files.get(path, "") + line + "\n"
    return files


def self_test(compiler):
    failures = []

    def expect(name, complaints, words):
        if words is None and complaints:
            failures.append(f"{name}: nothing is wrong, yet: {complaints}")
        elif words is not None and (len(complaints) != 1 or words not in complaints[0]):
            failures.append(f"{name}: expected one complaint with '{words}', got: {complaints}")

    expect("the sound tree", complaints_of(SOUND), None)
    for name, path, line, words in BREAKS:
        expect(name, complaints_of(broken(name, path, line)), words)

    circle = {**MODULES, "base": ("sim/base", ["unit"])}
    expect("modules in a circle", complaints_of(SOUND, circle), "modules use each other in a circle")
    model = {**MODULES, "plant_thermal": ("plant-models/thermal", ["base"])}
    expect("a model that may use the simulator", complaints_of(SOUND, model), "models know nothing of the simulator")
    unknown = {**MODULES, "unit": ("sim/unit", ["base", "ghost"])}
    expect("leave to use what is no module", complaints_of(SOUND, unknown), "which is no module")

    lame = {**SOUND, "sim/base/lame.hpp": "#pragma once\ninline std::vector<int> many() { return {}; }\n"}
    twice = {**SOUND, "sim/base/twice.hpp": "inline int once() { return 1; }\n"}
    for name, files, words in [("headers that stand alone", SOUND, None),
                               ("a header that needs another before it", lame, "lame.hpp does not compile"),
                               ("a header without #pragma once", twice, "twice.hpp lacks #pragma once")]:
        with tempfile.TemporaryDirectory(prefix="emberline-architecture-") as root:
            build(root, files)
            expect(name, headers.run(root, MODULES, compiler)[2], words)
    return failures, len(BREAKS) + 7


def main():
    failures, count = self_test(sys.argv[1] if len(sys.argv) > 1 else "c++")
    print("\n".join(failures) if failures else f"all {count} guards hold and can fail")
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())

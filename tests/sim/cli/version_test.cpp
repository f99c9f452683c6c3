#include <array>
#include <regex>
#include <string>

#include <doctest/doctest.h>
#include <modbus/modbus-version.h>
#include <sys/utsname.h>

#include "tests/support/process.hpp"
#include "tests/support/this_build.hpp"

using emberline::testing::run_emberline;

TEST_CASE("the version is one line, and with --verbose begins what a report needs") {
  const auto plain = run_emberline({"--version"});
  CHECK(plain.status == 0);
  CHECK(std::regex_match(plain.out, std::regex("emberline [0-9]+\\.[0-9]+\\.[0-9]+\n")));
  const auto verbose = run_emberline({"--version", "--verbose"});
  CHECK(verbose.status == 0);
  CHECK(verbose.err.empty());
  CHECK(verbose.out.find(plain.out) == 0);
  CHECK(run_emberline({"--verbose", "--version"}).out == verbose.out);
  CAPTURE(verbose.out);
  for (const std::string line :
       {"compiler: (GCC|Clang) [0-9]+\\.[^\n]+", "build type: [A-Z][^\n]+", "compile flags: -[^\n]+",
        "link flags: [^\n]+", "hardening: [^\n]+", "libraries, compiled against and in use:",
        "  Boost: 1\\.[0-9]+\\.[0-9]+, headers only", "  CLI11: [0-9.]+, headers only",
        "  libcsv: [0-9.]+, libcsv\\.so[.0-9]+", "  libmd: [0-9.]+, libmd\\.so[.0-9]+",
        "  spdlog: [0-9.]+, libspdlog\\.so[.0-9]+", "  yaml-cpp: [0-9.]+, libyaml-cpp\\.so[.0-9]+"}) {
    CAPTURE(line);
    CHECK(std::regex_search(verbose.out, std::regex("\n" + line + "\n")));
  }
  CHECK(verbose.out.find("\n  libmodbus: " LIBMODBUS_VERSION_STRING ", linked with ") != std::string::npos);
  const bool none = verbose.out.find("\nsanitizers: none\n") != std::string::npos;
  CHECK(none != emberline::testing::sanitized());
}

TEST_CASE("the long version tells no path and no name of a machine, and the same each time") {
  const auto verbose = run_emberline({"--version", "--verbose"}).out;
  CHECK(verbose.find('/') == std::string::npos);
  CHECK(verbose == run_emberline({"--version", "--verbose"}).out);
  utsname machine{};
  REQUIRE(::uname(&machine) == 0);
  CHECK(verbose.find(std::string("system: ") + machine.sysname + " " + machine.release + " " +
                     machine.machine) != std::string::npos);
  const std::string name = machine.nodename;
  if (name.size() >= 8) CHECK(verbose.find(name) == std::string::npos);
}

TEST_CASE("--verbose without --version is refused, and not taken for more talk of a command") {
  for (const auto& words :
       {std::vector<std::string>{"--verbose"}, {"--verbose", "man"}, {"man", "--verbose"}}) {
    const auto refused = run_emberline(words);
    CAPTURE(refused.err);
    CHECK(refused.status == 2);
    CHECK(refused.out.empty());
    CHECK(refused.err.find("--verbose") != std::string::npos);
    CHECK(refused.err.find('\n') == refused.err.size() - 1);
  }
}

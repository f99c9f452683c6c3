#include "sim/cli/version_text.hpp"

#include <string_view>

#include <CLI/Version.hpp>
#include <boost/version.hpp>
#include <gnu/libc-version.h>
#include <spdlog/fmt/fmt.h>
#include <spdlog/version.h>
#include <sys/utsname.h>

#include "sim/cli/loaded_program.hpp"
#include "sim/io/master/modbus_version.hpp"
#include "sim/io/tables/csv_version.hpp"

// Given to this file alone by CMakeLists.txt: EMBERLINE_BUILD_TYPE, EMBERLINE_COMPILE_FLAGS,
// EMBERLINE_LINK_FLAGS, EMBERLINE_SANITIZERS, and the versions that headers do not tell: EMBERLINE_YAML_CPP,
// EMBERLINE_LIBMD.

namespace emberline::cli {
namespace {

using Numbers = std::initializer_list<int>;

std::string dotted(Numbers numbers) {
  std::string text;
  for (const int number : numbers) text += (text.empty() ? "" : ".") + std::to_string(number);
  return text;
}

std::string or_none(std::string_view text) { return text.empty() ? "none" : std::string(text); }

std::string compiler() {
#if defined(__clang__)
  return "Clang " __clang_version__;
#else
  return "GCC " + dotted({__GNUC__, __GNUC_MINOR__, __GNUC_PATCHLEVEL__});
#endif
}

/// What the compiler was told, by what it says of itself; what the linker was, by what lies in memory.
std::string hardening() {
  std::string text;
  const auto add = [&text](bool has, const std::string& what) {
    if (has) text += (text.empty() ? "" : ", ") + what;
  };
#if defined(_GLIBCXX_ASSERTIONS)
  add(true, "assertions of the standard library");
#endif
#if defined(_FORTIFY_SOURCE) && _FORTIFY_SOURCE > 0
  add(true, "_FORTIFY_SOURCE=" + std::to_string(_FORTIFY_SOURCE));
#endif
#if defined(__SSP_STRONG__) || defined(__SSP_ALL__) || defined(__SSP__)
  add(true, "stack protector");
#endif
#if defined(__CET__)
  add(true, "control flow protection");
#endif
  const auto& program = loaded_program();
  add(program.any_address, "PIE");
  add(program.relocations_fixed, program.bound_at_start ? "full RELRO" : "partial RELRO");
  add(program.stack_not_run, "no executable stack");
  return or_none(text);
}

/// The file of a library that was loaded for this program, by the beginning of its name.
std::string loaded(std::string_view beginning) {
  const auto& program = loaded_program();
  for (std::size_t i = 0; i < program.count; ++i) {
    const std::string_view name(program.objects.at(i).name.data());
    if (name.starts_with(beginning)) return std::string(name);
  }
  return "part of the program";
}

/// "  NAME: VERSION, WHERE": compiled against, and what answers for it now.
std::string library(const std::string& name, const std::string& version, const std::string& now) {
  return "  " + name + ": " + version + ", " + now + "\n";
}

std::string libraries() {
  constexpr const char* kHeadersOnly = "headers only";
  const auto boost = dotted({BOOST_VERSION / 100000, BOOST_VERSION / 100 % 1000, BOOST_VERSION % 100});
  const auto fmt = dotted({FMT_VERSION / 10000, FMT_VERSION / 100 % 100, FMT_VERSION % 100});
  return library("Boost", boost, kHeadersOnly) + library("CLI11", CLI11_VERSION, kHeadersOnly) +
         library("fmt", fmt, loaded("libfmt.")) +
         library("glibc", dotted({__GLIBC__, __GLIBC_MINOR__}),
                 "running on " + std::string(::gnu_get_libc_version())) +
         library("libcsv", io::csv_compiled_version(), loaded("libcsv.")) +
         library("libmd", EMBERLINE_LIBMD, loaded("libmd.")) +
         library("libmodbus", io::modbus_compiled_version(),
                 "linked with " + io::modbus_linked_version() + ", " + loaded("libmodbus.")) +
         library("libstdc++", dotted({_GLIBCXX_RELEASE}) + " of " + std::to_string(__GLIBCXX__),
                 loaded("libstdc++.")) +
         library("spdlog", dotted({SPDLOG_VER_MAJOR, SPDLOG_VER_MINOR, SPDLOG_VER_PATCH}),
                 loaded("libspdlog.")) +
         library("yaml-cpp", EMBERLINE_YAML_CPP, loaded("libyaml-cpp."));
}

/// Not the name of the machine.
std::string running_on() {
  utsname system{};
  if (::uname(&system) != 0) return "not known";
  return std::string(system.sysname) + " " + system.release + " " + system.machine;
}

}  // namespace

std::string version_text() { return "emberline " EMBERLINE_VERSION; }

std::string verbose_version_text() {
  const std::string_view id(loaded_program().build_id.data());
  return version_text() + "\nbuild id: " + or_none(id) + "\ncompiler: " + compiler() + ", C++ of " +
         std::to_string(__cplusplus) + "\nbuild type: " + or_none(EMBERLINE_BUILD_TYPE) +
         "\ncompile flags: " + or_none(EMBERLINE_COMPILE_FLAGS) +
         "\nlink flags: " + or_none(EMBERLINE_LINK_FLAGS) + "\nhardening: " + hardening() +
         "\nsanitizers: " + or_none(EMBERLINE_SANITIZERS) + "\nlibraries, compiled against and in use:\n" +
         libraries() + "system: " + running_on();
}

}  // namespace emberline::cli

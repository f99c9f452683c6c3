#pragma once

#include <array>
#include <cstddef>
#include <cstdint>

namespace emberline::cli {

/// This program as it lies in memory, with its libraries. Looked up once, so that the handler of a signal may
/// read it.
struct LoadedProgram {
  /// The program itself or a library, by the name of its file without folders.
  struct Object {
    std::uintptr_t begin = 0;  ///< of what was loaded
    std::uintptr_t end = 0;    ///< the first address behind it
    std::uintptr_t base = 0;   ///< what has to be taken off an address to have the one that is in the file
    std::array<char, 64> name{};
  };
  static constexpr std::size_t kMost = 64;
  std::array<Object, kMost> objects{};  ///< the program first
  std::size_t count = 0;
  std::array<char, 65>
      build_id{};  ///< hexadecimal, what the linker made of all its bytes; empty: it made none

  // What the program's own file says of how it was linked.
  bool any_address = false;        ///< may be loaded anywhere (PIE)
  bool relocations_fixed = false;  ///< what was filled in when it was loaded is read-only afterwards (RELRO)
  bool bound_at_start = false;     ///< all functions were looked up before main() began (BIND_NOW)
  bool stack_not_run = false;      ///< nothing on the stack can be run as a program

  /// The object that an address lies in, or null.
  [[nodiscard]] const Object* at(std::uintptr_t address) const noexcept;
};

/// Looked up by the first call, which has to come before the first signal; later ones only return it.
[[nodiscard]] const LoadedProgram& loaded_program();

}  // namespace emberline::cli

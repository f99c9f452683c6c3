#include "sim/cli/loaded_program.hpp"

#include <algorithm>
#include <cstring>
#include <string_view>

#include <elf.h>
#include <link.h>

namespace emberline::cli {
namespace {

/// A copy of what stands in memory at this address, as the loader has put it there.
template <class T>
T read_at(std::uintptr_t address) {
  T value;
  // The address is of the loaded program: a number is all that the loader's tables have of it.
  // NOLINTNEXTLINE(performance-no-int-to-ptr)
  std::memcpy(&value, reinterpret_cast<const void*>(address), sizeof(T));
  return value;
}

void take_name(const char* path, LoadedProgram::Object& object) {
  std::string_view name(path);
  name = name.substr(name.rfind('/') + 1);  // npos + 1 is 0
  if (name.empty()) name = "emberline";
  name = name.substr(0, object.name.size() - 1);
  std::copy(name.begin(), name.end(), object.name.begin());
}

/// The build id among the notes of a segment.
void take_build_id(std::uintptr_t at, std::size_t size, LoadedProgram& program) {
  static constexpr std::string_view kDigits = "0123456789abcdef";
  const auto padded = [](std::size_t length) { return (length + 3) / 4 * 4; };
  const auto end = at + size;
  while (at + sizeof(ElfW(Nhdr)) <= end) {
    const auto note = read_at<ElfW(Nhdr)>(at);
    const auto name = at + sizeof note;
    const auto content = name + padded(note.n_namesz);
    if (note.n_type == NT_GNU_BUILD_ID && note.n_namesz == 4 &&
        read_at<std::array<char, 4>>(name)[0] == 'G') {
      const auto bytes = std::min<std::size_t>(note.n_descsz, (program.build_id.size() - 1) / 2);
      for (std::size_t i = 0; i < bytes; ++i) {
        const auto byte = read_at<std::uint8_t>(content + i);
        program.build_id.at(2 * i) = kDigits[byte >> 4U];
        program.build_id.at(2 * i + 1) = kDigits[byte & 0xFU];
      }
      return;
    }
    at = content + padded(note.n_descsz);
  }
}

void take_dynamic(std::uintptr_t at, LoadedProgram& program) {
  for (;; at += sizeof(ElfW(Dyn))) {
    const auto entry = read_at<ElfW(Dyn)>(at);
    if (entry.d_tag == DT_NULL) return;
    const auto value = entry.d_un.d_val;
    if (entry.d_tag == DT_BIND_NOW || (entry.d_tag == DT_FLAGS && (value & DF_BIND_NOW) != 0) ||
        (entry.d_tag == DT_FLAGS_1 && (value & DF_1_NOW) != 0))
      program.bound_at_start = true;
    if (entry.d_tag == DT_FLAGS_1 && (value & DF_1_PIE) != 0) program.any_address = true;
  }
}

/// What only the program itself is asked, not its libraries.
void take_segment(const ElfW(Phdr) & segment, std::uintptr_t at, LoadedProgram& program) {
  if (segment.p_type == PT_GNU_RELRO) program.relocations_fixed = true;
  if (segment.p_type == PT_GNU_STACK) program.stack_not_run = (segment.p_flags & PF_X) == 0;
  if (segment.p_type == PT_DYNAMIC) take_dynamic(at, program);
  if (segment.p_type == PT_NOTE && program.build_id[0] == '\0') take_build_id(at, segment.p_memsz, program);
}

int take_object(dl_phdr_info* info, std::size_t, void* data) {
  auto& program = *static_cast<LoadedProgram*>(data);
  if (program.count == LoadedProgram::kMost) return 1;
  const bool itself = program.count == 0;
  auto& object = program.objects.at(program.count++);
  object.base = info->dlpi_addr;
  object.begin = UINTPTR_MAX;
  take_name(itself ? "" : info->dlpi_name, object);
  for (ElfW(Half) i = 0; i < info->dlpi_phnum; ++i) {
    const auto& segment = info->dlpi_phdr[i];
    const auto at = info->dlpi_addr + segment.p_vaddr;
    if (itself) take_segment(segment, at, program);
    if (segment.p_type != PT_LOAD) continue;
    object.begin = std::min<std::uintptr_t>(object.begin, at);
    object.end = std::max<std::uintptr_t>(object.end, at + segment.p_memsz);
  }
  return 0;
}

}  // namespace

const LoadedProgram::Object* LoadedProgram::at(std::uintptr_t address) const noexcept {
  for (std::size_t i = 0; i < count; ++i) {
    const auto& object = objects[i];  // NOLINT: count is at most its size
    if (address >= object.begin && address < object.end) return &object;
  }
  return nullptr;
}

const LoadedProgram& loaded_program() {
  static const LoadedProgram program = [] {
    LoadedProgram found;
    ::dl_iterate_phdr(take_object, &found);
    return found;
  }();
  return program;
}

}  // namespace emberline::cli

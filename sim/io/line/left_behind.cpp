#include "sim/io/line/left_behind.hpp"

#include <algorithm>
#include <array>
#include <atomic>
#include <cerrno>
#include <climits>
#include <cstddef>
#include <cstring>
#include <memory>
#include <mutex>
#include <optional>
#include <vector>

#include <sys/stat.h>
#include <unistd.h>

namespace emberline::io {
namespace {

/// As long as it is in the list nothing of it changes.
struct Note {
  std::string path;
  std::string target;  ///< of a link
  dev_t device = 0;
  ino_t number = 0;
  timespec modified{};  ///< numbers are given out anew, as soon as the file before is gone
  bool is_link = false;
};

constexpr std::size_t kMostNotes = 4096;

/// Notes are added and taken out by whoever holds the mutex; the handler of a signal only looks.
std::array<std::atomic<const Note*>, kMostNotes> notes{};
std::mutex changing;
/// Notes that were taken out. They stay: the handler may be looking at one, on another thread.
std::vector<std::unique_ptr<const Note>> taken_out;
static_assert(std::atomic<const Note*>::is_always_lock_free, "a handler of signals must not wait");

/// Where the link leads, in `buffer`; the size, or -1.
ssize_t read_target(const char* path, std::array<char, PATH_MAX>& buffer) {
  return ::readlink(path, buffer.data(), buffer.size());
}

std::optional<Note> what_stands_at(const std::string& path) {
  struct stat there {};
  if (::lstat(path.c_str(), &there) != 0) return std::nullopt;
  Note note{path, {}, there.st_dev, there.st_ino, there.st_mtim, S_ISLNK(there.st_mode)};
  if (!note.is_link) return note;
  std::array<char, PATH_MAX> target{};
  const auto size = read_target(path.c_str(), target);
  if (size < 0) return std::nullopt;
  note.target.assign(target.data(), static_cast<std::size_t>(size));
  return note;
}

/// Also called by the handler of a signal.
bool is_still_ours(const Note& note) noexcept {
  struct stat there {};
  if (::lstat(note.path.c_str(), &there) != 0) return false;
  if (there.st_dev != note.device || there.st_ino != note.number) return false;
  if (there.st_mtim.tv_sec != note.modified.tv_sec || there.st_mtim.tv_nsec != note.modified.tv_nsec)
    return false;
  if (S_ISLNK(there.st_mode) != note.is_link) return false;
  if (!note.is_link) return true;
  std::array<char, PATH_MAX> target;  // left as it is: it may be the stack of a handler
  const auto size = read_target(note.path.c_str(), target);
  return size >= 0 && static_cast<std::size_t>(size) == note.target.size() &&
         std::memcmp(target.data(), note.target.data(), note.target.size()) == 0;
}

/// Takes the note of this path out, if there is one; the mutex is held.
const Note* take_out(const std::string& path) {
  for (auto& slot : notes) {
    const Note* note = slot.load(std::memory_order_acquire);
    if (note == nullptr || note->path != path) continue;
    slot.store(nullptr, std::memory_order_release);
    return taken_out.emplace_back(note).get();
  }
  return nullptr;
}

}  // namespace

void note_left_behind(const std::string& path) {
  auto found = what_stands_at(path);
  const std::lock_guard lock(changing);
  take_out(path);
  if (!found) return;
  const auto free =
      std::find_if(notes.begin(), notes.end(), [](const auto& slot) { return slot.load() == nullptr; });
  if (free == notes.end()) return;
  free->store(std::make_unique<const Note>(std::move(*found)).release(), std::memory_order_release);
}

void forget_left_behind(const std::string& path) {
  const std::lock_guard lock(changing);
  take_out(path);
}

void remove_noted(const std::string& path) {
  const std::lock_guard lock(changing);
  const Note* note = take_out(path);
  if (note != nullptr && is_still_ours(*note)) ::unlink(path.c_str());
}

void remove_left_behind() noexcept {
  const int error = errno;
  for (const auto& slot : notes) {
    const Note* note = slot.load(std::memory_order_acquire);
    if (note != nullptr && is_still_ours(*note)) ::unlink(note->path.c_str());
  }
  errno = error;
}

}  // namespace emberline::io

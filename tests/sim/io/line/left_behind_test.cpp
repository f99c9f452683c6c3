#include "sim/io/line/left_behind.hpp"

#include <filesystem>
#include <fstream>

#include <doctest/doctest.h>
#include <fcntl.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <unistd.h>

#include "sim/io/line/stable_link.hpp"
#include "tests/sim/io/line/running.hpp"

using namespace emberline;
using namespace emberline::test;
namespace fs = std::filesystem;

namespace {

const auto kNobody = [](const std::string&) { return false; };

void write(const std::string& path, const std::string& content) { std::ofstream(path) << content; }

bool stands(const std::string& path) { return fs::symlink_status(path).type() != fs::file_type::not_found; }

/// A file whose last change lies in the past: of one that is put in its place it can be told apart, however
/// coarse the clock of the file system.
void write_long_ago(const std::string& path) {
  write(path, "ours");
  const timespec times[] = {{1000, 0}, {1000, 0}};
  REQUIRE(::utimensat(AT_FDCWD, path.c_str(), times, 0) == 0);
}

}  // namespace

TEST_CASE("links, sockets and files that are noted go, and what they lead to and stand beside stays") {
  const Folder folder;
  write(folder / "terminal", "");
  write(folder / "other", "");
  REQUIRE(io::place_link(folder / "field", folder / "terminal", kNobody));  // notes it
  const std::string socket_path = folder / "control";
  const int listening = ::socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);
  sockaddr_un address{};
  address.sun_family = AF_UNIX;
  REQUIRE(socket_path.size() < sizeof address.sun_path);
  socket_path.copy(address.sun_path, socket_path.size());
  REQUIRE(::bind(listening, reinterpret_cast<const sockaddr*>(&address), sizeof address) == 0);
  io::note_left_behind(socket_path);
  REQUIRE(::chmod(socket_path.c_str(), 0666) == 0);  // for somebody else to come in: still ours
  write(folder / "ready", "{}");
  io::note_left_behind(folder / "ready");
  io::remove_left_behind();
  CHECK_FALSE(stands(folder / "field"));
  CHECK_FALSE(stands(socket_path));
  CHECK_FALSE(stands(folder / "ready"));
  CHECK(stands(folder / "terminal"));
  CHECK(stands(folder / "other"));
  ::close(listening);
}

TEST_CASE("what has been taken away in good order is not removed a second time when it stands there again") {
  const Folder folder;
  const std::string link = folder / "field";
  REQUIRE(io::place_link(link, "/dev/pts/1", kNobody));
  io::remove_link(link, "/dev/pts/1");
  fs::create_symlink("/dev/pts/1", link);
  write_long_ago(folder / "ready");
  io::note_left_behind(folder / "ready");
  io::forget_left_behind(folder / "ready");
  io::forget_left_behind(folder / "never-noted");
  io::remove_left_behind();
  CHECK(stands(link));
  CHECK(stands(folder / "ready"));
}

TEST_CASE("what goes in good order takes away what somebody else has put in its place") {
  const Folder folder;
  write_long_ago(folder / "ready");
  io::note_left_behind(folder / "ready");
  write_long_ago(folder / "taken");
  io::note_left_behind(folder / "taken");
  fs::remove(folder / "taken");
  write(folder / "taken", "theirs");
  write(folder / "never-noted", "");
  for (const std::string name : {"ready", "taken", "never-noted"}) io::remove_noted(folder / name);
  CHECK_FALSE(stands(folder / "ready"));
  CHECK(stands(folder / "taken"));
  CHECK(stands(folder / "never-noted"));
  write(folder / "ready", "again");
  io::remove_left_behind();
  CHECK(stands(folder / "ready"));
}

TEST_CASE("what somebody else has put in the place of ours stays") {
  const Folder folder;
  REQUIRE(io::place_link(folder / "field", "/dev/pts/1", kNobody));
  fs::remove(folder / "field");
  fs::create_symlink("/dev/pts/2", folder / "field");
  write_long_ago(folder / "ready");
  io::note_left_behind(folder / "ready");
  fs::remove(folder / "ready");
  write(folder / "ready", "theirs");
  write_long_ago(folder / "renamed");
  io::note_left_behind(folder / "renamed");
  write(folder / "theirs", "theirs");
  fs::rename(folder / "theirs", folder / "renamed");
  write_long_ago(folder / "folder");
  io::note_left_behind(folder / "folder");
  fs::remove(folder / "folder");
  fs::create_directory(folder / "folder");
  io::remove_left_behind();
  for (const std::string name : {"field", "ready", "renamed", "folder"}) {
    CAPTURE(name);
    CHECK(stands(folder / name));
    io::forget_left_behind(folder / name);
  }
}

TEST_CASE("a path is noted once, with what stood there last, and not at all while nothing stands there") {
  const Folder folder;
  const std::string path = folder / "ready";
  io::note_left_behind(path);
  write_long_ago(path);
  io::remove_left_behind();
  CHECK(stands(path));
  io::note_left_behind(path);
  fs::remove(path);
  write(path, "anew");
  io::note_left_behind(path);
  io::remove_left_behind();
  CHECK_FALSE(stands(path));
  io::forget_left_behind(path);
  write(path, "after that");
  io::remove_left_behind();
  CHECK(stands(path));
}

TEST_CASE("more than can be noted harms nothing, and room comes back") {
  const Folder folder;
  const auto name = [&](int i) { return folder / ("file-" + std::to_string(i)); };
  constexpr int kMany = 4200;
  for (int i = 0; i < kMany; ++i) {
    write(name(i), "");
    io::note_left_behind(name(i));
  }
  for (int i = 0; i < kMany; ++i) io::forget_left_behind(name(i));
  io::note_left_behind(name(kMany - 1));
  io::remove_left_behind();
  CHECK(stands(name(0)));
  CHECK_FALSE(stands(name(kMany - 1)));
  io::forget_left_behind(name(kMany - 1));
}

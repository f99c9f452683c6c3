#include "sim/io/line/stable_link.hpp"

#include <fstream>

#include <doctest/doctest.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>

#include "sim/io/line/pty_device.hpp"
#include "tests/sim/io/line/running.hpp"

using namespace emberline;
using namespace emberline::test;
namespace fs = std::filesystem;

namespace {

const auto kNobody = [](const std::string&) { return false; };
const auto kEverybody = [](const std::string&) { return true; };

}  // namespace

TEST_CASE("a link is made with the folders it needs, and removed when it is still ours") {
  const Folder folder;
  const std::string link = folder / "a/b/field";
  REQUIRE(io::place_link(link, "/dev/pts/1", kNobody));
  CHECK(fs::read_symlink(link) == "/dev/pts/1");
  struct stat made {};
  REQUIRE(::stat((folder / "a/b").c_str(), &made) == 0);
  CHECK((made.st_mode & 0700) == 0700);
  CHECK((made.st_mode & 0022) == 0);
  io::remove_link(link, "/dev/pts/2");
  CHECK(fs::is_symlink(link));
  io::remove_link(link, "/dev/pts/1");
  CHECK_FALSE(fs::is_symlink(link));
}

TEST_CASE("a stale link is replaced, and nothing else ever is") {
  const Folder folder;
  const auto live = io::PtyDevice::open({});
  REQUIRE(live);
  const std::string terminal = (*live)->path();
  std::ofstream(folder / "file") << "kept";
  fs::create_directory(folder / "dir");

  enum class There { nothing, link, file, directory };
  struct Row {
    const char* name;
    There there;
    std::string target;
    bool in_use;
    bool replaced;
    const char* words;
  };
  // Common practice, no source: a program may remove what it left behind itself, and nothing else.
  const Row rows[] = {
      {"nothing there", There::nothing, "", false, true, ""},
      {"a terminal that is no more", There::link, "/dev/pts/999999", true, true, ""},
      {"leads nowhere", There::link, folder / "absent", true, true, ""},
      {"a terminal no bench has", There::link, terminal, false, true, ""},
      {"a running bench's terminal", There::link, terminal, true, false, "another running bench"},
      {"a link of somebody else", There::link, folder / "file", false, false, "a link to"},
      {"a link to a device", There::link, "/dev/null", false, false, "a link to /dev/null"},
      {"a link to itself", There::link, folder / "place", false, false, "cannot be followed"},
      {"a regular file", There::file, "", false, false, "a regular file"},
      {"a folder", There::directory, "", false, false, "a folder"},
  };
  for (const Row& row : rows) {
    CAPTURE(row.name);
    const std::string place = folder / "place";
    fs::remove_all(place);
    switch (row.there) {
      case There::nothing:
        break;
      case There::link:
        fs::create_symlink(row.target, place);
        break;
      case There::file:
        std::ofstream(place) << "kept";
        break;
      case There::directory:
        fs::create_directory(place);
        break;
    }
    const auto before = fs::symlink_status(place).type();
    const auto placed = row.in_use ? io::place_link(place, "/dev/pts/77", kEverybody)
                                   : io::place_link(place, "/dev/pts/77", kNobody);
    CHECK(placed.has_value() == row.replaced);
    if (placed) {
      CHECK(fs::read_symlink(place) == "/dev/pts/77");
    } else {
      CHECK(placed.error().find(row.words) != std::string::npos);
      CHECK(placed.error().find(place) != std::string::npos);
      CHECK(fs::symlink_status(place).type() == before);
      if (row.there == There::link) {
        CHECK(fs::read_symlink(place) == row.target);
      }
    }
  }
  CHECK(fs::file_size(folder / "file") == 4);
}

TEST_CASE("a folder that cannot be made is named") {
  const Folder folder;
  std::ofstream(folder / "file") << "kept";
  const auto placed = io::place_link(folder / "file/field", "/dev/pts/1", kNobody);
  REQUIRE_FALSE(placed);
  CHECK(placed.error() == (folder / "file") + " is a regular file; expected a folder");
}

TEST_CASE("a link whose terminal's number went to another line meanwhile is stale, not that line's") {
  const Folder folder;
  fs::create_directory(folder / "lines");
  fs::create_directory_symlink(folder / "lines", folder / "same");
  auto device = io::PtyDevice::open({});
  REQUIRE(device);
  const std::string terminal = (*device)->path();
  (*device)->is_found_by(folder / "lines/field");
  CHECK(io::terminal_of_a_running_bench(terminal));
  CHECK(io::terminal_of_a_running_bench(terminal, folder / "lines/field"));
  CHECK(io::terminal_of_a_running_bench(terminal, folder / "same/field"));
  CHECK_FALSE(io::terminal_of_a_running_bench(terminal, folder / "lines/other"));
  // What a killed run left: two links, to numbers that this bench has now.
  const auto in_use = [](const std::string& link) {
    return [link](const std::string& there) { return io::terminal_of_a_running_bench(there, link); };
  };
  fs::create_symlink(terminal, folder / "lines/field");
  fs::create_symlink(terminal, folder / "lines/other");
  REQUIRE(io::place_link(folder / "lines/field", terminal, in_use(folder / "lines/field")));
  REQUIRE(io::place_link(folder / "lines/other", "/dev/pts/999999", in_use(folder / "lines/other")));
  CHECK(fs::read_symlink(folder / "lines/other") == "/dev/pts/999999");
  // Who comes for the link of the line that runs does not get it.
  CHECK_FALSE(io::place_link(folder / "lines/field", "/dev/pts/999999", in_use(folder / "lines/field")));
}

#include <algorithm>
#include <filesystem>
#include <string>
#include <vector>

#include <doctest/doctest.h>
#include <signal.h>
#include <sys/stat.h>

#include "tests/support/process.hpp"
#include "tests/support/small_story.hpp"

using emberline::testing::Background;
using emberline::testing::read_file;
using emberline::testing::run_emberline;
using emberline::testing::SmallStory;
using emberline::testing::TemporaryFolder;

namespace {

/// A small bench with its own table and a story beside it, in a folder of their own.
struct Files {
  Files() {
    const std::string shipped = EMBERLINE_SOURCE_DIR "/config/registers/short-blocks.yaml";
    table = folder.write("table.yaml", read_file(shipped));
    bench = folder.file("bench.yaml");
    auto text = read_file(bench);
    text.replace(text.find(shipped), shipped.size(), "table.yaml");
    folder.write("bench.yaml", text);
    story = small.stepped("story.yaml", "Story");
    token = folder.write("token.txt", "a-token-of-its-own-0123456789\n");
    ::chmod(token.c_str(), 0600);
    control = folder.file("control.sock");
    ready = folder.file("ready.json");
  }
  TemporaryFolder folder;
  SmallStory small{folder};
  std::string bench, table, story, token, control, ready;
};

}  // namespace

TEST_CASE("serve or lesson writes over a file it reads, or two things into one place") {
  const Files files;
  const auto serve = [&](std::vector<std::string> more) {
    std::vector<std::string> words{"serve", files.bench, "--panel", "off"};
    words.insert(words.end(), more.begin(), more.end());
    return words;
  };
  const auto other = files.folder.file("other");
  const auto dangling = files.folder.file("dangling");
  std::filesystem::create_symlink("other", dangling);
  const struct {
    std::vector<std::string> words;
    const char* said;
  } rows[] = {
      {serve({"--ready-file", files.bench}), "--ready-file: "},
      {serve({"--ready-file", files.table}), "--ready-file: "},
      {serve({"--capture", files.bench}), "--capture: "},
      {serve({"--capture", files.folder.file("./table.yaml")}), "--capture: "},
      {serve({"--capture", other, "--ready-file", other}), "is what --ready-file writes too"},
      {serve({"--control", other, "--capture", other}), "is what --control writes too"},
      {serve({"--ready-file", dangling, "--capture", other}), "is what --ready-file writes too"},
      {{"serve", files.bench, "--panel", "0", "--panel-token", files.token, "--ready-file", files.token},
       "--ready-file: "},
      {{"lesson", files.story, "--panel", "0", "--ready-file", files.story}, "--ready-file: "},
      {{"lesson", files.story, "--panel", "0", "--ready-file", files.bench}, "--ready-file: "},
  };
  const auto before = {read_file(files.bench), read_file(files.table), read_file(files.story),
                       read_file(files.token)};
  for (const auto& row : rows) {
    const auto refused = run_emberline(row.words);
    CAPTURE(refused.err);
    CHECK(refused.status == 2);
    CHECK(refused.err.find(row.said) != std::string::npos);
    CHECK(refused.out.empty());
  }
  const auto after = {read_file(files.bench), read_file(files.table), read_file(files.story),
                      read_file(files.token)};
  CHECK(std::equal(before.begin(), before.end(), after.begin()));
  CHECK_FALSE(std::filesystem::exists(other));
}

TEST_CASE("a ready file behind a link takes the link away, or stays when the bench has stopped") {
  const Files files;
  const auto link = files.folder.file("link.json");
  std::filesystem::create_symlink("ready.json", link);
  Background running(
      {"serve", files.bench, "--panel", "off", "--control", files.control, "--ready-file", link});
  REQUIRE(running.wait_for_file(files.ready));
  CHECK(std::filesystem::is_symlink(std::filesystem::symlink_status(link)));
  CHECK(running.stop(SIGTERM).status == 0);
  CHECK_FALSE(std::filesystem::exists(files.ready));
  CHECK(std::filesystem::is_symlink(std::filesystem::symlink_status(link)));
}

TEST_CASE("a hang-up leaves link, socket and ready file of a bench behind") {
  const Files files;
  Background running(
      {"serve", files.bench, "--panel", "off", "--control", files.control, "--ready-file", files.ready});
  REQUIRE(running.wait_for_file(files.ready));
  const auto stopped = running.stop(SIGHUP);
  CHECK(stopped.status == 0);
  CHECK(stopped.out.find("Stopped after") != std::string::npos);
  for (const auto& path : {files.ready, files.control, files.small.link})
    CHECK_MESSAGE(!std::filesystem::exists(std::filesystem::symlink_status(path)), path);
}

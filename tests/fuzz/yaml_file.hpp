#pragma once

#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <filesystem>
#include <fstream>
#include <string>
#include <string_view>

#include <stdlib.h>
#include <unistd.h>

#include "sim/io/files/load.hpp"
#include "tests/fuzz/fuzz.hpp"

namespace emberline::fuzz {

/// A copy of config/ in a folder of this process, with one file in it that the fuzzer writes.
class Workspace {
 public:
  explicit Workspace(const std::string& file) {
    namespace fs = std::filesystem;
    must(::mkdtemp(folder_.data()) != nullptr, "there is room for temporary files");
    fs::copy(fs::path(EMBERLINE_SOURCE_DIR) / "config", folder_ + "/config", fs::copy_options::recursive);
    fs::create_directory(folder_ + "/scenarios");
    path_ = folder_ + "/" + file;
  }
  ~Workspace() {
    std::error_code ignored;
    std::filesystem::remove_all(folder_, ignored);
  }
  Workspace(const Workspace&) = delete;
  Workspace& operator=(const Workspace&) = delete;

  [[nodiscard]] const std::string& path() const { return path_; }
  void write(const std::uint8_t* data, std::size_t size) const {
    std::ofstream file(path_, std::ios::binary);
    file.write(reinterpret_cast<const char*>(data), static_cast<std::streamsize>(size));
    file.close();
    must(file.good(), "the temporary file can be written");
  }

 private:
  std::string folder_ = "/tmp/emberline-fuzz-XXXXXX";
  std::string path_;
};

/// Every complaint is one line of text with a place that is in the file.
inline void check_problems(const io::Problems& problems, std::string_view text) {
  must(!problems.empty(), "a file that is refused is complained about");
  const auto lines = 1 + std::count(text.begin(), text.end(), '\n');
  for (const auto& problem : problems) {
    must(!problem.place.file.empty(), "a complaint names a file");
    must(problem.place.line >= 0 && problem.place.column >= 0, "places count from 1");
    must((problem.place.line == 0) == (problem.place.column == 0),
         "a place has a line and a column, or neither");
    if (problem.place.file.ends_with("fuzzed.yaml"))
      must(problem.place.line <= lines, "a complaint is about a line that is there");
    must(!problem.message.empty(), "a complaint has words");
    const auto is_control = [](char c) { return static_cast<unsigned char>(c) < 0x20 || c == 0x7F; };
    must(std::none_of(problem.message.begin(), problem.message.end(), is_control),
         "a complaint is one plain line");
  }
}

/// Loads the input as a file: there is what it asks for, or complaints, the same each time.
template <class Load>
auto load_input(const Workspace& workspace, io::FileKind kind, Load load, const std::uint8_t* data,
                std::size_t size) {
  workspace.write(data, size);
  auto loaded = load(workspace.path());
  if (!loaded) {
    check_problems(loaded.error(), {reinterpret_cast<const char*>(data), size});
  } else {
    const auto declared = io::kind_of(workspace.path());
    must(declared && *declared == kind, "what is loaded as one kind is declared as that kind");
  }
  return loaded;
}

}  // namespace emberline::fuzz

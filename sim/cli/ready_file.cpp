#include "sim/cli/ready_file.hpp"

#include "sim/io/line/left_behind.hpp"
#include "sim/io/report/report.hpp"

namespace emberline::cli {

Result<Done, std::string> ReadyFile::write(const std::string& text) {
  place_ = io::behind_links(path_);
  auto written = io::write_whole(path_, text);
  if (!written) return written;
  io::note_left_behind(place_);
  written_ = true;
  return written;
}

void ReadyFile::remove() {
  if (written_) io::remove_noted(place_);
  written_ = false;
}

}  // namespace emberline::cli

#include <sys/stat.h>

#include "sim/cli/commands.hpp"
#include "sim/cli/exit_code.hpp"
#include "sim/cli/output.hpp"
#include "sim/io/control/control.hpp"

namespace emberline::cli {
namespace {

bool is_socket(const std::string& path) {
  struct stat info {};
  return ::stat(path.c_str(), &info) == 0 && S_ISSOCK(info.st_mode);
}

/// A path that is a socket or is named like one; everything else is a bench file, whose socket has a fixed
/// place.
std::string socket_of(const std::string& where) {
  if (is_socket(where) || where.ends_with(".sock")) return where;
  return io::default_control_path(where);
}

}  // namespace

int tell(const TellOptions& options) {
  std::string line;
  for (const auto& word : options.words) line += (line.empty() ? "" : " ") + word;
  if (options.ping != line.empty()) {
    complain(options.ping ? "tell: --ping takes no action beside it"
                          : "tell: nothing to tell: expected an action such as 'cut field', or --ping");
    return kInputUnusable;
  }
  if (line.find('\n') != std::string::npos) {
    complain("tell: an action is one line");
    return kInputUnusable;
  }
  const auto told = io::tell(socket_of(options.where), options.ping ? "ping" : line);
  switch (told.status) {
    case io::Told::Status::done:
      print(with_line_breaks(told.answer) + "\n");
      return kAllWell;
    case io::Told::Status::not_understood:
      complain(told.answer);
      return kInputUnusable;
    case io::Told::Status::nobody_there:
      complain(told.answer);
      return kSurroundingsFailed;
  }
  return kSurroundingsFailed;
}

}  // namespace emberline::cli

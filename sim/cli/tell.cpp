#include <optional>
#include <utility>

#include <boost/json.hpp>

#include "sim/base/plain_text.hpp"
#include "sim/cli/commands.hpp"
#include "sim/cli/exit_code.hpp"
#include "sim/cli/output.hpp"
#include "sim/cli/panel_talk.hpp"
#include "sim/io/control/control.hpp"
#include "sim/io/panel/http_client.hpp"
#include "sim/io/report/json_find.hpp"

namespace emberline::cli {
namespace {

/// The lines of {"lines":["..."]}, one below the other.
std::string lines_in(const std::string& body) {
  const auto json = io::parse_json(body);
  const auto* lines = io::find_member(&json, "lines");
  std::string text;
  if (lines == nullptr || !lines->is_array()) return text;
  for (const auto& line : lines->get_array())
    if (const auto said = io::find_text(&line)) text += one_line(std::string(*said)) + "\n";
  return text;
}

int tell_panel(const TellOptions& options, const std::string& line) {
  const auto panel = find_panel(options.where, options.token_file);
  if (!panel) return gave_up(panel.error());
  // Where it is we know; that it is there, it says.
  if (options.ping || line == "panel") {
    const auto there = ask_panel(*panel, "/healthz");
    if (!there) return gave_up(there.error());
    print(options.ping ? "pong\n" : "ok " + panel->url + "\n");
    return kAllWell;
  }
  if (line == "traffic") {
    const auto review = ask_panel(*panel, "/api/review");
    if (!review) return gave_up(review.error());
    print("ok traffic so far\n" + lines_in(*review));
    return kAllWell;
  }
  const auto done =
      ask_panel(*panel, "/api/actions", boost::json::serialize(boost::json::object{{"do", line}}));
  if (!done) return gave_up(done.error());
  const auto json = io::parse_json(*done);
  const auto understood = io::find_text(io::find_member(&json, "done"));
  print("ok " + one_line(std::string(understood.value_or(line))) + "\n");
  return kAllWell;
}

int tell_socket(const TellOptions& options, const std::string& line) {
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
  if (io::is_panel_url(options.where)) return tell_panel(options, line);
  if (!options.token_file.empty()) {
    complain("tell: --token-file is for the address of a panel, such as http://127.0.0.1:8710/");
    return kInputUnusable;
  }
  return tell_socket(options, line);
}

}  // namespace emberline::cli

#include "sim/cli/panel_talk.hpp"

#include <string_view>
#include <utility>

#include <sys/stat.h>

#include "sim/base/plain_text.hpp"
#include "sim/cli/exit_code.hpp"
#include "sim/cli/output.hpp"
#include "sim/cli/panel_options.hpp"
#include "sim/io/control/control.hpp"
#include "sim/io/panel/http_client.hpp"
#include "sim/io/report/json_find.hpp"

namespace emberline::cli {
namespace {

bool is_socket(const std::string& path) {
  struct stat info {};
  return ::stat(path.c_str(), &info) == 0 && S_ISSOCK(info.st_mode);
}

/// What {"error":"..."} says, on one line of plain text.
std::string error_in(const std::string& body) {
  const auto json = io::parse_json(body);
  const auto text = io::find_text(io::find_member(&json, "error"));
  if (!text) return "it answers with other words than a panel";
  return one_line(std::string(*text));
}

/// "http://127.0.0.1:8710/" of an address with a page's path behind it, such as the one for the class.
std::string without_path(const std::string& url) {
  constexpr std::size_t kScheme = std::string_view("http://").size();
  return url.substr(0, url.find_first_of("/?#", kScheme)) + "/";
}

}  // namespace

int gave_up(const PanelTrouble& trouble) {
  complain(trouble.line);
  return trouble.status;
}

std::string socket_of(const std::string& where) {
  if (is_socket(where) || where.ends_with(".sock")) return where;
  return io::default_control_path(where);
}

Result<PanelPlace, PanelTrouble> find_panel(const std::string& where, const std::string& token_file) {
  PanelPlace place;
  if (!token_file.empty()) {
    const auto tokens = read_tokens(token_file);
    if (!tokens) return Failure{PanelTrouble{kInputUnusable, "--token-file: " + tokens.error()}};
    place.token = tokens->trainer;
  }
  if (io::is_panel_url(where)) {
    place.url = without_path(where);
    return place;
  }
  const auto told = io::tell(socket_of(where), "panel");
  constexpr std::string_view kOk = "ok ";
  if (told.status != io::Told::Status::done || !told.answer.starts_with(kOk))
    return Failure{PanelTrouble{kSurroundingsFailed, told.answer}};
  place.url = told.answer.substr(kOk.size());
  return place;
}

Result<std::string, PanelTrouble> ask_panel(const PanelPlace& panel, const std::string& path,
                                            const std::optional<std::string>& body) {
  auto answer = io::call_panel({.url = panel.url, .path = path, .body = body, .token = panel.token});
  if (!answer) return Failure{PanelTrouble{kSurroundingsFailed, answer.error()}};
  if (answer->status == 200) return std::move(answer).value().body;
  if (answer->status == 401 && panel.token.empty())
    return Failure{PanelTrouble{
        kInputUnusable,
        panel.url + ": a token is needed; expected --token-file FILE with it in the first line"}};
  const auto line = error_in(answer->body);
  if (answer->status == 422 || answer->status == 400) return Failure{PanelTrouble{kInputUnusable, line}};
  const bool ours =
      answer->status == 401 || answer->status == 403;  // a token that is missing, wrong, or the class's
  return Failure{PanelTrouble{ours ? kInputUnusable : kSurroundingsFailed, panel.url + ": " + line}};
}

}  // namespace emberline::cli

#include <filesystem>
#include <system_error>

#include "sim/io/report/json_text.hpp"
#include "sim/io/report/report.hpp"

namespace emberline::io {
namespace {

/// Whoever reads it may stand in another folder.
std::string whole(const std::string& path) {
  std::error_code error;
  auto place = std::filesystem::absolute(path, error);
  return error ? path : place.string();
}

}  // namespace

std::string ready_json(const std::vector<OpenLine>& lines, const std::optional<std::string>& control,
                       const std::optional<std::string>& panel) {
  JsonText json;
  json.object().key("format").text("emberline-ready-1").key("lines").object();
  for (const auto& line : lines) {
    json.key(line.name).object().key("kind").text(bench::to_word(line.kind));
    if (line.kind == bench::LineKind::pty || line.kind == bench::LineKind::serial_port) {
      json.key("path").text(whole(line.path));
    } else {
      json.key("host").text(line.host).key("port").whole(line.port);
    }
    json.end_object();
  }
  json.end_object().key("control");
  json.text_or_null(control ? std::optional(whole(*control)) : std::nullopt)
      .key("panel")
      .text_or_null(panel)
      .end_object();
  return std::move(json).finished() + "\n";
}

}  // namespace emberline::io

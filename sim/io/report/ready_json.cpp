#include "sim/io/report/json_text.hpp"
#include "sim/io/report/report.hpp"

namespace emberline::io {

std::string ready_json(const std::vector<OpenLine>& lines, const std::optional<std::string>& control) {
  JsonText json;
  json.object().key("lines").object();
  for (const auto& line : lines) {
    json.key(line.name).object().key("kind").text(bench::to_word(line.kind));
    if (line.kind == bench::LineKind::pty || line.kind == bench::LineKind::serial_port) {
      json.key("path").text(line.path);
    } else {
      json.key("host").text(line.host).key("port").whole(line.port);
    }
    json.end_object();
  }
  json.end_object().key("control");
  if (control) {
    json.text(*control);
  } else {
    json.null();
  }
  json.key("panel").null().end_object();
  return std::move(json).finished() + "\n";
}

}  // namespace emberline::io

#pragma once

#include <cstddef>
#include <map>
#include <string>
#include <string_view>

#include "sim/base/result.hpp"
#include "sim/io/panel/access.hpp"

namespace emberline::io {

/// What a request line asks for.
struct Target {
  std::string path;                          ///< "/api/waves/soak-heater"
  std::map<std::string, std::string> query;  ///< decoded
};

/// Takes a target apart (RFC 9112, 3.2.1: origin form). In a path nothing but letters of other scripts may be
/// percent-encoded, so that each path is written in one way only: what is encoded otherwise, "..", "//" and
/// backslashes lead nowhere (404).
/// What is no UTF-8 when decoded is refused (400), so that whoever repeats it in an answer answers with text.
[[nodiscard]] Result<Target, Refusal> parse_target(std::string_view target);

/// The head of an answer, with all that every answer of the panel carries.
struct AnswerHead {
  int status = 200;
  std::string_view type = "application/json";
  std::size_t length = 0;  ///< of the body
  bool keep_alive = true;
  std::string file_name{};   ///< not empty: to be saved under this name
  std::string set_cookie{};  ///< not empty: this cookie
};
[[nodiscard]] std::string to_text(const AnswerHead& head);

/// {"error":"..."}
[[nodiscard]] std::string error_json(std::string_view error);

}  // namespace emberline::io

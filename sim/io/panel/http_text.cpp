#include "sim/io/panel/http_text.hpp"

#include <algorithm>
#include <optional>
#include <utility>

#include "sim/base/plain_text.hpp"
#include "sim/base/utf8.hpp"
#include "sim/io/panel/panel_limits.hpp"
#include "sim/io/report/json_text.hpp"

namespace emberline::io {
namespace {

int hex_digit(char character) {
  if (character >= '0' && character <= '9') return character - '0';
  if (character >= 'a' && character <= 'f') return character - 'a' + 10;
  if (character >= 'A' && character <= 'F') return character - 'A' + 10;
  return -1;
}

/// The text with what is percent-encoded decoded; nothing if a '%' begins no such thing.
std::optional<std::string> decoded(std::string_view text, bool plus_is_blank) {
  std::string result;
  for (std::size_t i = 0; i < text.size(); ++i) {
    if (text[i] == '+' && plus_is_blank) {
      result += ' ';
    } else if (text[i] != '%') {
      result += text[i];
    } else {
      if (i + 2 >= text.size()) return std::nullopt;
      const int high = hex_digit(text[i + 1]);
      const int low = hex_digit(text[i + 2]);
      if (high < 0 || low < 0) return std::nullopt;
      result += static_cast<char>(high * 16 + low);
      i += 2;
    }
  }
  return result;
}

bool has_controls(std::string_view text) { return std::any_of(text.begin(), text.end(), is_control); }

bool written_plainly(std::string_view path) {
  constexpr std::string_view kPlain = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789/-_.~()";
  for (std::size_t i = 0; i < path.size(); ++i) {
    if (kPlain.find(path[i]) != std::string_view::npos) continue;
    if (path[i] != '%' || i + 2 >= path.size() || hex_digit(path[i + 1]) < 8 || hex_digit(path[i + 2]) < 0)
      return false;
    i += 2;
  }
  return path.starts_with('/') && path.find("//") == std::string_view::npos &&
         path.find("..") == std::string_view::npos && path.find("/.") == std::string_view::npos;
}

Failure<Refusal> unusable_query() {
  return Failure{Refusal{400, "the query cannot be understood; expected '?key=value&key=value'"}};
}

std::string_view reason(int status) {
  switch (status) {
    case 200:
      return "OK";
    case 204:
      return "No Content";
    case 400:
      return "Bad Request";
    case 401:
      return "Unauthorized";
    case 403:
      return "Forbidden";
    case 404:
      return "Not Found";
    case 405:
      return "Method Not Allowed";
    case 408:
      return "Request Timeout";
    case 413:
      return "Content Too Large";
    case 414:
      return "URI Too Long";
    case 415:
      return "Unsupported Media Type";
    case 422:
      return "Unprocessable Content";
    case 426:
      return "Upgrade Required";
    case 429:
      return "Too Many Requests";
    case 431:
      return "Request Header Fields Too Large";
    case 503:
      return "Service Unavailable";
    default:
      return "Answer";
  }
}

/// A name that may stand between quotation marks in a header.
std::string quotable(std::string name) {
  for (char& character : name)
    if (character == '"' || character == '\\' || has_controls({&character, 1}) || (character & 0x80) != 0)
      character = '_';
  return name;
}

}  // namespace

Result<Target, Refusal> parse_target(std::string_view target) {
  if (target.size() > kLongestTarget)
    return Failure{
        Refusal{414, "path and query are longer than " + std::to_string(kLongestTarget) + " bytes"}};
  const auto mark = std::min(target.find('?'), target.size());
  Target result;
  const auto path = target.substr(0, mark);
  if (!written_plainly(path)) return Failure{Refusal{404, "there is nothing at this path"}};
  result.path = decoded(path, false).value_or("");
  if (first_not_utf8(result.path)) return Failure{Refusal{400, "the path is no text; expected UTF-8"}};
  auto rest = target.substr(std::min(mark + 1, target.size()));
  while (!rest.empty()) {
    const auto end = std::min(rest.find('&'), rest.size());
    const auto pair = rest.substr(0, end);
    rest.remove_prefix(std::min(end + 1, rest.size()));
    if (pair.empty()) continue;
    const auto equals = std::min(pair.find('='), pair.size());
    auto key = decoded(pair.substr(0, equals), true);
    auto value = decoded(pair.substr(std::min(equals + 1, pair.size())), true);
    if (key && value && (first_not_utf8(*key) || first_not_utf8(*value)))
      return Failure{Refusal{400, "the query is no text; expected UTF-8"}};
    if (!key || !value || key->empty() || has_controls(*key) || has_controls(*value)) return unusable_query();
    if (result.query.size() >= kMostQueryKeys || !result.query.emplace(*key, *value).second)
      return unusable_query();
  }
  return result;
}

std::string to_text(const AnswerHead& head) {
  std::string text =
      "HTTP/1.1 " + std::to_string(head.status) + " " + std::string(reason(head.status)) + "\r\n";
  text += "Server: emberline\r\n";
  if (head.status != 204) {
    text += "Content-Type: " + std::string(head.type) + "\r\n";
    text += "Content-Length: " + std::to_string(head.length) + "\r\n";
  }
  // A page of another site can neither frame this one nor read from it; nothing is loaded from elsewhere.
  text +=
      "Content-Security-Policy: default-src 'self'; base-uri 'none'; form-action 'self'; frame-ancestors "
      "'none'\r\n"
      "Cross-Origin-Resource-Policy: same-origin\r\n"
      "X-Content-Type-Options: nosniff\r\n"
      "Referrer-Policy: no-referrer\r\n"
      "Cache-Control: no-store\r\n";
  if (head.status == 401) text += "WWW-Authenticate: Bearer\r\n";
  if (head.status == 405) text += "Allow: GET, HEAD, POST\r\n";
  if (head.status == 426) text += "Upgrade: websocket\r\nSec-WebSocket-Version: 13\r\n";
  if (head.status == 429 || head.status == 503) text += "Retry-After: 1\r\n";
  if (!head.file_name.empty())
    text += "Content-Disposition: attachment; filename=\"" + quotable(head.file_name) + "\"\r\n";
  if (!head.set_cookie.empty()) text += "Set-Cookie: " + head.set_cookie + "\r\n";
  text += head.keep_alive ? "Connection: keep-alive\r\n\r\n" : "Connection: close\r\n\r\n";
  return text;
}

std::string error_json(std::string_view error) {
  JsonText json;
  json.object().key("error").text(error).end_object();
  return std::move(json).finished();
}

}  // namespace emberline::io

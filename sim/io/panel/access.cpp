#include "sim/io/panel/access.hpp"

#include <algorithm>
#include <utility>

#include "sim/io/panel/panel_limits.hpp"
#include "sim/io/panel/session_id.hpp"
#include "sim/io/report/json_find.hpp"

namespace emberline::io {
namespace {

constexpr std::string_view kBearer = "bearer ";

char lower(char character) {
  return character >= 'A' && character <= 'Z' ? static_cast<char>(character - 'A' + 'a') : character;
}

std::string lower(std::string_view text) {
  std::string result(text);
  for (char& character : result) character = lower(character);
  return result;
}

bool same_but_for_case(std::string_view one, std::string_view other) {
  return std::equal(one.begin(), one.end(), other.begin(), other.end(),
                    [](char a, char b) { return lower(a) == lower(b); });
}

std::string_view trimmed(std::string_view text) {
  constexpr std::string_view kBlank = " \t";
  const auto first = text.find_first_not_of(kBlank);
  if (first == std::string_view::npos) return {};
  return text.substr(first, text.find_last_not_of(kBlank) - first + 1);
}

std::string_view without_brackets(std::string_view host) {
  if (host.starts_with('[') && host.ends_with(']')) return host.substr(1, host.size() - 2);
  return host;
}

bool digits_only(std::string_view text) {
  return text.find_first_not_of("0123456789") == std::string_view::npos;
}

/// The name in a Host header: "oven.example" of "oven.example:8710"; nothing if it is no such text (RFC
/// 9110, 7.2).
std::optional<std::string_view> host_name(std::string_view header) {
  const auto end = header.starts_with('[') ? header.find(']') : header.find(':');
  if (header.starts_with('[') && end == std::string_view::npos) return std::nullopt;
  const auto length = header.starts_with('[') ? end + 1 : std::min(end, header.size());
  const auto name = header.substr(0, length);
  const auto rest = header.substr(length);
  if (name.empty() || name.find_first_of(" \t/\\@?#,") != std::string_view::npos) return std::nullopt;
  if (!rest.empty() && (rest.front() != ':' || !digits_only(rest.substr(1)))) return std::nullopt;
  return without_brackets(name);
}

/// The token of "Authorization: Bearer TOKEN"; nothing if it says something else.
std::optional<std::string_view> bearer_token(std::string_view authorization) {
  if (authorization.size() <= kBearer.size() ||
      !same_but_for_case(authorization.substr(0, kBearer.size()), kBearer))
    return std::nullopt;
  return trimmed(authorization.substr(kBearer.size()));
}

/// "application/json", with or without parameters behind it.
bool is_json(std::string_view content_type) {
  return same_but_for_case(trimmed(content_type.substr(0, content_type.find(';'))), "application/json");
}

/// What other sites' pages must not even read: all but the page's own files, which hold nothing of the bench.
bool belongs_to_bench(std::string_view path) { return path.starts_with("/api/") || path == "/metrics"; }

Refusal foreign(const std::string& what) {
  return {403, what + "; expected the panel's own page, or a program that is no browser"};
}

}  // namespace

bool is_loopback(std::string_view host) {
  const auto name = lower(without_brackets(host));
  if (name == "localhost" || name == "::1") return true;
  // A name such as 127.example is none: only digits and dots may follow.
  return name.starts_with("127.") && name.find_first_not_of("0123456789.") == std::string::npos &&
         std::count(name.begin(), name.end(), '.') == 3;
}

bool same_token(std::string_view given, std::string_view right) {
  auto different = static_cast<unsigned>(given.size() != right.size());
  for (std::size_t i = 0; i < given.size(); ++i) {
    const auto other = right.empty() ? '\0' : right[i % right.size()];
    different |=
        static_cast<unsigned>(static_cast<unsigned char>(given[i]) ^ static_cast<unsigned char>(other));
  }
  return different == 0 && !right.empty();
}

// A cookie is every port's of a host: two panels on one machine must not take each other's.
Access::Access(PanelAddress address, std::uint16_t port)
    : address_(std::move(address)),
      cookie_name_("emberline_" + std::to_string(port)),
      wrong_tokens_(kTokenTriesPerSecond) {}

bool Access::known_host(std::string_view name, const std::string& arrived_at) const {
  // Whoever rebinds a name to our address still sends that name. An address cannot be rebound.
  if (is_loopback(name) || same_but_for_case(name, without_brackets(address_.host))) return true;
  if (same_but_for_case(name, arrived_at)) return true;
  return std::any_of(address_.names.begin(), address_.names.end(),
                     [name](const std::string& allowed) { return same_but_for_case(name, allowed); });
}

std::optional<Refusal> Access::refused(const Visit& visit) const {
  const auto name = host_name(visit.host);
  if (!name) return Refusal{400, "no usable Host header; expected one such as 'Host: 127.0.0.1:8710'"};
  if (!known_host(*name, visit.arrived_at))
    return Refusal{403,
                   "this panel is not known under the name that was asked for; expected its address, or a "
                   "name given with --panel-name"};
  if (visit.origin && !same_but_for_case(*visit.origin, "http://" + visit.host) &&
      !same_but_for_case(*visit.origin, "https://" + visit.host))
    return foreign("asked by a page of another site");
  if (visit.fetch_site && belongs_to_bench(visit.path) && *visit.fetch_site != "same-origin" &&
      *visit.fetch_site != "none")
    return foreign("asked by a page of another site");
  if (visit.method != "GET" && visit.method != "HEAD" && visit.method != "POST")
    return Refusal{405, "expected GET, HEAD or POST"};
  if (visit.method == "POST" && !is_json(visit.content_type))
    return Refusal{415, "expected 'Content-Type: application/json'"};
  return std::nullopt;
}

std::optional<Role> Access::role_of_token(std::string_view token) const {
  const bool trainer = same_token(token, address_.trainer_token);
  const bool watcher = same_token(token, address_.watcher_token);
  if (trainer) return Role::trainer;
  if (watcher) return Role::watcher;
  return std::nullopt;
}

Result<Role, Refusal> Access::role_by_token(std::string_view token, Instant now) {
  if (const auto role = role_of_token(token)) return *role;
  // Only wrong ones are counted: whoever shows many of them must not lock those out who have the right one.
  // That guessing is hopeless is due to a token's length.
  if (!wrong_tokens_.take(now)) return Failure{Refusal{429, "too many wrong tokens; try again in a second"}};
  return Failure{Refusal{401, "wrong token; expected one from the file given with --panel-token"}};
}

std::optional<Role> Access::role_by_cookie(std::string_view cookies) const {
  while (!cookies.empty()) {
    const auto end = std::min(cookies.find(';'), cookies.size());
    const auto pair = trimmed(cookies.substr(0, end));
    cookies.remove_prefix(std::min(end + 1, cookies.size()));
    const auto equals = pair.find('=');
    if (equals == std::string_view::npos || pair.substr(0, equals) != cookie_name_) continue;
    for (const auto role : {Role::trainer, Role::watcher})
      for (const auto& id : sessions_[role])
        if (same_token(pair.substr(equals + 1), id)) return role;
  }
  return std::nullopt;
}

bool Access::is_known(const Visit& visit) const {
  if (!token_needed()) return true;
  const auto token = bearer_token(visit.authorization);
  return token ? role_of_token(*token).has_value() : role_by_cookie(visit.cookie).has_value();
}

Result<Role, Refusal> Access::role_of(const Visit& visit, Instant now) {
  auto role = Role::trainer;
  if (token_needed()) {
    if (const auto token = bearer_token(visit.authorization)) {
      const auto shown = role_by_token(*token, now);
      if (!shown) return Failure{shown.error()};
      role = *shown;
    } else if (const auto known = role_by_cookie(visit.cookie)) {
      role = *known;
    } else {
      return Failure{Refusal{
          401,
          "a token is needed; expected 'Authorization: Bearer TOKEN', or a session begun at /api/session"}};
    }
  }
  if (visit.as_class) role = Role::watcher;
  if (role == Role::watcher && visit.method == "POST")
    return Failure{Refusal{403, "watchers may look, and do nothing; expected the trainer's token and page"}};
  return role;
}

Result<std::string, Refusal> Access::begin_session(const std::string& body, Instant now) {
  if (!token_needed()) return std::string();
  const auto json = parse_json(body);
  const auto token = find_text(find_member(&json, "token"));
  if (!token) return Failure{Refusal{400, R"(expected {"token":"..."})"}};
  const auto role = role_by_token(*token, now);
  if (!role) return Failure{role.error()};
  return cookie_name_ + "=" + sessions_.begin(*role) + "; Path=/; HttpOnly; SameSite=Strict";
}

const std::string& Access::Sessions::begin(Role role) {
  auto& ids = role == Role::trainer ? of_trainers_ : of_watchers_;
  if (ids.size() >= kMostSessions) ids.pop_front();
  ids.push_back(new_session_id());
  return ids.back();
}

}  // namespace emberline::io

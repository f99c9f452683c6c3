#include <algorithm>
#include <charconv>
#include <string>
#include <string_view>

#include "sim/io/files/bench_parts.hpp"
#include "sim/io/files/fields.hpp"
#include "sim/io/files/values.hpp"
#include "sim/modbus/identity.hpp"

namespace emberline::io {
namespace {

constexpr std::string_view kIdentityExample = "{ product_code: hall-heater, revision: '2.1' }";
constexpr std::string_view kPrivateExample = "private objects such as { 0x80: hall 2 }";

/// Only what the standard's ASCII strings can carry.
bool is_printable(const std::string& text) {
  return std::all_of(text.begin(), text.end(), [](char c) { return c >= ' ' && c <= '~'; });
}

void read_object(const Node* node, std::uint8_t id, modbus::Identity& identity, Problems& problems) {
  std::string text;
  if (!read_text(node, text, problems)) return;
  if (!is_printable(text)) {
    complain(problems, node->place, label_of(*node) + "expected plain ASCII characters, found others");
  } else if (text.size() > modbus::kObjectTextMax) {
    complain(problems, node->place,
             label_of(*node) + "has " + std::to_string(text.size()) + " characters; an answer holds " +
                 std::to_string(modbus::kObjectTextMax));
  } else {
    identity.objects[id] = text;
  }
}

/// 0x80 to 0xFF, decimal or hexadecimal.
std::optional<std::uint8_t> private_id(const Node& entry, Problems& problems) {
  const std::string& text = entry.label;
  const bool hex = text.starts_with("0x") || text.starts_with("0X");
  const char* begin = text.data() + (hex ? 2 : 0);
  const char* end = text.data() + text.size();
  unsigned id = 0;
  const auto [rest, error] = std::from_chars(begin, end, id, hex ? 16 : 10);
  if (error == std::errc{} && rest == end && id >= modbus::kFirstPrivateObject && id <= 0xFF)
    return static_cast<std::uint8_t>(id);
  complain(problems, entry.header, "expected an object id from 0x80 to 0xFF, found '" + text + "'");
  return std::nullopt;
}

void read_private_objects(const Node* section, modbus::Identity& identity, Problems& problems) {
  if (section == nullptr) return;
  if (section->kind != Node::Kind::mapping) {
    complain_kind(*section, kPrivateExample, problems);
    return;
  }
  for (const auto& entry : section->entries) {
    const auto id = private_id(entry, problems);
    if (!id) continue;
    if (identity.objects.contains(*id)) {
      complain(problems, entry.header, "object " + entry.label + " stands twice");
      continue;
    }
    read_object(&entry, *id, identity, problems);
  }
}

}  // namespace

void read_identity(const Node* node, modbus::Identity& identity, Problems& problems) {
  if (node == nullptr) return;
  Fields fields(*node, kIdentityExample, problems);
  read_object(fields.optional("vendor_name"), modbus::kVendorName, identity, problems);
  read_object(fields.optional("product_code"), modbus::kProductCode, identity, problems);
  read_object(fields.optional("revision"), modbus::kMajorMinorRevision, identity, problems);
  read_object(fields.optional("vendor_url"), modbus::kVendorUrl, identity, problems);
  read_object(fields.optional("product_name"), modbus::kProductName, identity, problems);
  read_object(fields.optional("model_name"), modbus::kModelName, identity, problems);
  read_object(fields.optional("application_name"), modbus::kUserApplicationName, identity, problems);
  read_private_objects(fields.optional("private"), identity, problems);
  fields.done();
}

}  // namespace emberline::io

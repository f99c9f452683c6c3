#include "sim/modbus/identity.hpp"

#include <algorithm>
#include <cassert>
#include <utility>

#include "sim/modbus/pdu.hpp"

namespace emberline::modbus {
namespace {

constexpr std::uint8_t kMeiType = 0x0E;
constexpr std::size_t kRequestLength = 4;

// ReadDevId codes.
constexpr std::uint8_t kBasic = 0x01;
constexpr std::uint8_t kRegular = 0x02;
constexpr std::uint8_t kExtended = 0x03;
constexpr std::uint8_t kOneObject = 0x04;

using Object = std::pair<const std::uint8_t, std::string>;

/// The highest object id of a level.
std::uint8_t last_of(std::uint8_t level) {
  if (level == kBasic) return kMajorMinorRevision;
  return level == kRegular ? std::uint8_t{kFirstPrivateObject - 1} : std::uint8_t{0xFF};
}

void append(Bytes& pdu, const Object& object) {
  pdu.push_back(object.first);
  pdu.push_back(static_cast<std::uint8_t>(object.second.size()));
  pdu.insert(pdu.end(), object.second.begin(), object.second.end());
}

// Where the fields of the answer stand.
constexpr std::size_t kMoreFollows = 4;
constexpr std::size_t kNextObject = 5;
constexpr std::size_t kObjectCount = 6;

Bytes head(std::uint8_t read_code, const Identity& identity) {
  return {static_cast<std::uint8_t>(Function::encapsulated_interface),
          kMeiType,
          read_code,
          conformity_level(identity),
          0,
          0,
          0};
}

Bytes stream(std::uint8_t level, std::uint8_t first, const Identity& identity) {
  const auto end = identity.objects.upper_bound(last_of(level));
  auto object = identity.objects.find(first);
  if (object == identity.objects.end() || object->first > last_of(level)) object = identity.objects.begin();
  auto pdu = head(level, identity);
  for (; object != end; ++object) {
    if (pdu.size() + 2 + object->second.size() > kPduMax) {
      pdu[kMoreFollows] = 0xFF;
      pdu[kNextObject] = object->first;
      break;
    }
    append(pdu, *object);
    ++pdu[kObjectCount];
  }
  return pdu;
}

}  // namespace

Identity basic_identity(std::string vendor_name, std::string product_code, std::string revision) {
  return {{{kVendorName, std::move(vendor_name)},
           {kProductCode, std::move(product_code)},
           {kMajorMinorRevision, std::move(revision)}}};
}

std::uint8_t conformity_level(const Identity& identity) {
  assert(!identity.objects.empty());
  constexpr unsigned kIndividualAccess = 0x80;
  const auto highest = identity.objects.rbegin()->first;
  unsigned level = kExtended;
  if (highest <= last_of(kRegular)) level = kRegular;
  if (highest <= last_of(kBasic)) level = kBasic;
  return static_cast<std::uint8_t>(kIndividualAccess | level);
}

Bytes answer_identification(ByteView pdu, const Identity& identity) {
  if (pdu.size() < 2) return exception_pdu(pdu[0], Refusal::illegal_data_value);  // which MEI type?
  if (pdu[1] != kMeiType) return exception_pdu(pdu[0], Refusal::illegal_function);
  if (pdu.size() != kRequestLength) return exception_pdu(pdu[0], Refusal::illegal_data_value);
  const auto read_code = pdu[2];
  const auto first = pdu[3];
  if (read_code >= kBasic && read_code <= kExtended) return stream(read_code, first, identity);
  const auto object = identity.objects.find(first);
  if (object == identity.objects.end()) return exception_pdu(pdu[0], Refusal::illegal_data_address);
  if (read_code != kOneObject) return exception_pdu(pdu[0], Refusal::illegal_data_value);
  auto reply = head(read_code, identity);
  append(reply, *object);
  reply[kObjectCount] = 1;
  return reply;
}

Bytes answer_server_id(ByteView pdu, std::uint8_t unit_id, bool running, const Identity& identity) {
  if (pdu.size() != 1) return exception_pdu(pdu[0], Refusal::illegal_data_value);
  std::string text;
  for (const auto id : {kVendorName, kProductCode, kMajorMinorRevision}) {
    if (!text.empty()) text += ' ';
    text += identity.objects.at(id);
  }
  constexpr std::size_t kBefore = 4;  // function code, byte count, server id, run indicator
  text.resize(std::min(text.size(), kPduMax - kBefore));
  Bytes reply{pdu[0], static_cast<std::uint8_t>(2 + text.size()), unit_id,
              static_cast<std::uint8_t>(running ? 0xFF : 0x00)};
  reply.insert(reply.end(), text.begin(), text.end());
  return reply;
}

}  // namespace emberline::modbus

#include "sim/io/panel/frame_words.hpp"

#include <algorithm>

#include "sim/io/panel/pdu_cursor.hpp"
#include "sim/io/panel/pdu_words.hpp"
#include "sim/modbus/crc.hpp"
#include "sim/modbus/mbap_framer.hpp"

namespace emberline::io {
namespace {

using modbus::ByteView;

constexpr std::size_t kMbapSize = 7;
constexpr std::size_t kCrcSize = 2;
constexpr std::size_t kRtuLeast = 4;
constexpr std::size_t kRtuMost = 256;

/// The PDU in a whole frame; empty if there is none.
ByteView pdu_of(ByteView frame, bool rtu) {
  if (rtu) return frame.size() < kRtuLeast ? ByteView{} : frame.subspan(1, frame.size() - 1 - kCrcSize);
  return frame.size() <= kMbapSize ? ByteView{} : frame.subspan(kMbapSize);
}

SlaveView take_id(PduCursor& cursor, const bench::BenchSpec& spec, const FrameToRead& frame,
                  FrameWords& words) {
  const auto id = cursor.byte("unit id");
  words.unit_id = id;
  const auto slave = slave_view(spec, frame.line, id);
  const bool somebody = !slave.everybody && (slave.unit != nullptr || slave.block != nullptr);
  if (somebody) words.slave = slave.name();
  cursor.means(std::to_string(id) + ", " +
               (slave.everybody ? "everybody (broadcast)"
                : somebody      ? slave.name()
                                : "nobody on this line"));
  return slave;
}

void read_pdu(const SlaveView& slave, const FrameToRead& frame, ByteView pdu, bool rtu, FrameWords& words) {
  if (frame.to_units)
    read_request_pdu(slave, pdu, words);
  else
    read_answer_pdu(slave, pdu, pdu_of(frame.request, rtu), words);
}

/// Bytes of which nothing can be said but that they came.
FrameWords rubbish(ByteView bytes, const std::string& trouble) {
  FrameWords words;
  words.says =
      std::to_string(bytes.size()) + (bytes.size() == 1 ? " byte that is" : " bytes that are") + " no frame";
  words.trouble = trouble;
  if (!bytes.empty()) words.fields.push_back({hex_text(bytes), "bytes", "no frame"});
  return words;
}

FrameWords read_rtu(const bench::BenchSpec& spec, const FrameToRead& frame) {
  const ByteView bytes = frame.bytes;
  if (bytes.size() < kRtuLeast) return rubbish(bytes, "broken: shorter than any frame");
  if (bytes.size() > kRtuMost) return rubbish(bytes, "broken: longer than any frame");
  const auto body = bytes.first(bytes.size() - kCrcSize);
  const auto crc = bytes.last(kCrcSize);
  const auto right = modbus::crc16(body);
  const auto came = static_cast<std::uint16_t>(crc[0] | crc[1] << 8U);
  FrameWords words;
  if (right != came) {
    words = rubbish(body, "broken: the CRC is wrong");
    const std::uint8_t expected[] = {static_cast<std::uint8_t>(right & 0xFFU),
                                     static_cast<std::uint8_t>(right >> 8U)};
    words.fields.push_back({hex_text(crc), "CRC", "wrong; these bytes would need " + hex_text(expected)});
    words.says = std::to_string(bytes.size()) + " bytes whose CRC is wrong: whoever gets them lets them pass";
    return words;
  }
  PduCursor cursor(body, words);
  const auto slave = take_id(cursor, spec, frame, words);
  read_pdu(slave, frame, cursor.left(), true, words);
  words.fields.push_back({hex_text(crc), "CRC", "good"});
  if (frame.broken && !words.trouble) words.trouble = "broken: torn by a silence";
  return words;
}

FrameWords read_mbap(const bench::BenchSpec& spec, const FrameToRead& frame) {
  FrameWords words;
  if (frame.bytes.size() <= kMbapSize)
    return rubbish(frame.bytes,
                   frame.broken ? "broken: no header that can be followed" : "broken: ends in the middle");
  PduCursor cursor(frame.bytes, words);
  (void)cursor.word("transaction");
  const auto protocol = cursor.word("protocol");
  cursor.means(protocol == 0 ? "0, Modbus" : std::to_string(protocol) + ", not Modbus");
  const auto length = cursor.word("length");
  cursor.means(std::to_string(length) + " bytes follow");
  if (protocol != 0) {
    cursor.rest("bytes");
    words.says = "a frame of another protocol: it is passed over";
    words.trouble = "broken: its header does not say Modbus";
    return words;
  }
  if (modbus::mbap_adu_size(frame.bytes) == std::size_t{0}) {
    cursor.rest("bytes");
    words.says = "bytes behind a length that no frame has";
    words.trouble =
        "broken: its header tells a length that cannot be, the stream cannot be followed any more";
    return words;
  }
  // With one that is broken comes what stood behind it.
  const auto own =
      frame.broken ? cursor.left().first(std::min<std::size_t>(cursor.left().size(), length)) : cursor.left();
  const auto behind = cursor.left().subspan(own.size());
  const bool fits = own.size() == length;
  PduCursor inner(own, words);
  const auto slave = take_id(inner, spec, frame, words);
  read_pdu(slave, frame, inner.left(), false, words);
  if (!behind.empty()) words.fields.push_back({hex_text(behind), "behind it", "not looked at"});
  if (!fits && !words.trouble) words.trouble = "broken: its header tells another length";
  if (frame.broken && !words.trouble)
    words.trouble = "broken: its length contradicts its function, the stream cannot be followed any more";
  return words;
}

}  // namespace

std::string hex_text(ByteView bytes) {
  constexpr const char* kDigits = "0123456789ABCDEF";
  std::string text;
  text.reserve(bytes.size() * 3);
  for (const auto byte : bytes) {
    if (!text.empty()) text += ' ';
    text += kDigits[byte >> 4U];
    text += kDigits[byte & 15U];
  }
  return text;
}

FrameWords words_of(const bench::BenchSpec& spec, const FrameToRead& frame) {
  FrameWords words =
      bench::carries_rtu(spec.lines.at(frame.line).kind) ? read_rtu(spec, frame) : read_mbap(spec, frame);
  if (words.says.empty()) words.says = "a frame that ends in the middle";
  return words;
}

}  // namespace emberline::io

// A TCP stream to the MBAP framer. An input is a byte with the size of pieces, then the stream.
#include "sim/modbus/mbap_framer.hpp"

#include <algorithm>
#include <string>
#include <vector>

#include "tests/fuzz/fuzz.hpp"
#include "tests/sim/modbus/outcomes.hpp"

using namespace emberline;
using fuzz::must;

namespace {

using Outcomes = std::vector<modbus::MbapFramer::Outcome>;

Outcomes run(modbus::ByteView stream, std::size_t piece) {
  modbus::MbapFramer framer;
  Outcomes outcomes;
  bool lost = false;
  while (!stream.empty()) {
    const auto bytes = stream.first(std::min(piece, stream.size()));
    stream = stream.subspan(bytes.size());
    framer.receive(bytes);
    while (auto outcome = framer.poll()) {
      must(!lost, "nothing follows a length that cannot be");
      const auto* fault = std::get_if<modbus::MbapFault>(&*outcome);
      lost = fault != nullptr && fault->kind == modbus::MbapFault::Kind::bad_length;
      outcomes.push_back(std::move(*outcome));
    }
    must(framer.lost() == lost, "a stream is lost when it says so");
  }
  return outcomes;
}

std::vector<std::string> texts_of(const Outcomes& outcomes) {
  std::vector<std::string> texts;
  for (const auto& outcome : outcomes) texts.push_back(test::to_text(outcome));
  return texts;
}

/// The stream told once more, with all of it there: every ADU stands where the lengths before it say.
void check_places(modbus::ByteView stream, const Outcomes& outcomes) {
  std::size_t index = 0;
  for (const auto& outcome : outcomes) {
    must(stream.size() >= index + 6, "an outcome has a header");
    const std::size_t length = stream[index + 4] * std::size_t{256} + stream[index + 5];
    const bool ours = stream[index + 2] == 0 && stream[index + 3] == 0;
    if (const auto* request = std::get_if<modbus::MbapRequest>(&outcome)) {
      must(!request->pdu.empty() && request->pdu.size() <= modbus::kPduMax, "a request holds a PDU");
      const auto frame = modbus::mbap_frame(request->transaction, request->unit, request->pdu);
      must(frame.size() == 6 + length && stream.size() >= index + frame.size() &&
               std::equal(frame.begin(), frame.end(), stream.begin() + static_cast<std::ptrdiff_t>(index)),
           "a request stands in the stream as it came");
    } else {
      const auto& fault = std::get<modbus::MbapFault>(outcome);
      must(fault.bytes.size() <= 260 && stream.size() >= index + fault.bytes.size() &&
               std::equal(fault.bytes.begin(), fault.bytes.end(),
                          stream.begin() + static_cast<std::ptrdiff_t>(index)),
           "what is no request stands in the stream as it is shown");
      if (fault.kind == modbus::MbapFault::Kind::wrong_protocol) {
        must(!ours, "only another protocol is passed over");
        must(fault.bytes.size() == 6 + length, "the whole of it is shown");
      } else {
        must(length < 2 || length > 254 || ours, "a length is bad by itself or by what stands behind it");
      }
    }
    index += 6 + length;
  }
}

}  // namespace

int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  fuzz::Input input(data, size);
  const std::size_t piece = 1 + input.byte() % 64U;
  const auto stream = input.rest();
  const auto outcomes = run(stream, stream.size() + 1);
  check_places(stream, outcomes);
  const auto texts = texts_of(outcomes);
  must(texts == texts_of(run(stream, 1)), "bytes may come one by one");
  must(texts == texts_of(run(stream, piece)), "segments may be cut anywhere");
  return 0;
}

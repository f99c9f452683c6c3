#include "sim/bench/retries.hpp"

#include <algorithm>

namespace emberline::bench {

void Retries::bytes(const BytesSeen& bytes) {
  const bool may_be_foreign =
      bytes.to_master && !bytes.bytes.empty() && spec_.lines.at(bytes.line).kind == LineKind::serial_port;
  if (may_be_foreign && !spec_.slave_on(bytes.line, bytes.bytes[0])) sessions_[bytes.session].answered = true;
}

bool Retries::request(const RequestSeen& request) {
  Session& session = sessions_[request.session];
  const modbus::ByteView before = session.asked;
  const bool same = before.size() == request.pdu.size() + 1 && before[0] == request.unit_id &&
                    std::equal(request.pdu.begin(), request.pdu.end(), before.begin() + 1);
  const bool again = same && !session.answered;
  session.asked.assign(1, request.unit_id);
  session.asked.insert(session.asked.end(), request.pdu.begin(), request.pdu.end());
  session.answered = carries_rtu(spec_.lines.at(request.line).kind) && request.unit_id == 0;
  return again;
}

void Retries::answer(const AnswerSeen& answer) {
  if (answer.late) return;
  if (const auto session = sessions_.find(answer.session); session != sessions_.end())
    session->second.answered = true;
}

}  // namespace emberline::bench

#include "sim/bench/retries.hpp"

#include <algorithm>

#include "sim/bench/master_name.hpp"

namespace emberline::bench {

void Retries::bytes(const BytesSeen& bytes) {
  const bool may_be_foreign =
      bytes.to_master && !bytes.bytes.empty() && spec_.lines.at(bytes.line).kind == LineKind::serial_port;
  if (may_be_foreign && !spec_.slave_on(bytes.line, bytes.bytes[0])) sessions_[bytes.session].answered = true;
}

bool Retries::request(const RequestSeen& request) {
  const auto [entry, is_new] = sessions_.try_emplace(request.session);
  Session& session = entry->second;
  if (over_tcp(spec_.lines.at(request.line).kind)) take_up(request, session, is_new);
  const modbus::ByteView before = session.asked;
  const bool same = before.size() == request.pdu.size() + 1 && before[0] == request.unit_id &&
                    std::equal(request.pdu.begin(), request.pdu.end(), before.begin() + 1);
  const bool again = same && !session.answered;
  session.asked.assign(1, request.unit_id);
  session.asked.insert(session.asked.end(), request.pdu.begin(), request.pdu.end());
  session.answered = carries_rtu(spec_.lines.at(request.line).kind) && request.unit_id == 0;
  return again;
}

/// On TCP: goes on where the same master left off in another session.
void Retries::take_up(const RequestSeen& request, Session& session, bool is_new) {
  if (session.latest == nullptr)
    session.latest =
        &latest_.try_emplace({request.line, std::string(without_port(request.master))}, request.session)
             .first->second;
  if (*session.latest == request.session) return;
  if (const auto before = sessions_.find(*session.latest); before != sessions_.end()) {
    if (is_new) {
      session.asked = before->second.asked;
      session.answered = before->second.answered;
    }
    if (before->second.ended) sessions_.erase(before);
  }
  *session.latest = request.session;
}

void Retries::session_ended(const SessionSeen& session) {
  const auto entry = sessions_.find(session.session);
  if (entry == sessions_.end()) return;
  const auto latest = latest_.find({session.line, std::string(without_port(session.master))});
  entry->second.ended = latest != latest_.end() && latest->second == session.session;
  if (!entry->second.ended) sessions_.erase(entry);
}

void Retries::answer(const AnswerSeen& answer) {
  if (answer.late) return;
  if (const auto session = sessions_.find(answer.session); session != sessions_.end())
    session->second.answered = true;
}

}  // namespace emberline::bench

#include "sim/rehearsal/judge_heard.hpp"

namespace emberline::rehearsal {

HeardAtOnce::Kept& HeardAtOnce::next() {
  if (size_ == kept_.size()) kept_.push_back(std::make_unique<Kept>());
  return *kept_[size_++];
}

void HeardAtOnce::add(const unit::WriteSeen& write) {
  auto& kept = next();
  kept.unit = write.unit;
  kept.master = write.master;
  kept.line = write.line;
  kept.item.is_write = true;
  kept.item.write = write;
  kept.item.write.unit = kept.unit;
  kept.item.write.master = kept.master;
  kept.item.write.line = kept.line;
}

void HeardAtOnce::add(const bench::RequestSeen& request, bool again) {
  auto& kept = next();
  kept.master = request.master;
  kept.pdu.assign(request.pdu.begin(), request.pdu.end());
  kept.answer.assign(request.answer.begin(), request.answer.end());
  kept.item.is_write = false;
  kept.item.again = again;
  kept.item.request = request;
  kept.item.request.master = kept.master;
  kept.item.request.pdu = kept.pdu;
  kept.item.request.answer = kept.answer;
}

}  // namespace emberline::rehearsal

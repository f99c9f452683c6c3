#pragma once

#include <cstddef>
#include <memory>
#include <string>
#include <vector>

#include "sim/bench/line_observer.hpp"
#include "sim/modbus/bytes.hpp"

namespace emberline::rehearsal {

/// The writes and requests of one instant, kept until it is over: only then it is known whose interval begins
/// or ends with it.
class HeardAtOnce {
 public:
  /// `item.write` or `item.request`; what it views lives until clear().
  struct Item {
    bool is_write = false;
    unit::WriteSeen write{};
    bench::RequestSeen request{};
    bool again = false;
    [[nodiscard]] SimTime at() const { return is_write ? write.at : request.at; }
  };
  void add(const unit::WriteSeen& write);
  void add(const bench::RequestSeen& request, bool again);
  [[nodiscard]] std::size_t size() const { return size_; }
  [[nodiscard]] const Item& operator[](std::size_t index) const { return kept_[index]->item; }
  void clear() { size_ = 0; }

 private:
  struct Kept {
    Item item;
    std::string unit;
    std::string master;
    std::string line;
    modbus::Bytes pdu;
    modbus::Bytes answer;
  };
  Kept& next();

  std::vector<std::unique_ptr<Kept>> kept_;  ///< used again and again; the first size_ of them stand
  std::size_t size_ = 0;
};

}  // namespace emberline::rehearsal

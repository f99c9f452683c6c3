#pragma once

#include <bitset>
#include <cstddef>
#include <string>
#include <vector>

#include "sim/bench/bench_spec.hpp"
#include "sim/bench/line_observer.hpp"

namespace emberline::rehearsal {

/// Knows the requests that are for one unit or io-block, over whichever of its lines.
class Slave {
 public:
  Slave(const bench::BenchSpec& bench, const std::string& name, const std::vector<std::string>& lines);
  [[nodiscard]] const std::string& name() const { return name_; }
  /// It is asked by its unit id, and would answer.
  [[nodiscard]] bool is_asked(const bench::RequestSeen& request) const {
    return lines_[request.line].ids[request.unit_id];
  }
  /// The same, or everybody on one of its lines is told.
  [[nodiscard]] bool is_reached(const bench::RequestSeen& request) const {
    return is_asked(request) || (request.unit_id == 0 && lines_[request.line].has_broadcasts);
  }

 private:
  struct Line {
    std::bitset<256> ids;  ///< that reach it
    bool has_broadcasts = false;
  };
  std::string name_;
  std::vector<Line> lines_;  ///< of the bench
};

[[nodiscard]] Slave slave_of_unit(const bench::BenchSpec& bench, std::size_t unit);
[[nodiscard]] Slave slave_of_io_block(const bench::BenchSpec& bench, std::size_t block);

}  // namespace emberline::rehearsal

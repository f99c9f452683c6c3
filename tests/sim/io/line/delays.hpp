#pragma once

#include <vector>

#include "sim/bench/impairment.hpp"

namespace emberline::test {

/// Puts answers off.
class Delays final : public bench::Impairment {
 public:
  explicit Delays(Duration by) : by_(by) {}
  void answer(const bench::Query& /*query*/, std::vector<bench::Piece>& pieces, Random& /*chance*/) override {
    for (bench::Piece& piece : pieces) {
      piece.due += by_;
    }
  }

 private:
  Duration by_;
};

}  // namespace emberline::test

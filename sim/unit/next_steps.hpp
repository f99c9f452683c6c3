#pragma once

#include <string>

namespace emberline::unit {

/// One of the things that have to happen, in their order, until a unit delivers again.
struct NextStep {
  std::string text;   ///< for people, an order: "Bring comms back: 1 feeding request (0 of 1 since the loss)"
  bool done = false;  ///< it has happened and still counts
};

}  // namespace emberline::unit

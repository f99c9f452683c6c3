#include "tests/interop/ngspice/places.hpp"

namespace emberline::spice {

std::string name_of(std::size_t load, std::size_t leg) {
  return std::to_string(load + 1) + "_" + std::to_string(leg + 1);
}

Ends ends_of(const plant::LoadParameters& load, std::size_t leg) {
  const int p = static_cast<int>(leg);
  if (load.connection == plant::Connection::open_delta || load.connection == plant::Connection::delta)
    return {p, (p + 1) % 3};
  if (load.connection != plant::Connection::single_phase) return {p, -1};
  switch (load.across) {
    case plant::Across::l1_n:
      return {0, -1};
    case plant::Across::l2_n:
      return {1, -1};
    case plant::Across::l3_n:
      return {2, -1};
    case plant::Across::l1_l2:
      return {0, 1};
    case plant::Across::l2_l3:
      return {1, 2};
    case plant::Across::l3_l1:
      return {2, 0};
  }
  return {0, -1};
}

std::string bus(int line) { return line < 0 ? "0" : "bus" + std::to_string(line + 1); }

std::pair<std::string, std::string> nodes_of(const plant::LoadParameters& load, std::size_t index,
                                             std::size_t leg) {
  const std::string here = "c" + name_of(index, leg);
  if (load.connection == plant::Connection::star_3_wire) return {here, "star" + std::to_string(index + 1)};
  if (load.connection == plant::Connection::delta) return {here, "c" + name_of(index, (leg + 1) % 3)};
  return {here, bus(ends_of(load, leg).minus)};
}

}  // namespace emberline::spice

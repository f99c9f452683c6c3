#pragma once

#include <memory>
#include <string>
#include <utility>

#include <doctest/doctest.h>

#include "sim/io/files/load.hpp"
#include "sim/polling/poll_wish.hpp"
#include "sim/rehearsal/target.hpp"

namespace emberline::testing {

/// The shipped bench of three units on one RTU line at 19200 bit/s, two of them with intake limits.
inline bench::BenchSpec lehr() {
  auto spec = io::load_bench(std::string(EMBERLINE_SOURCE_DIR) + "/config/benches/annealing-lehr.yaml");
  REQUIRE(spec);
  return std::move(spec).value();
}

inline polling::PollWish wish_for(bench::BenchSpec spec, const std::string& line) {
  polling::PollWish wish;
  wish.title = "Test polling";
  wish.line = spec.find_line(line).value();
  wish.bench = std::make_shared<const bench::BenchSpec>(std::move(spec));
  return wish;
}

/// A point of a unit, or an address of an io-block, by its name.
inline polling::Wanted want(const bench::BenchSpec& bench, const std::string& name, Duration every,
                            bool write = false) {
  const auto target = rehearsal::resolve_target(bench, name, write);
  CAPTURE(name);
  REQUIRE(target);
  polling::Wanted wanted;
  wanted.name = name;
  wanted.io_block = target->io_block;
  wanted.slave = target->slave;
  wanted.table = target->row.table;
  wanted.address = target->row.address;
  wanted.count = modbus::carries_bits(target->row.table) ? 1 : registers::register_count(target->row.layout);
  wanted.every = every;
  wanted.place = {"poll.yaml", 7, 3};
  return wanted;
}

}  // namespace emberline::testing

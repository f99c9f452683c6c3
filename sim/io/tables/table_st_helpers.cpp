#include "sim/io/tables/table_st_helpers.hpp"

#include <algorithm>
#include <array>
#include <cassert>

#include "sim/io/tables/table_st_helper_texts.hpp"

namespace emberline::io {
namespace {

std::array<std::span<const StHelper>, 2> all_helpers() {
  return {st_whole_number_helpers(), st_float_helpers()};
}

const StHelper& helper_of(std::string_view name) {
  for (const auto helpers : all_helpers())
    for (const auto& helper : helpers)
      if (helper.name == name) return helper;
  assert(false && "a helper that is not there");
  return st_float_helpers().front();
}

}  // namespace

std::string StHelpers::use(std::string_view name) {
  if (used_.insert(std::string(name)).second) {
    auto others = helper_of(name).uses;
    while (!others.empty()) {
      const auto blank = std::min(others.find(' '), others.size());
      use(others.substr(0, blank));
      others.remove_prefix(std::min(blank + 1, others.size()));
    }
  }
  return std::string(name);
}

std::string StHelpers::text() const {
  std::string text;
  for (const auto helpers : all_helpers())
    for (const auto& helper : helpers)
      if (used_.count(helper.name) != 0) text += helper.text;
  return text;
}

}  // namespace emberline::io

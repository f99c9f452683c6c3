#include "sim/bench/traffic_text.hpp"

#include <algorithm>
#include <cmath>

#include "sim/base/duration_text.hpp"
#include "sim/base/quantity.hpp"
#include "sim/bench/function_table.hpp"
#include "sim/modbus/pdu.hpp"
#include "sim/registers/address.hpp"

namespace emberline::bench {
namespace {

/// A review is read on a screen: so many blocks of one master and unit, the most frequent ones.
constexpr std::size_t kBlocksShown = 8;

std::string counted(std::uint64_t count, const std::string& what) {
  return std::to_string(count) + " " + what + (count == 1 ? "" : "s");
}

/// Three significant digits are enough for a rate.
std::string rate_text(double per_second) {
  if (per_second <= 0.0) return "";
  const double places = std::pow(10.0, 2.0 - std::floor(std::log10(per_second)));
  return ", " + format_number(std::round(per_second * places) / places) + " a second";
}

std::string hex_byte(int value) {
  constexpr const char* kDigits = "0123456789ABCDEF";
  return {kDigits[(value >> 4) & 15], kDigits[value & 15]};
}

std::string what_of(int function, int count) {
  const bool bits = modbus::carries_bits(table_of(function));
  return counted(static_cast<std::uint64_t>(count), bits ? "bit" : "register");
}

std::string pair_head(const TrafficPair& pair) {
  const std::string whom = pair.slave.empty() ? "unit id " + std::to_string(pair.unit_id) + " (nobody)"
                           : pair.slave == "everybody" ? "everybody (broadcast)"
                                                       : pair.slave;
  std::string text = pair.master + " asks " + whom + " over " + pair.line + ": " +
                     counted(pair.requests, "request") + rate_text(pair.per_second);
  if (pair.writes > 0) text += ", " + std::to_string(pair.writes) + " of them writes";
  for (const auto& [code, times] : pair.exceptions)
    text += "; exception " + hex_byte(code) + " " + counted(times, "time");
  if (pair.silent > 0 && pair.slave != "everybody")
    text += "; " + std::to_string(pair.silent) + " met silence";
  if (pair.retries > 0) text += "; " + std::to_string(pair.retries) + " asked again for want of an answer";
  if (pair.late > 0) text += "; " + counted(pair.late, "answer") + " went out after the next request";
  return text;
}

std::string block_text(const TrafficPair::Block& block) {
  return "  function " + hex_byte(block.function) + ", " + what_of(block.function, block.count) + " from " +
         registers::both_ways(block.first, table_of(block.function)) + ": " + counted(block.times, "time");
}

std::string merge_text(const TrafficPair& pair, const TrafficPair::Merge& merge) {
  std::string parts;
  for (const auto place : merge.of) {
    const auto& block = pair.blocks[place];
    parts += (parts.empty() ? "" : ", ") + registers::hexadecimal(block.first) + " x " +
             std::to_string(block.count);
  }
  const auto& first = pair.blocks[merge.of.front()];
  return "  could be one read of " + what_of(first.function, merge.count) + " from " +
         registers::both_ways(merge.first, table_of(first.function)) + " instead of " +
         std::to_string(merge.of.size()) + ": " + parts;
}

void add_blocks(const TrafficPair& pair, std::vector<std::string>& lines) {
  auto blocks = pair.blocks;
  if (blocks.size() > kBlocksShown) {
    std::stable_sort(blocks.begin(), blocks.end(),
                     [](const auto& a, const auto& b) { return a.times > b.times; });
    blocks.resize(kBlocksShown);
  }
  for (const auto& block : blocks) lines.push_back(block_text(block));
  if (pair.blocks.size() > kBlocksShown)
    lines.push_back("  and " + std::to_string(pair.blocks.size() - kBlocksShown) + " less frequent ones");
}

/// A share of a few seconds says more about when it was begun to look than about the polling.
std::string share_text(const TrafficLine& line) {
  constexpr double kTooShort_s = 5.0;
  const double share = *line.time_share;
  if (share > 0.0 && to_seconds(line.time_used) < kTooShort_s * share)
    return "too short a time to tell how much of it is used";
  return format_quantity(std::round(share * 1000.0) / 1000.0, Dimension::ratio) + " of its time used";
}

}  // namespace

std::vector<std::string> traffic_lines(const TrafficReview& review) {
  std::vector<std::string> lines;
  for (const auto& line : review.lines) {
    std::string text =
        line.line + ": " + counted(line.requests, "request") + ", " + counted(line.answers, "answer");
    if (line.broken > 0) text += ", " + counted(line.broken, "broken frame");
    if (line.time_share) text += "; " + share_text(line);
    lines.push_back(std::move(text));
  }
  for (const auto& pair : review.pairs) {
    lines.push_back(pair_head(pair));
    add_blocks(pair, lines);
    for (const auto& merge : pair.merges) lines.push_back(merge_text(pair, merge));
    for (const auto& write : pair.kept_writes)
      lines.push_back("  " + write.point + " is non-volatile and was written " + std::to_string(write.times) +
                      " times, every " +
                      format_duration(std::chrono::round<std::chrono::milliseconds>(write.period)) +
                      ": such memory wears out, write it only when it changes");
  }
  return lines;
}

}  // namespace emberline::bench

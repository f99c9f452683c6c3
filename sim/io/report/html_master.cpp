#include <cmath>

#include "sim/base/quantity.hpp"
#include "sim/io/report/html.hpp"
#include "sim/io/report/words.hpp"

namespace emberline::io {
namespace {

using rehearsal::Verdict;

/// Blocks of one master and slave that are shown, by address.
constexpr std::size_t kBlocks = 24;

std::string writes_table(const Verdict& verdict) {
  if (verdict.writes.empty()) return html_element("p", "No point of a unit was written.", "soft");
  HtmlTable table("", {"Master", "Point", number_cell("Writes"), number_cell("Refused"), "First", "Last",
                       "Lowest", "Highest"});
  for (const auto& write : verdict.writes) {
    table.row({escaped(write.master), escaped(write.point), number_cell(std::to_string(write.times)),
               number_cell(std::to_string(write.refused)),
               escaped(write.first) + " <span class=\"soft\">at " + time_text(write.first_at) + "</span>",
               escaped(write.last) + " <span class=\"soft\">at " + time_text(write.last_at) + "</span>",
               escaped(write.lowest), escaped(write.highest)});
  }
  return std::move(table).finished();
}

std::string function_words(int function) {
  switch (function) {
    case 1:
      return "reads coils";
    case 2:
      return "reads discrete inputs";
    case 3:
      return "reads holding registers";
    case 4:
      return "reads input registers";
    case 5:
      return "writes a coil";
    case 6:
      return "writes a register";
    case 15:
      return "writes coils";
    case 16:
      return "writes registers";
    case 22:
      return "masks a register";
    case 23:
      return "writes and reads registers";
    default:
      return "function " + std::to_string(function);
  }
}

std::string rate_text(double per_second) {
  if (!(per_second > 0.0)) return "-";
  const double places = std::pow(10.0, 2.0 - std::floor(std::log10(per_second)));
  return format_number(std::round(per_second * places) / places);
}

std::string pair_name(const bench::TrafficPair& pair) {
  if (pair.slave == "everybody") return "everybody (broadcast)";
  return pair.slave.empty() ? "unit id " + std::to_string(pair.unit_id) + " (nobody)" : pair.slave;
}

std::string troubles(const bench::TrafficPair& pair) {
  std::string text;
  const auto add = [&](const std::string& what) { text += (text.empty() ? "" : "; ") + what; };
  for (const auto& [code, times] : pair.exceptions)
    add("exception 0" + std::string(1, "0123456789ABCDEF"[code & 15]) + " " + counted(times, "time"));
  if (pair.silent > 0 && pair.slave != "everybody") add(std::to_string(pair.silent) + " met silence");
  if (pair.retries > 0) add(std::to_string(pair.retries) + " asked again");
  if (pair.late > 0) add(std::to_string(pair.late) + " answered late");
  return text.empty() ? "none" : text;
}

std::string requests_table(const Verdict& verdict) {
  if (verdict.traffic.pairs.empty()) return html_element("p", "Nobody asked anything.", "soft");
  HtmlTable table("", {"Master", "Line", "Asks", number_cell("Requests"), number_cell("A second"),
                       number_cell("Writes"), "Trouble it met"});
  for (const auto& pair : verdict.traffic.pairs)
    table.row({escaped(pair.master), escaped(pair.line), escaped(pair_name(pair)),
               number_cell(std::to_string(pair.requests)), number_cell(rate_text(pair.per_second)),
               number_cell(std::to_string(pair.writes)), escaped(troubles(pair))});
  return std::move(table).finished();
}

std::string blocks_table(const Verdict& verdict) {
  HtmlTable table("", {"Master", "Slave", "What it does", number_cell("First address"),
                       number_cell("How many"), number_cell("Times")});
  bool any = false;
  for (const auto& pair : verdict.traffic.pairs) {
    for (std::size_t i = 0; i < pair.blocks.size() && i < kBlocks; ++i) {
      const auto& block = pair.blocks[i];
      table.row({escaped(pair.master), escaped(pair_name(pair)), function_words(block.function),
                 number_cell(std::to_string(block.first)), number_cell(std::to_string(block.count)),
                 number_cell(std::to_string(block.times))});
      any = true;
    }
    if (pair.blocks.size() > kBlocks)
      table.wide(counted(pair.blocks.size() - kBlocks, "more block") + " of " + escaped(pair.master) +
                     " are in the JSON",
                 "soft");
  }
  return any ? "<h4>Blocks, again and again</h4>\n" + std::move(table).finished() : "";
}

std::string silences_table(const Verdict& verdict) {
  if (verdict.silences.empty()) return {};
  HtmlTable table("", {"Slave", number_cell("Longest time without a request to it"), number_cell("Until")});
  for (const auto& silence : verdict.silences)
    table.row({escaped(silence.slave), number_cell(time_text(silence.longest)),
               number_cell(time_text(silence.until))});
  return "<h4>Silences</h4>\n" + std::move(table).finished();
}

}  // namespace

std::string html_master(const Verdict& verdict) {
  return "<h3>What the master did</h3>\n<h4>Writes</h4>\n" + writes_table(verdict) + "<h4>Requests</h4>\n" +
         requests_table(verdict) + blocks_table(verdict) + silences_table(verdict);
}

}  // namespace emberline::io

#include "sim/bench/traffic.hpp"

#include <algorithm>
#include <cmath>
#include <set>
#include <utility>

#include "sim/bench/function_table.hpp"
#include "sim/bench/master_name.hpp"
#include "sim/modbus/pdu.hpp"

namespace emberline::bench {
namespace {

/// Blocks of one master and unit are kept apart up to so many: a scan over all addresses is no plan.
constexpr std::size_t kMostBlocks = 200;
/// Over less than this a rate says nothing.
constexpr Duration kLongEnough = std::chrono::seconds{1};
/// A write this often is cyclic, not a setting.
constexpr std::uint64_t kCyclic = 10;

/// The table of a function that reads and nothing else.
std::optional<modbus::Table> table_read(int function) {
  return function >= 0x01 && function <= 0x04 ? std::optional(table_of(function)) : std::nullopt;
}

/// True if one read may run over all these addresses of the slave.
bool readable(const unit::UnitSpec* unit, modbus::Table table, int first, int count) {
  if (unit == nullptr || unit->table->gaps() == registers::Gaps::zero) return true;
  std::set<int> mapped;
  for (const auto& row : unit->table->rows()) {
    if (row.table != table || row.access == registers::Access::write_only) continue;
    if (row.address >= first + count || row.address + registers::register_count(row.layout) <= first)
      continue;
    for (int i = 0; i < registers::register_count(row.layout); ++i) mapped.insert(row.address + i);
  }
  for (int address = first; address < first + count; ++address)
    if (!mapped.contains(address)) return false;
  return true;
}

int most_in_one(const unit::UnitSpec* unit, modbus::Table table) {
  const bool bits = modbus::carries_bits(table);
  const int most = bits ? modbus::kReadBitsMax : modbus::kReadRegistersMax;
  if (unit == nullptr || !unit->intake.largest_block) return most;
  return std::min(most, *unit->intake.largest_block * (bits ? 16 : 1));
}

/// Reads that came about equally often, one in five more or less.
bool as_often(std::uint64_t a, std::uint64_t b) { return std::min(a, b) * 5 >= std::max(a, b) * 4; }

std::vector<TrafficPair::Merge> merges_of(const TrafficPair& pair, const unit::UnitSpec* unit) {
  std::vector<TrafficPair::Merge> merges;
  const auto& blocks = pair.blocks;
  for (std::size_t i = 0; i < blocks.size(); ++i) {
    const auto table = table_read(blocks[i].function);
    if (!table || blocks[i].times < 2) continue;
    TrafficPair::Merge merge{{i}, blocks[i].first, blocks[i].count};
    std::size_t next = i + 1;
    for (; next < blocks.size(); ++next) {
      const auto& other = blocks[next];
      const int end = std::max(merge.first + merge.count, other.first + other.count);
      const int count = end - merge.first;
      if (other.function != blocks[i].function || !as_often(other.times, blocks[i].times) ||
          count > most_in_one(unit, *table) || !readable(unit, *table, merge.first, count))
        break;
      merge.of.push_back(next);
      merge.count = count;
    }
    if (merge.of.size() > 1) merges.push_back(merge);
    i = next - 1;
  }
  return merges;
}

}  // namespace

void Traffic::bytes(const BytesSeen& bytes) {
  retries_.bytes(bytes);
  Line& line = lines_.at(bytes.line);
  if (bytes.to_master) ++line.counts.answers;
  if (bytes.to_master && spec_.lines[bytes.line].kind == LineKind::serial_port && !bytes.bytes.empty() &&
      !spec_.slave_on(bytes.line, bytes.bytes[0])) {
    // A real slave beside ours has answered.
    line.counts.time_used += frames_time(spec_.lines[bytes.line].serial, bytes.bytes.size(), 1);
  }
}

void Traffic::frame(const FrameSeen& frame) {
  if (frame.broken()) ++lines_.at(frame.line).counts.broken;
}

void Traffic::session_ended(const SessionSeen& session) {
  retries_.session_ended(session);
  of_session_.erase(session.session);
}

Traffic::Pair& Traffic::pair_of(const RequestSeen& request) {
  auto& met = of_session_[request.session];
  const auto known =
      std::find_if(met.begin(), met.end(), [&](const auto& other) { return other.first == request.unit_id; });
  if (known != met.end()) return *known->second;
  Pair& pair = pairs_[{request.line, std::string(without_port(request.master)), request.unit_id}];
  met.emplace_back(request.unit_id, &pair);
  return pair;
}

void Traffic::request(const RequestSeen& request) {
  const LineSpec& spec = spec_.lines.at(request.line);
  Line& line = lines_[request.line];
  if (line.counts.requests++ == 0) line.first = request.at;
  line.last = request.at;
  if (carries_rtu(spec.kind)) {
    line.counts.time_used +=
        frames_time(spec.serial, request.query_size + request.answer_size, request.answer_size > 0 ? 2 : 1);
  }
  Pair& pair = pair_of(request);
  if (pair.counts.requests++ == 0) pair.first = request.at;
  pair.last = request.at;
  if (request.answer.empty()) ++pair.counts.silent;
  if (const auto refusal = modbus::refusal_of(request.answer))
    ++pair.counts.exceptions[static_cast<int>(*refusal)];

  if (retries_.request(request)) ++pair.counts.retries;

  const auto touched = modbus::touched_by(request.pdu);
  if (!touched) return;
  if (touched->written.count > 0) ++pair.counts.writes;
  count_block(pair, request, touched->read, false);
  count_block(pair, request, touched->written, true);
}

void Traffic::count_block(Pair& pair, const RequestSeen& request, modbus::AddressRange range, bool writes) {
  if (range.count == 0) return;
  const BlockKey key{request.pdu[0], range.first, range.count, writes};
  auto block = pair.blocks.find(key);
  if (block == pair.blocks.end()) {
    if (pair.blocks.size() >= kMostBlocks) return;
    block = pair.blocks.try_emplace(key).first;
  }
  Seen& seen = block->second;
  if (seen.times++ == 0) seen.first = request.at;
  seen.last = request.at;
}

void Traffic::answer(const AnswerSeen& answer) {
  retries_.answer(answer);
  if (!answer.late || answer.bytes.empty()) return;
  const std::size_t id_at = carries_rtu(spec_.lines.at(answer.line).kind) ? 0 : 6;
  if (answer.bytes.size() <= id_at) return;
  const auto pair = pairs_.find({answer.line, std::string(without_port(answer.master)), answer.bytes[id_at]});
  if (pair != pairs_.end()) ++pair->second.counts.late;
}

TrafficPair Traffic::finished(const Pair& pair) const {
  TrafficPair result = pair.counts;
  if (pair.last - pair.first >= kLongEnough)
    result.per_second =
        static_cast<double>(result.requests - 1) / to_seconds(Duration{pair.last - pair.first});
  for (const auto& [key, seen] : pair.blocks)
    result.blocks.push_back({key.function, key.first, key.count, seen.times});
  const auto line = *spec_.find_line(result.line);
  const auto slave = spec_.slave_on(line, result.unit_id);
  if (slave) result.slave = std::string(slave->name);
  const unit::UnitSpec* unit = slave && slave->unit ? &spec_.units[*slave->unit].unit : nullptr;
  if (!slave && spec_.lines[line].kind == LineKind::serial_port) {
    // Whether it answered is not for us to say.
    result.slave = "another slave on the wire, or nobody";
    result.silent = result.retries = 0;
  }
  result.merges = merges_of(result, unit);
  if (unit != nullptr) count_kept_writes(pair, *unit, result);
  return result;
}

void Traffic::count_kept_writes(const Pair& pair, const unit::UnitSpec& unit, TrafficPair& result) {
  for (const auto& row : unit.table->rows()) {
    if (!row.kept || row.table != modbus::Table::holding_registers) continue;
    Seen all;
    for (const auto& [key, seen] : pair.blocks) {
      const bool coils = key.function == 0x05 || key.function == 0x0F;
      if (!key.writes || coils || row.address < key.first || row.address >= key.first + key.count) continue;
      all.first = all.times == 0 ? seen.first : std::min(all.first, seen.first);
      all.last = std::max(all.last, seen.last);
      all.times += seen.times;
    }
    if (all.times < kCyclic) continue;
    const auto period = Duration{all.last - all.first} / static_cast<Duration::rep>(all.times - 1);
    result.kept_writes.push_back({std::string(name_of(row)), all.times, period});
  }
}

TrafficReview Traffic::review() const {
  TrafficReview review;
  for (std::size_t index = 0; index < lines_.size(); ++index) {
    const Line& line = lines_[index];
    TrafficLine counts = line.counts;
    if (counts.requests == 0 && counts.broken == 0) continue;
    counts.line = spec_.lines[index].name;
    if (carries_rtu(spec_.lines[index].kind) && line.last > line.first)
      counts.time_share =
          std::min(1.0, to_seconds(counts.time_used) / to_seconds(Duration{line.last - line.first}));
    review.lines.push_back(std::move(counts));
  }
  for (const auto& [key, pair] : pairs_) {
    Pair named = pair;
    named.counts.line = spec_.lines[std::get<0>(key)].name;
    named.counts.master = std::get<1>(key);
    named.counts.unit_id = std::get<2>(key);
    review.pairs.push_back(finished(named));
    const bool broadcast = named.counts.unit_id == 0 && carries_rtu(spec_.lines[std::get<0>(key)].kind);
    if (broadcast) review.pairs.back().slave = "everybody";
  }
  return review;
}

}  // namespace emberline::bench

#include "sim/polling/plan_requests.hpp"

#include <algorithm>
#include <optional>
#include <set>
#include <string>
#include <tuple>
#include <utility>

#include "sim/base/quantity.hpp"
#include "sim/polling/block_choice.hpp"
#include "sim/polling/readable.hpp"
#include "sim/polling/time_words.hpp"
#include "sim/registers/address.hpp"
#include "sim/registers/register_table.hpp"

namespace emberline::polling {
namespace {

using Diagnostics = std::vector<Diagnostic>;

SlaveKey key_of(const Wanted& wanted) { return {wanted.io_block, wanted.slave}; }

std::string things(int count, modbus::Table table) {
  const char* thing = modbus::carries_bits(table) ? " bit" : " register";
  return std::to_string(count) + thing + (count == 1 ? "" : "s");
}

const std::string& name_of(const bench::BenchSpec& bench, const SlaveKey& key) {
  return key.io_block ? bench.io_blocks.at(key.slave).name : bench.units.at(key.slave).unit.name;
}

int id_of(const bench::BenchSpec& bench, const SlaveKey& key) {
  return key.io_block ? bench.io_blocks.at(key.slave).id : bench.units.at(key.slave).unit.id;
}

int function_of(modbus::Table table, bool write, int count) {
  switch (table) {
    case modbus::Table::coils:
      return write ? 0x05 : 0x01;
    case modbus::Table::discrete_inputs:
      return 0x02;
    case modbus::Table::input_registers:
      return 0x04;
    case modbus::Table::holding_registers:
      if (write) return count == 1 ? 0x06 : 0x10;
      return 0x03;
  }
  return 0;
}

bool can_be_written(const bench::BenchSpec& bench, const Wanted& wanted) {
  if (wanted.io_block)
    return wanted.table == modbus::Table::coils &&
           bench.io_blocks.at(wanted.slave).coils.contains(wanted.address);
  if (wanted.table != modbus::Table::coils && wanted.table != modbus::Table::holding_registers) return false;
  const auto& rows = bench.units.at(wanted.slave).unit.table->rows();
  return std::any_of(rows.begin(), rows.end(), [&](const registers::Row& row) {
    return row.table == wanted.table && row.address == wanted.address &&
           row.access != registers::Access::read_only;
  });
}

/// Builds the requests of a wish.
class Builder {
 public:
  Builder(const PollWish& wish, const std::map<SlaveKey, double>& limits)
      : wish_(wish), bench_(*wish.bench), limits_(limits) {}

  Result<std::vector<PlannedRequest>, Diagnostics> build() {
    check();
    if (!problems_.empty()) return Failure{std::move(problems_)};
    add_writes();
    std::set<SlaveKey> slaves;
    for (const Wanted& wanted : wish_.reads) slaves.insert(key_of(wanted));
    for (const SlaveKey& slave : slaves) add_reads(slave);
    if (!problems_.empty()) return Failure{std::move(problems_)};
    return std::move(requests_);
  }

 private:
  void complain(const Wanted& wanted, std::string message) {
    problems_.push_back({wanted.place, std::move(message)});
  }

  /// Once for each slave.
  void check_turnaround(const Wanted& wanted) {
    const SlaveKey slave = key_of(wanted);
    if (!looked_at_.insert(slave).second) return;
    const Duration turnaround = turnaround_of(bench_, slave.io_block, slave.slave);
    if (turnaround < wish_.master.timeout) return;
    complain(wanted, name_of(bench_, slave) + " takes " + time_words(turnaround) +
                         " before it begins to answer, and the master gives up after " +
                         time_words(wish_.master.timeout) + "; expected a longer time-out");
  }

  void check() {
    for (const Wanted& wanted : wish_.reads) {
      check_turnaround(wanted);
      if (wanted.every <= Duration::zero()) complain(wanted, "every: expected a time above 0 s");
      const SlaveKey slave = key_of(wanted);
      const int longest = longest_read(bench_, slave.io_block, slave.slave, wanted.table);
      if (wanted.count > longest) {
        complain(wanted, wanted.name + " takes " + things(wanted.count, wanted.table) + ", and " +
                             name_of(bench_, slave) + " lets " + std::to_string(longest) +
                             " be read at once; expected a value that one read can bring");
      } else if (!readable_in(bench_, slave.io_block, slave.slave, wanted.table)(wanted.address,
                                                                                 wanted.count)) {
        complain(wanted, wanted.name + " at " + registers::both_ways(wanted.address, wanted.table) +
                             " cannot be read: unmapped, write-only, or half of a value that may not be "
                             "split; expected a whole value that can be read");
      }
    }
    for (const Wanted& wanted : wish_.writes) {
      check_turnaround(wanted);
      if (wanted.every <= Duration::zero()) complain(wanted, "every: expected a time above 0 s");
      if (!can_be_written(bench_, wanted))
        complain(wanted, wanted.name + " at " + registers::both_ways(wanted.address, wanted.table) +
                             " cannot be written; expected a coil or a holding register with write access");
    }
  }

  PlannedRequest request_to(const SlaveKey& slave, modbus::Table table, bool write, int first, int count,
                            Duration every) {
    PlannedRequest request;
    request.io_block = slave.io_block;
    request.slave = slave.slave;
    request.slave_name = name_of(bench_, slave);
    request.id = id_of(bench_, slave);
    request.write = write;
    request.function = function_of(table, write, count);
    request.table = table;
    request.range = {static_cast<std::uint16_t>(first), static_cast<std::uint16_t>(count)};
    request.every = every;
    const Duration turnaround = turnaround_of(bench_, slave.io_block, slave.slave);
    const auto exchange = write ? write_exchange : read_exchange;
    request.exchange = exchange(bench_.lines.at(wish_.line), turnaround, wish_.master.pause, table, count);
    return request;
  }

  void add_writes() {
    std::vector<std::size_t> order(wish_.writes.size());
    for (std::size_t i = 0; i < order.size(); ++i) order[i] = i;
    const auto where = [this](std::size_t i) {
      const Wanted& wanted = wish_.writes[i];
      return std::tuple(key_of(wanted), wanted.table, wanted.address);
    };
    std::stable_sort(order.begin(), order.end(),
                     [&](std::size_t a, std::size_t b) { return where(a) < where(b); });
    std::optional<std::size_t> before;
    for (const std::size_t i : order) {
      const Wanted& wanted = wish_.writes[i];
      if (before && where(*before) == where(i)) {  // wanted twice: the shorter period counts
        requests_.back().every = std::min(requests_.back().every, wanted.every);
      } else {
        requests_.push_back(
            request_to(key_of(wanted), wanted.table, true, wanted.address, wanted.count, wanted.every));
      }
      requests_.back().brings.push_back(i);
      before = i;
    }
  }

  /// What is wanted of one table of one slave.
  struct Group {
    modbus::Table table = modbus::Table::holding_registers;
    std::vector<std::size_t> wanted;  ///< places in PollWish::reads
  };

  void add_reads(const SlaveKey& slave) {
    std::map<modbus::Table, Group> by_table;
    for (std::size_t i = 0; i < wish_.reads.size(); ++i) {
      const Wanted& wanted = wish_.reads[i];
      if (key_of(wanted) != slave) continue;
      Group& group = by_table[wanted.table];
      group.table = wanted.table;
      group.wanted.push_back(i);
    }
    std::vector<Group> groups;
    std::vector<Memory> memories;
    for (auto& [table, group] : by_table) {
      memories.push_back(memory_of(slave, group));
      groups.push_back(std::move(group));
    }
    std::optional<double> limit;
    if (const auto reads = reads_per_second(bench_, slave.io_block, slave.slave)) limit = *reads;
    if (const auto tighter = limits_.find(slave); tighter != limits_.end()) limit = tighter->second;
    const auto blocks = choose_blocks(memories, limit);
    if (!blocks) return complain_of_rate(slave, memories, limit.value_or(0.0));
    for (std::size_t g = 0; g < groups.size(); ++g) {
      for (const Block& block : (*blocks)[g]) add_block(slave, groups[g], memories[g], block);
    }
  }

  [[nodiscard]] Memory memory_of(const SlaveKey& slave, const Group& group) const {
    Memory memory;
    for (const std::size_t i : group.wanted) {
      const Wanted& wanted = wish_.reads[i];
      memory.items.push_back({wanted.address, wanted.count, wanted.every});
    }
    memory.longest = longest_read(bench_, slave.io_block, slave.slave, group.table);
    memory.readable = readable_in(bench_, slave.io_block, slave.slave, group.table);
    const Duration turnaround = turnaround_of(bench_, slave.io_block, slave.slave);
    memory.line_time = [&line = bench_.lines.at(wish_.line), turnaround, pause = wish_.master.pause,
                        table = group.table](int count) {
      return read_exchange(line, turnaround, pause, table, count).whole;
    };
    return memory;
  }

  void add_block(const SlaveKey& slave, const Group& group, const Memory& memory, const Block& block) {
    PlannedRequest request = request_to(slave, group.table, false, block.first, block.count, block.every);
    std::set<int> wanted;
    for (const std::size_t item : block.items) {
      request.brings.push_back(group.wanted[item]);
      const Item& of_it = memory.items[item];
      for (int address = of_it.first; address < of_it.first + of_it.count; ++address) wanted.insert(address);
    }
    std::sort(request.brings.begin(), request.brings.end());
    request.bridged = block.count - static_cast<int>(wanted.size());
    requests_.push_back(std::move(request));
  }

  void complain_of_rate(const SlaveKey& slave, std::vector<Memory> memories, double limit) {
    for (Memory& memory : memories) memory.line_time = [](int) { return Duration{std::chrono::seconds{1}}; };
    double least = 0.0;
    if (const auto fewest = choose_blocks(memories, std::nullopt)) {
      for (std::size_t m = 0; m < memories.size(); ++m) least += cost_of(memories[m], (*fewest)[m]);
    }
    const auto first = std::find_if(wish_.reads.begin(), wish_.reads.end(),
                                    [&](const Wanted& wanted) { return key_of(wanted) == slave; });
    constexpr double kHundredths = 100.0;
    const double shown =
        static_cast<double>(static_cast<std::int64_t>(least * kHundredths + 0.999)) / kHundredths;
    complain(*first, name_of(bench_, slave) + " takes " + format_number(limit) +
                         " reads a second, and what is wanted of it needs " + format_number(shown) +
                         " however it is cut into block reads; expected fewer values, or longer periods");
  }

  const PollWish& wish_;
  const bench::BenchSpec& bench_;
  const std::map<SlaveKey, double>& limits_;
  std::vector<PlannedRequest> requests_;
  std::set<SlaveKey> looked_at_;
  Diagnostics problems_;
};

}  // namespace

Result<std::vector<PlannedRequest>, std::vector<Diagnostic>> plan_requests(
    const PollWish& wish, const std::map<SlaveKey, double>& limits) {
  return Builder(wish, limits).build();
}

std::string describe(const PlannedRequest& request) {
  return (request.write ? "the write of " : "the read of ") + things(request.range.count, request.table) +
         (request.write ? " to " : " of ") + request.slave_name + (request.write ? " at " : " from ") +
         registers::both_ways(request.range.first, request.table);
}

}  // namespace emberline::polling

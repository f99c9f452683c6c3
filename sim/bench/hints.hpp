#pragma once

#include <cstdint>
#include <functional>
#include <map>
#include <set>
#include <span>
#include <string>
#include <string_view>
#include <tuple>
#include <unordered_map>

#include "sim/base/journal_sink.hpp"
#include "sim/bench/bench_spec.hpp"
#include "sim/bench/line_observer.hpp"

namespace emberline::bench {

/// Looks for what goes wrong when a PLC program first meets a register table, and says so in the journal in
/// one sentence, once for each master and kind of mistake: addresses one too high or too low, the reference
/// number sent as the address, the wrong table, halves of 32-bit values, word or byte order, setpoints scaled
/// by ten or a hundred, a unit id that nobody has. Guesses, worded as such; common practice, no source.
class Hints final : public LineObserver {
 public:
  /// Requests to an id that nobody has before it is worth a word: a scan asks each id once.
  static constexpr int kAsksNobody = 3;
  /// Different setpoints that have to be seen before they are called suspiciously small.
  static constexpr std::size_t kSmallSetpoints = 5;

  /// Both must outlive this.
  Hints(const BenchSpec& spec, JournalSink& journal);
  void request(const RequestSeen& request) override;
  void write(const unit::WriteSeen& write) override;

 private:
  void once(SimTime at, const std::string& about, std::string_view master, const std::string& kind,
            std::string sentence);
  void asks_nobody(const RequestSeen& request);
  void look_beside(const RequestSeen& request, const unit::UnitSpec& unit, modbus::Table table,
                   modbus::AddressRange range);
  /// False: nothing is wrong with it, whoever asks.
  bool look_at_halves(const RequestSeen& request, const unit::UnitSpec& unit, modbus::Table table,
                      modbus::AddressRange range);
  /// `values`: what is written from register `first` on, as it stands in the frame.
  void look_at_order(const RequestSeen& request, const unit::UnitSpec& unit, std::uint16_t first,
                     modbus::ByteView values);
  /// Of a number out of range; false: neither a factor nor another order explains it.
  bool tell_order(const RequestSeen& request, const unit::UnitSpec& unit, const registers::Row& row,
                  std::span<const std::uint16_t> words);

  const BenchSpec& spec_;
  JournalSink& journal_;
  struct Asked {
    const unit::UnitSpec* unit = nullptr;
    modbus::Bytes
        nothing_wrong;  ///< the latest read with nothing wrong in it: masters ask the same over and over
  };
  std::map<std::pair<std::size_t, int>, Asked> units_;               ///< by line and id
  std::map<std::tuple<std::size_t, std::string, int>, int> nobody_;  ///< by line, master and id
  /// The first setpoints that were written to a unit, by master.
  struct Setpoints {
    const registers::Row* row = nullptr;  ///< where they are written
    std::map<std::string, std::set<double>, std::less<>> of;
  };
  std::unordered_map<std::string_view, Setpoints> setpoints_;  ///< by unit
  std::set<std::string> said_;
};

}  // namespace emberline::bench

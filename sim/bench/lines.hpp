#pragma once

#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "sim/base/journal_sink.hpp"
#include "sim/base/random.hpp"
#include "sim/bench/bench_spec.hpp"
#include "sim/bench/impairment.hpp"
#include "sim/bench/line_observer.hpp"

namespace emberline::bench {

/// Which way bytes go over a line.
enum class Way : std::uint8_t { both, to_units, to_masters };

/// What the lines of a bench are like at the moment: cut, impaired, or as they should be; and who watches
/// them.
class Lines {
 public:
  /// `spec` and `journal` must outlive this. `seed` begins the one source of chance of all impairments.
  Lines(const BenchSpec& spec, JournalSink& journal, std::uint64_t seed);

  // --- cable
  /// Pulls the cable, or breaks one of its two ways.
  void cut(std::size_t line, Way way, SimTime at);
  /// Puts the cable back, both ways.
  void mend(std::size_t line, SimTime at);
  /// True if bytes get through that way; Way::both: if they get through both ways.
  [[nodiscard]] bool passes(std::size_t line, Way way) const;

  // --- impairments
  /// Installs an impairment under the word it has in a timeline; one that stands there under the same word is
  /// replaced. `sentence` goes into the journal.
  void impair(std::size_t line, std::string_view word, std::unique_ptr<Impairment> impairment,
              std::string sentence, SimTime at);
  /// Takes away the impairment with this word; false if there is none.
  bool lift(std::size_t line, std::string_view word, SimTime at);
  /// Makes the line good again: no cut, no impairment.
  void restore(std::size_t line, SimTime at);
  /// Tears all connections of a TCP line down with a reset.
  void reset_connections(std::size_t line, SimTime at);
  [[nodiscard]] const TcpConduct& conduct(std::size_t line) const { return at(line).conduct; }
  /// Grows whenever passes() or conduct() of any line may have come to tell something else.
  [[nodiscard]] std::uint64_t changes() const { return changes_; }
  /// As the signal LINE.state has it: 0 normal, 1 cut (either way), 2 impaired.
  [[nodiscard]] int state(std::size_t line) const;
  /// Whether anything but a cut acts on what goes over it.
  [[nodiscard]] bool impaired(std::size_t line) const { return !at(line).impairments.empty(); }
  /// How often something was lifted from a line, or replaced: what was put off before does not hold up what
  /// comes after.
  [[nodiscard]] std::uint64_t lifts(std::size_t line) const { return at(line).lifts; }

  // --- for whoever carries the bytes: each lets all impairments of the line act, in the order in which they
  // were installed
  void bytes_in(std::size_t line, modbus::Bytes& bytes);
  [[nodiscard]] std::optional<Duration> request(std::size_t line, const Query& query);
  void answer(std::size_t line, const Query& query, std::vector<Piece>& pieces);

  // --- watching
  /// `observer` must outlive the lines, or be forgotten before it goes.
  void add_observer(LineObserver& observer) { observers_.push_back(&observer); }
  void remove_observer(LineObserver& observer);
  [[nodiscard]] const std::vector<LineObserver*>& observers() const { return observers_; }
  /// A number for a new session.
  [[nodiscard]] std::uint64_t new_session() { return ++sessions_; }

 private:
  struct Held {
    std::string word;
    std::unique_ptr<Impairment> impairment;
  };
  struct Line {
    bool cut_to_units = false;
    bool cut_to_masters = false;
    std::vector<Held> impairments;
    TcpConduct conduct;
    std::uint64_t lifts = 0;
  };
  [[nodiscard]] const Line& at(std::size_t line) const { return lines_.at(line); }
  void settle_conduct(Line& line);
  void note(std::size_t line, SimTime at, std::string sentence);

  const BenchSpec& spec_;
  JournalSink& journal_;
  Random chance_;
  std::vector<Line> lines_;
  std::vector<LineObserver*> observers_;
  std::uint64_t sessions_ = 0;
  std::uint64_t changes_ = 0;
};

}  // namespace emberline::bench

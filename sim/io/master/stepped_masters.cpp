#include "sim/io/master/stepped_masters.hpp"

#include <algorithm>
#include <deque>
#include <map>
#include <optional>

#include "sim/io/master/one_core.hpp"
#include "sim/io/master/stepped_stand_in.hpp"
#include "sim/io/master/stepped_wire.hpp"

namespace emberline::io {

class SteppedMasters::Impl {
 public:
  Impl(bench::Bench& bench, const std::vector<rehearsal::MasterSpec>& masters)
      : specs_(masters), baton_(bench.journal()) {
    std::size_t order = 0;
    for (const rehearsal::MasterSpec& spec : specs_) {
      stand_ins_.emplace_back(spec, bench, order++, baton_,
                              [&](std::size_t line) -> SteppedWire& { return wire_of(bench, line); });
    }
    try {
      for (SteppedStandIn& stand_in : stand_ins_) stand_in.start();
    } catch (...) {
      finish();  // those that have a thread wait for their turn
      throw;
    }
  }
  ~Impl() { finish(); }
  Impl(const Impl&) = delete;
  Impl& operator=(const Impl&) = delete;

  void finish() {
    baton_.over.store(true, std::memory_order_release);
    for (SteppedStandIn& stand_in : stand_ins_) stand_in.end();
    for (SteppedWire& wire : wires_) wire.clear(baton_.now);
  }

  [[nodiscard]] std::uint64_t transactions() const {
    std::uint64_t sum = 0;
    for (const SteppedStandIn& stand_in : stand_ins_) sum += stand_in.transactions();
    return sum;
  }
  [[nodiscard]] std::uint64_t mistaken_answers() const {
    std::uint64_t sum = 0;
    for (const SteppedStandIn& stand_in : stand_ins_) sum += stand_in.mistaken();
    return sum;
  }

  /// The wire with the next step; at one instant that of the first stand-in of the file.
  [[nodiscard]] SteppedWire* next_wire() {
    SteppedWire* first = nullptr;
    for (SteppedWire& wire : wires_) {
      const auto due = wire.next();
      if (!due) continue;
      const bool sooner = first == nullptr || *due < *first->next() ||
                          (*due == *first->next() && wire.order() < first->order());
      if (sooner) first = &wire;
    }
    return first;
  }

  void run_wires(SimTime now) {
    baton_.now = now;
    for (SteppedWire* wire = next_wire(); wire != nullptr && *wire->next() <= now; wire = next_wire()) {
      const auto delivery = wire->step(now);
      if (!delivery) continue;
      for (SteppedStandIn& stand_in : stand_ins_) {
        if (stand_in.deliver(*delivery)) break;
      }
    }
  }

  [[nodiscard]] std::optional<SimTime> next_stand_in() const {
    std::optional<SimTime> first;
    for (const SteppedStandIn& stand_in : stand_ins_) {
      const auto due = stand_in.due();
      if (due && (!first || *due < *first)) first = due;
    }
    return first;
  }

  void run_stand_ins(SimTime now) {
    baton_.now = now;
    for (SteppedStandIn& stand_in : stand_ins_) {
      const auto due = stand_in.due();
      if (due && *due <= now) stand_in.run();
    }
  }

  struct Wires final : bench::EventSource {
    explicit Wires(Impl& owner) : impl(owner) {}
    [[nodiscard]] std::optional<SimTime> next() const override {
      const SteppedWire* wire = impl.next_wire();
      return wire != nullptr ? wire->next() : std::nullopt;
    }
    void run(SimTime now) override { impl.run_wires(now); }
    Impl& impl;
  };
  struct StandIns final : bench::EventSource {
    explicit StandIns(Impl& owner) : impl(owner) {}
    [[nodiscard]] std::optional<SimTime> next() const override { return impl.next_stand_in(); }
    void run(SimTime now) override { impl.run_stand_ins(now); }
    Impl& impl;
  };
  Wires wires_source{*this};
  StandIns stand_ins_source{*this};

 private:
  OneCore one_core_;  // before the threads: they inherit it
  /// An RTU line is one wire for all, a TCP line a connection for each stand-in.
  SteppedWire& wire_of(bench::Bench& bench, std::size_t line) {
    const bool shared = bench::carries_rtu(bench.spec().lines[line].kind);
    if (const auto known = shared_.find(line); shared && known != shared_.end()) return *known->second;
    SteppedWire& wire = wires_.emplace_back(bench, line);
    if (shared) shared_.emplace(line, &wire);
    return wire;
  }

  std::vector<rehearsal::MasterSpec> specs_;
  Baton baton_;
  std::deque<SteppedWire> wires_;
  std::map<std::size_t, SteppedWire*> shared_;
  std::deque<SteppedStandIn> stand_ins_;  // threads end before what they use
};

SteppedMasters::SteppedMasters(bench::Bench& bench, const std::vector<rehearsal::MasterSpec>& masters)
    : impl_(std::make_unique<Impl>(bench, masters)) {}
SteppedMasters::~SteppedMasters() = default;

bench::EventSource& SteppedMasters::wire() { return impl_->wires_source; }
bench::EventSource& SteppedMasters::stand_ins() { return impl_->stand_ins_source; }
void SteppedMasters::finish() { impl_->finish(); }
std::uint64_t SteppedMasters::transactions() const { return impl_->transactions(); }
std::uint64_t SteppedMasters::mistaken_answers() const { return impl_->mistaken_answers(); }

}  // namespace emberline::io

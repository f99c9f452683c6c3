#pragma once

#include <atomic>
#include <cstddef>
#include <cstdint>
#include <deque>
#include <functional>
#include <memory>
#include <optional>
#include <semaphore>
#include <string>
#include <thread>
#include <vector>

#include <poll.h>

#include "sim/bench/bench.hpp"
#include "sim/io/master/modbus_calls.hpp"
#include "sim/io/master/socket_pair.hpp"
#include "sim/io/master/stepped_wire.hpp"
#include "sim/rehearsal/stand_in.hpp"

namespace emberline::io {

/// What the scheduler and all stand-ins share. Only the holder of the baton touches it: the scheduler, or the
/// one stand-in that it let run.
struct Baton {
  explicit Baton(bench::Journal& to);
  FileDescriptor doorbell;  ///< a stand-in says here that it sleeps or is finished
  SimTime now{};
  std::atomic<bool> over{false};
  /// Everything written before a hand-over is seen after it. The hand-overs themselves go through system
  /// calls, which order memory in practice; this says so to the language.
  std::atomic<std::uint64_t> handed{0};
  bench::Journal& journal;

  void give() { handed.fetch_add(1, std::memory_order_acq_rel); }
  void take() { (void)handed.fetch_add(0, std::memory_order_acq_rel); }
};

/// A stand-in in a thread of its own, which runs only while it holds the baton.
class SteppedStandIn final : private rehearsal::MasterLink {
 public:
  SteppedStandIn(const rehearsal::MasterSpec& spec, bench::Bench& bench, std::size_t order, Baton& baton,
                 const std::function<SteppedWire&(std::size_t line)>& wire_of);
  ~SteppedStandIn() override { end(); }

  /// Starts its thread, once all of them are made. Throws what std::thread throws.
  void start();

  // --- the scheduler's side; it holds the baton, and has it back when a call returns
  /// When the stand-in wakes or its request times out; nothing while its request waits for the wire or once
  /// it is finished.
  [[nodiscard]] std::optional<SimTime> due() const;
  /// Wakes it, or lets its request fail.
  void run();
  /// True if the bytes are for one of its own ends; it goes on as soon as they make an answer.
  [[nodiscard]] bool deliver(const SteppedWire::Delivery& answer);
  /// Ends its program and its thread; Baton::over is set.
  void end();
  [[nodiscard]] std::uint64_t transactions() const { return transactions_; }
  /// Answers to earlier requests that libmodbus took for the answer to a later one.
  [[nodiscard]] std::uint64_t mistaken() const { return mistaken_; }

 private:
  /// One line, seen from this stand-in.
  struct Channel {
    Channel(bench::Bench& bench, std::size_t index, const rehearsal::MasterSpec& master, std::size_t place,
            SteppedWire& carrier);
    std::string line;
    bool rtu;
    SteppedWire& wire;
    StandInEnd end;
    ModbusContext context;
    FileDescriptor ours;
    FileDescriptor theirs;                      ///< what libmodbus holds
    FileDescriptor next;                        ///< the fresh end that takes its place
    modbus::Bytes inbox;                        ///< a request that is not whole yet
    std::deque<SteppedWire::Delivery> arrived;  ///< what came and libmodbus has not read yet
    bool mistaken = false;                      ///< what it read last answers an earlier request
    SimTime patience{};                         ///< until when it would have waited for an answer
    bool explained = false;                     ///< the journal has heard of such a case
    /// How much of what arrived libmodbus will read as one answer; 0: not all of it is there.
    [[nodiscard]] std::size_t readable() const;
    /// Takes so many bytes off.
    [[nodiscard]] modbus::Bytes take(std::size_t count);
  };
  enum class Phase : std::uint8_t { sleeping, waiting, running, finished };

  // rehearsal::MasterLink, for the stand-in's thread
  [[nodiscard]] SimTime now() const override { return baton_.now; }
  [[nodiscard]] bool sleep_until(SimTime at) override;
  Result<std::vector<std::uint16_t>, Failure> read_registers(const std::string& line, int id,
                                                             modbus::Table table,
                                                             modbus::AddressRange range) override;
  Result<std::vector<bool>, Failure> read_bits(const std::string& line, int id, modbus::Table table,
                                               modbus::AddressRange range) override;
  Result<Done, Failure> write_registers(const std::string& line, int id, std::uint16_t first,
                                        const std::vector<std::uint16_t>& values) override;
  Result<Done, Failure> write_bits(const std::string& line, int id, std::uint16_t first,
                                   const std::vector<bool>& values) override;
  [[nodiscard]] bool over() const override { return baton_.over.load(std::memory_order_acquire); }
  void note(std::string sentence) override;
  void power_fails_at(std::optional<SimTime> at) override { fails_at_ = at; }
  void lost_power() override;

  void thread_main();
  template <class T, class Call>
  Result<T, Failure> request(const std::string& line, Call&& call);
  [[nodiscard]] Channel* channel_of(const std::string& line);
  void forget_rest(Channel& channel);
  void explain_mistake(Channel& channel);

  void hand_over();
  [[nodiscard]] bool take_request(Channel& channel);
  void time_out();
  void go_on();

  const rehearsal::MasterSpec& spec_;
  Baton& baton_;
  std::deque<Channel> channels_;
  Phase phase_ = Phase::sleeping;
  SimTime wake_at_{};
  std::optional<SimTime> fails_at_;  ///< its power
  bool begins_anew_ = false;         ///< nothing has gone out since its power failed
  Channel* asking_ = nullptr;        ///< where the request is that it waits for
  std::uint64_t transactions_ = 0;
  std::uint64_t mistaken_ = 0;
  std::vector<pollfd> watched_;  ///< the doorbell, then our end of each channel
  std::binary_semaphore wake_{0};
  std::thread thread_;
};

}  // namespace emberline::io

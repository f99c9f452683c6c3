#pragma once

#include <cstdint>
#include <functional>
#include <map>
#include <memory>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "sim/base/result.hpp"
#include "sim/base/sim_time.hpp"
#include "sim/bench/bench_spec.hpp"
#include "sim/io/line/wire_packets.hpp"
#include "sim/modbus/bytes.hpp"

namespace emberline::io {

/// Writes what stands on the lines into a pcapng file, for programs that read captures. Each line is an
/// interface with its name; simulated time becomes nanoseconds since 1970-01-01, so equal runs give equal
/// files.
///
/// - TCP lines become IPv4 packets with handshake and closing. The bench's port is 502 there, whatever the
///   line's own: readers tell queries from answers by that port, without any setting.
/// - RTU lines, RTU over TCP included, become frames of link type 252 for the dissector "mbrtu", with ports
/// of
///   their own, 20502 for the bench. (In a TCP stream on port 502 RTU frames would be taken for Modbus TCP.)
///   That dissector tells reads, 0F, 10 and exceptions apart by itself; for the other functions, which look
///   alike both ways, it needs its own port set: mbrtu.tcp.port 20502. Source and destination are told
///   without.
/// - Addresses are those set aside for documentation (RFC 5737): 192.0.2.N is line number N, 198.51.100.N a
///   master.
///
/// Frames that are no good RTU frames carry the error bits of pcapng and a comment.
///
/// The file grows while the run goes on, a whole block at a time, and can be read meanwhile. That is unlike
/// our other outputs, which are there whole or not at all: of a run that is killed, what it wrote so far is
/// what one wants to look at. A file that was there before is replaced.
///
/// With a limit the newest stays: a file that has come to half of it becomes older_part() of the path, in
/// place of the one that was that before, and a new one is begun, which describes the lines again.
class Capture {
 public:
  /// Opens the file and describes the lines. `limit_B`: so many bytes at most are on the disk at any time,
  /// both parts together; 0: no limit. The error is one line that begins with the path.
  [[nodiscard]] static Result<std::unique_ptr<Capture>, std::string> open(
      const std::string& path, const std::vector<bench::LineSpec>& lines, std::uint64_t limit_B = 0);
  /// Where the older part of a capture with a limit is: "lehr.old.pcapng" for "lehr.pcapng".
  [[nodiscard]] static std::string older_part(const std::string& path);
  /// One that is kept in memory until take().
  [[nodiscard]] static std::unique_ptr<Capture> in_memory(const std::vector<bench::LineSpec>& lines);
  ~Capture();
  Capture(const Capture&) = delete;
  Capture& operator=(const Capture&) = delete;

  /// A master has connected to a TCP line; on other lines nothing is written. `connection` is a number of
  /// whatever kind that no other connection of this line has or had.
  void connection_opened(std::size_t line, std::uint64_t connection, SimTime at);
  void connection_closed(std::size_t line, std::uint64_t connection, SimTime at,
                         Ending ending = Ending::by_master);
  /// Bytes as they stood on the line; `at` is when their last one was there. On RTU lines one frame, or what
  /// was taken for one; on TCP any piece of the stream, of a connection that is opened by it if need be.
  /// `comment` is put beside them. Empty bytes are passed over.
  void bytes(std::size_t line, std::uint64_t connection, bool to_master, modbus::ByteView bytes, SimTime at,
             std::string_view comment = {});
  /// Called once, as soon as something cannot be written, with the line that finish() will give; nothing is
  /// written from then on.
  void on_problem(std::function<void(const std::string&)> told) { told_ = std::move(told); }
  /// Writes what is left and closes the file; nothing may follow. The error is one line that begins with the
  /// path: the first thing that could not be written, up to which the file is good.
  [[nodiscard]] Result<Done, std::string> finish();
  /// Of a capture in memory: all of the file; nothing may follow.
  [[nodiscard]] modbus::Bytes take() { return std::move(pending_); }

  /// Calls of bytes() so far that came from masters, and those that went to masters.
  [[nodiscard]] std::uint64_t queries() const { return queries_; }
  [[nodiscard]] std::uint64_t answers() const { return answers_; }

 private:
  Capture(std::string path, int file, const std::vector<bench::LineSpec>& lines, std::uint64_t limit_B);
  [[nodiscard]] TcpTrace& trace(std::size_t line, std::uint64_t connection, SimTime at);
  void put(std::size_t line, const std::vector<WirePacket>& packets, SimTime at, std::string_view comment);
  void put_rtu(std::size_t line, std::uint64_t connection, bool to_master, modbus::ByteView frame, SimTime at,
               std::string_view comment);
  void write_out(SimTime at);
  void write_pending();
  void begin_anew();
  void ends_early(int error);

  std::string path_;   // as it was given
  std::string place_;  // the file itself, where there is a limit
  int file_;           // none: in memory
  bool in_memory_ = false;
  std::uint64_t limit_B_ = 0;  // 0: none
  modbus::Bytes beginning_;    // section and interfaces
  std::vector<bench::LineKind> kinds_;
  std::map<std::pair<std::size_t, std::uint64_t>, TcpTrace> traces_;
  modbus::Bytes pending_;      // whole blocks, not written yet; in memory all of them
  std::uint64_t written_ = 0;  // bytes in the file, whole blocks
  SimTime written_until_{};
  std::string problem_;  // the first; nothing is written after it
  std::function<void(const std::string&)> told_;
  std::uint64_t queries_ = 0;
  std::uint64_t answers_ = 0;
};

}  // namespace emberline::io

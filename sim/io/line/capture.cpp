#include "sim/io/line/capture.hpp"

#include <cassert>
#include <cerrno>
#include <cstdio>
#include <cstring>
#include <filesystem>

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include "sim/base/duration_text.hpp"
#include "sim/io/line/pcapng.hpp"
#include "sim/modbus/crc.hpp"

namespace emberline::io {
namespace {

using modbus::ByteView;

constexpr int kNoFile = -1;
constexpr mode_t kReadableByAll = 0644;
constexpr std::uint16_t kModbusPort = 502;
/// Another one for RTU: a reader that is told to take a port for RTU takes TCP segments on it for RTU, too.
constexpr std::uint16_t kRtuPort = 20502;
constexpr std::uint64_t kFirstPort = 49152;  // of the dynamic ones (RFC 6335)
constexpr std::uint64_t kPorts = 16384;
constexpr std::uint64_t kHosts = 254;

/// Every connection of a line has other ends, until four million have been there.
WireEnds ends_of(std::size_t line, bench::LineKind kind, std::uint64_t connection) {
  const auto bench_host = static_cast<std::uint8_t>(1 + line % kHosts);
  const auto master_host = static_cast<std::uint8_t>(1 + connection / kPorts % kHosts);
  const auto port = static_cast<std::uint16_t>(kFirstPort + connection % kPorts);
  const auto bench_port = bench::carries_rtu(kind) ? kRtuPort : kModbusPort;
  return {{{198, 51, 100, master_host}, port}, {{192, 0, 2, bench_host}, bench_port}};
}

pcapng::Interface interface_of(const bench::LineSpec& line) {
  pcapng::Interface interface;
  interface.name = line.name;
  interface.description = std::string(to_word(line.kind));
  interface.link_type = pcapng::LinkType::upper_pdu;
  switch (line.kind) {
    case bench::LineKind::pty:
    case bench::LineKind::serial_port:
      interface.description += ", Modbus RTU, " + to_text(line.serial);
      interface.speed_bits_per_s = static_cast<std::uint64_t>(line.serial.baud);
      break;
    case bench::LineKind::rtu_tcp:
      interface.description += ", Modbus RTU over TCP, shown without its TCP";
      break;
    case bench::LineKind::tcp:
      interface.description += ", Modbus TCP, shown as port 502";
      interface.link_type = pcapng::LinkType::raw_ip;
      break;
  }
  return interface;
}

struct Damage {
  std::uint32_t flags = 0;
  const char* words = "";
};

/// What makes these bytes no RTU frame (MODBUS over Serial Line V1.02, 2.5.1); no flags: nothing does.
Damage damage_of(ByteView frame) {
  constexpr std::size_t kFrameMin = 4;
  constexpr std::size_t kFrameMax = 256;
  if (frame.size() < kFrameMin) return {pcapng::kTooShort, "no frame: fewer than 4 bytes"};
  if (frame.size() > kFrameMax) return {pcapng::kTooLong, "no frame: more than 256 bytes"};
  if (modbus::crc16(frame) != 0) return {pcapng::kCrcError, "no frame: the CRC is wrong"};
  return {};
}

/// Words for a good frame of which the dissector shows nothing: it passes over broadcasts, and over frames
/// that are only a function code. Empty for the others.
std::string words_for_unshown(ByteView frame, bool to_master) {
  if (frame[0] != 0 && frame.size() > 4) return {};
  char words[64];
  (void)std::snprintf(words, sizeof words, "%s, unit %u, function %02X", to_master ? "answer" : "query",
                      static_cast<unsigned>(frame[0]), static_cast<unsigned>(frame[1]));
  return words;
}

std::string cannot(const std::string& path, const char* what, int error) {
  return path + ": " + what + ": " + std::strerror(error);
}

}  // namespace

Result<std::unique_ptr<Capture>, std::string> Capture::open(const std::string& path,
                                                            const std::vector<bench::LineSpec>& lines,
                                                            std::uint64_t limit_B) {
  // Without O_NONBLOCK a pipe that nobody reads would hold us up here.
  const int file = ::open(path.c_str(), O_WRONLY | O_CREAT | O_CLOEXEC | O_NONBLOCK, kReadableByAll);
  if (file < 0) return Failure{cannot(path, "cannot be written", errno)};
  struct stat status {};
  if (::fstat(file, &status) != 0 || !S_ISREG(status.st_mode)) {
    ::close(file);
    return Failure{path + ": is not a plain file, which a capture needs"};
  }
  if (::ftruncate(file, 0) != 0) {
    const int error = errno;
    ::close(file);
    return Failure{cannot(path, "cannot be written", error)};
  }
  auto capture = std::unique_ptr<Capture>(new Capture(path, file, lines, limit_B));
  if (!capture->problem_.empty()) return Failure{capture->problem_};
  if (limit_B == 0) return capture;
  // A few packets at least have to go into each part, beside the description of all lines.
  if (capture->beginning_.size() > limit_B / 4)
    return Failure{path + ": the limit is too small for so many lines, expected " +
                   std::to_string(4 * capture->beginning_.size() / 1'000'000 + 1) + " MB at least"};
  // Links stay: it is the file behind them that is set aside.
  std::error_code error;
  capture->place_ = std::filesystem::canonical(path, error).string();
  if (error) return Failure{path + ": cannot be found again: " + error.message()};
  // What an earlier run set aside does not belong to this one.
  const std::string older = older_part(capture->place_);
  if (::unlink(older.c_str()) != 0 && errno != ENOENT)
    return Failure{cannot(older, "cannot make room for the older part", errno)};
  return capture;
}

std::unique_ptr<Capture> Capture::in_memory(const std::vector<bench::LineSpec>& lines) {
  return std::unique_ptr<Capture>(new Capture({}, kNoFile, lines, 0));
}

std::string Capture::older_part(const std::string& path) {
  const std::filesystem::path whole(path);
  return whole.parent_path() / (whole.stem().string() + ".old" + whole.extension().string());
}

Capture::Capture(std::string path, int file, const std::vector<bench::LineSpec>& lines, std::uint64_t limit_B)
    : path_(std::move(path)), file_(file), in_memory_(file == kNoFile), limit_B_(limit_B) {
  pcapng::append_section(beginning_);
  for (const auto& line : lines) {
    kinds_.push_back(line.kind);
    pcapng::append_interface(beginning_, interface_of(line));
  }
  pending_ = beginning_;
  write_out(SimTime{});
}

Capture::~Capture() {
  if (file_ >= 0) ::close(file_);
}

void Capture::connection_opened(std::size_t line, std::uint64_t connection, SimTime at) {
  if (bench::carries_rtu(kinds_.at(line))) return;
  (void)trace(line, connection, at);
  write_out(at);
}

void Capture::connection_closed(std::size_t line, std::uint64_t connection, SimTime at, Ending ending) {
  const auto found = traces_.find({line, connection});
  if (found == traces_.end()) return;
  put(line, found->second.closing(ending), at, {});
  traces_.erase(found);
  write_out(at);
}

void Capture::bytes(std::size_t line, std::uint64_t connection, bool to_master, ByteView bytes, SimTime at,
                    std::string_view comment) {
  if (bytes.empty()) return;
  ++(to_master ? answers_ : queries_);
  if (bench::carries_rtu(kinds_.at(line)))
    put_rtu(line, connection, to_master, bytes, at, comment);
  else
    put(line, trace(line, connection, at).data(to_master, bytes), at, comment);
  write_out(at);
}

TcpTrace& Capture::trace(std::size_t line, std::uint64_t connection, SimTime at) {
  const auto [entry, is_new] =
      traces_.try_emplace({line, connection}, ends_of(line, kinds_.at(line), connection));
  if (is_new) put(line, entry->second.handshake(), at, {});
  return entry->second;
}

void Capture::put(std::size_t line, const std::vector<WirePacket>& packets, SimTime at,
                  std::string_view comment) {
  for (const auto& packet : packets) {
    const bool last = &packet == &packets.back();
    pcapng::append_packet(pending_, {static_cast<std::uint32_t>(line), at,
                                     packet.to_master ? pcapng::kOutbound : pcapng::kInbound,
                                     last ? comment : std::string_view{}, packet.bytes});
  }
}

void Capture::put_rtu(std::size_t line, std::uint64_t connection, bool to_master, ByteView frame, SimTime at,
                      std::string_view comment) {
  const Damage damage = damage_of(frame);
  const std::string ours = damage.flags != 0 ? damage.words : words_for_unshown(frame, to_master);
  std::string words(comment);
  if (!words.empty() && !ours.empty()) words += "; ";
  words += ours;
  const auto direction = to_master ? pcapng::kOutbound : pcapng::kInbound;
  pcapng::append_packet(pending_, {static_cast<std::uint32_t>(line), at, direction | damage.flags, words,
                                   upper_pdu(ends_of(line, kinds_.at(line), connection), to_master, frame)});
}

void Capture::write_out(SimTime at) {
  if (in_memory_) return;
  assert(file_ >= 0);
  if (limit_B_ != 0 && written_ > beginning_.size() && written_ + pending_.size() > limit_B_ / 2)
    begin_anew();
  write_pending();
  if (problem_.empty()) written_until_ = at;
}

void Capture::write_pending() {
  std::size_t done = 0;
  while (problem_.empty() && done < pending_.size()) {
    const auto count = ::write(file_, pending_.data() + done, pending_.size() - done);
    if (count >= 0) {
      done += static_cast<std::size_t>(count);
    } else if (errno != EINTR) {
      ends_early(errno);
    }
  }
  if (problem_.empty()) written_ += pending_.size();
  pending_.clear();
}

// The file under the old name is replaced in one step, so that whoever looks finds whole blocks under both
// names.
void Capture::begin_anew() {
  if (!problem_.empty()) return;
  const int fresh = std::rename(place_.c_str(), older_part(place_).c_str()) == 0
                        ? ::open(place_.c_str(), O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, kReadableByAll)
                        : kNoFile;
  if (fresh < 0) return ends_early(errno);
  ::close(std::exchange(file_, fresh));
  written_ = 0;
  pending_.insert(pending_.begin(), beginning_.begin(), beginning_.end());
}

void Capture::ends_early(int error) {
  if (!problem_.empty()) return;
  problem_ = cannot(path_, "the capture ends early", error) + "; nothing later than " +
             format_duration(written_until_.time_since_epoch()) + " is in it";
  // Not half a block at the end. If that fails too, readers say that the last block is cut short.
  (void)!::ftruncate(file_, static_cast<off_t>(written_));
  if (told_) told_(problem_);
}

Result<Done, std::string> Capture::finish() {
  assert(file_ >= 0);
  // Some file systems tell only now that there was no room.
  if (::close(std::exchange(file_, kNoFile)) != 0 && problem_.empty())
    problem_ = cannot(path_, "the capture ends early", errno);
  if (!problem_.empty()) return Failure{problem_};
  return Done{};
}

}  // namespace emberline::io

#include "sim/io/line/capture.hpp"

#include <csignal>
#include <filesystem>
#include <fstream>

#include <doctest/doctest.h>
#include <sys/resource.h>

#include "sim/modbus/crc.hpp"
#include "tests/sim/io/line/capture_blocks.hpp"
#include "tests/sim/io/line/running.hpp"
#include "tests/sim/modbus/hex.hpp"

using namespace emberline;
using namespace emberline::test;
using namespace std::chrono_literals;

namespace {

constexpr std::size_t kField = 0;
constexpr std::size_t kEthernet = 1;
constexpr std::size_t kConverter = 2;

std::vector<bench::LineSpec> three_kinds() {
  bench::LineSpec converter = tcp_spec("converter");
  converter.kind = bench::LineKind::rtu_tcp;
  return {pty_spec("field"), tcp_spec("ethernet"), converter};
}

std::unique_ptr<io::Capture> open(const std::string& path) {
  auto capture = io::Capture::open(path, three_kinds());
  if (!capture) FAIL(capture.error());
  return std::move(capture).value();
}

SimTime at(Duration since_start) { return SimTime{since_start}; }

/// A query and its answer on every line; one frame damaged.
void fill(io::Capture& capture) {
  // MODBUS Application Protocol V1.1b3, 6.3; Messaging on TCP/IP V1.0b, 3.1.3.
  const auto query = modbus::rtu_frame(1, hex("03 00 6B 00 03"));
  const auto answer = modbus::rtu_frame(1, hex("03 06 02 2B 00 00 00 64"));
  capture.bytes(kField, 1, false, query, at(1s));
  capture.bytes(kField, 1, true, answer, at(1s + 20ms));
  capture.connection_opened(kEthernet, 2, at(2s));
  capture.bytes(kEthernet, 2, false, hex("15 01 00 00 00 06 FF 03 00 04 00 01"), at(2s));
  capture.bytes(kEthernet, 2, true, hex("15 01 00 00 00 05 FF 03 02 00 0A"), at(2s));
  capture.connection_closed(kEthernet, 2, at(3s));
  capture.bytes(kConverter, 3, false, query, at(4s));
  capture.bytes(kConverter, 3, true, hex("01 03 06 02"), at(4s), "cut short");
}

/// A limit on the size of files, as a full disk for those who write.
class FullDisk {
 public:
  explicit FullDisk(rlim_t bytes) : handler_(std::signal(SIGXFSZ, SIG_IGN)) {
    REQUIRE(::getrlimit(RLIMIT_FSIZE, &before_) == 0);
    const rlimit limit{bytes, before_.rlim_max};
    REQUIRE(::setrlimit(RLIMIT_FSIZE, &limit) == 0);
  }
  ~FullDisk() {
    (void)::setrlimit(RLIMIT_FSIZE, &before_);
    (void)std::signal(SIGXFSZ, handler_);
  }
  FullDisk(const FullDisk&) = delete;
  FullDisk& operator=(const FullDisk&) = delete;

 private:
  void (*handler_)(int);
  rlimit before_{};
};

}  // namespace

TEST_CASE("a capture names its lines, and each has the link type that readers need") {
  const Folder folder;
  auto capture = open(folder / "lines.pcapng");
  CHECK(capture->finish());
  const auto blocks = blocks_of(content_of(folder / "lines.pcapng"));
  REQUIRE(blocks.size() == 4);
  CHECK(blocks[0].type == 0x0A0D0D0A);  // draft-ietf-opsawg-pcapng, 4.1
  CHECK(little(blocks[0].body, 0, 4) == 0x1A2B3C4D);
  CHECK(little(blocks[0].body, 4, 2) == 1);
  struct Expected {
    const char* name;
    const char* description;
    std::uint32_t link_type;  // tcpdump.org, link-layer header types: RAW and WIRESHARK_UPPER_PDU
  };
  const Expected expected[] = {{"field", "pty, Modbus RTU, 19200 8E1", 252},
                               {"ethernet", "tcp, Modbus TCP, shown as port 502", 101},
                               {"converter", "rtu-tcp, Modbus RTU over TCP, shown without its TCP", 252}};
  for (std::size_t i = 0; i < 3; ++i) {
    const auto& block = blocks[i + 1];
    CHECK(block.type == 1);
    CHECK(little(block.body, 0, 2) == expected[i].link_type);
    const auto options = block.options(8);
    CHECK(std::string(options.at(2).begin(), options.at(2).end()) == expected[i].name);
    CHECK(std::string(options.at(3).begin(), options.at(3).end()) == expected[i].description);
    CHECK(options.at(9) == modbus::Bytes{9});  // nanoseconds
    CHECK(options.count(8) == (i == kField ? 1 : 0));
  }
  CHECK(little(blocks[1].options(8).at(8), 0, 4) == 19200);
}

TEST_CASE("a capture holds whole blocks at every moment of the run, and simulated time") {
  const Folder folder;
  const std::string path = folder / "running.pcapng";
  auto capture = open(path);
  CHECK(blocks_of(content_of(path)).size() == 4);
  const auto frame = modbus::rtu_frame(1, hex("03 00 6B 00 03"));
  for (std::size_t i = 1; i <= 20; ++i) {
    // Beyond 32 bits of nanoseconds, so that both halves of the time are needed.
    capture->bytes(kField, 1, false, frame, at(std::chrono::seconds{i} + 7ns));
    const auto packets = packets_of(content_of(path));
    REQUIRE(packets.size() == i);
    CHECK(packets.back().ns == 1'000'000'000 * i + 7);
    CHECK(packets.back().interface == kField);
  }
  CHECK(capture->queries() == 20);
  CHECK(capture->answers() == 0);
  CHECK(capture->finish());
}

TEST_CASE("an RTU frame stands in a capture behind tags that name dissector and ends") {
  const Folder folder;
  auto capture = open(folder / "rtu.pcapng");
  const auto frame = modbus::rtu_frame(1, hex("03 00 6B 00 03"));
  capture->bytes(kField, 0, false, frame, at(1s));
  capture->bytes(kField, 0, true, frame, at(1s));
  CHECK(capture->finish());
  const auto packets = packets_of(content_of(folder / "rtu.pcapng"));
  REQUIRE(packets.size() == 2);
  for (std::size_t i = 0; i < 2; ++i) {
    const auto& bytes = packets[i].bytes;
    std::map<std::uint32_t, modbus::Bytes> tags;
    std::size_t index = 0;
    while (big(bytes, index, 2) != 0) {
      const auto length = big(bytes, index + 2, 2);
      CHECK(length % 4 == 0);  // the length counts the padding: readers advance by it
      const auto begin = bytes.begin() + static_cast<std::ptrdiff_t>(index) + 4;
      tags[big(bytes, index, 2)] = {begin, begin + length};
      index += 4 + length;
    }
    CHECK(modbus::Bytes(bytes.begin() + static_cast<std::ptrdiff_t>(index) + 4, bytes.end()) == frame);
    CHECK(tags.at(12) == hex("6D 62 72 74 75 00 00 00"));  // "mbrtu"
    CHECK(tags.at(i == 0 ? 25 : 26) == hex("00 00 C0 00"));
    CHECK(tags.at(i == 0 ? 26 : 25) == hex("00 00 50 16"));  // 20502
    CHECK(tags.at(i == 0 ? 20 : 21) == hex("C6 33 64 01"));  // 198.51.100.1 (RFC 5737)
    CHECK(tags.at(i == 0 ? 21 : 20) == hex("C0 00 02 01"));  // 192.0.2.1
    CHECK(packets[i].flags == (i == 0 ? 1 : 2));             // inbound, outbound
    CHECK(packets[i].comment.empty());
  }
}

TEST_CASE("a damaged frame is marked in a capture, and a good one is not") {
  struct Case {
    const char* frame;
    std::uint32_t flags;  // draft-ietf-opsawg-pcapng, 4.3.1: bits 24, 25, 26 for CRC, too long, too short
    const char* comment;
  };
  const Case cases[] = {
      {"01 03 00 6B 00 03 74 17", 1, ""},
      {"01 03 00 6B 00 03 74 18", 1U | 1U << 24U, "no frame: the CRC is wrong"},
      {"55", 1U | 1U << 26U, "no frame: fewer than 4 bytes"},
      {"01 07 41 E2", 1, "query, unit 1, function 07"},
      {"00 06 00 01 00 03 99 DA", 1, "query, unit 0, function 06"},
  };
  const Folder folder;
  auto capture = open(folder / "damaged.pcapng");
  for (const auto& one : cases) capture->bytes(kField, 0, false, hex(one.frame), at(1s));
  capture->bytes(kField, 0, false, modbus::Bytes(300, 0xAA), at(1s), "noise");
  capture->bytes(kField, 0, false, {}, at(1s));
  CHECK(capture->finish());
  const auto packets = packets_of(content_of(folder / "damaged.pcapng"));
  REQUIRE(packets.size() == std::size(cases) + 1);
  for (std::size_t i = 0; i < std::size(cases); ++i) {
    CAPTURE(cases[i].frame);
    CHECK(packets[i].flags == cases[i].flags);
    CHECK(packets[i].comment == cases[i].comment);
  }
  CHECK(packets.back().flags == (1U | 1U << 25U));
  CHECK(packets.back().comment == "noise; no frame: more than 256 bytes");
  CHECK(capture->queries() == std::size(cases) + 1);
}

TEST_CASE("equal runs write equal captures") {
  const Folder folder;
  for (const char* name : {"first.pcapng", "second.pcapng"}) {
    auto capture = open(folder / name);
    fill(*capture);
    CHECK(capture->finish());
  }
  const auto first = content_of(folder / "first.pcapng");
  CHECK(first == content_of(folder / "second.pcapng"));
  CHECK(packets_of(first).size() == 12);  // six frames, three packets to open, three to close
}

TEST_CASE("a capture replaces the file that was there") {
  const Folder folder;
  std::ofstream(folder / "old.pcapng") << std::string(100'000, 'x');
  auto capture = open(folder / "old.pcapng");
  CHECK(capture->finish());
  CHECK(blocks_of(content_of(folder / "old.pcapng")).size() == 4);
}

TEST_CASE("what an earlier capture set aside is not left beside a new one of bounded size") {
  const Folder folder;
  std::filesystem::create_directory(folder / "elsewhere");
  std::ofstream(folder / "elsewhere/old.old.pcapng") << "of an earlier run";
  std::ofstream(folder / "elsewhere/old.pcapng") << "of an earlier run";
  std::filesystem::create_symlink(folder / "elsewhere/old.pcapng", folder / "old.pcapng");
  {
    const auto bounded = io::Capture::open(folder / "old.pcapng", three_kinds(), 20'000);
    REQUIRE(bounded);
    CHECK_FALSE(std::filesystem::exists(folder / "elsewhere/old.old.pcapng"));
    for (int i = 0; i < 200; ++i) fill(**bounded);
    CHECK((*bounded)->finish());
  }
  CHECK(std::filesystem::is_symlink(folder / "old.pcapng"));  // it is what is behind it that was set aside
  CHECK(std::filesystem::exists(folder / "elsewhere/old.old.pcapng"));
  const auto bytes = [&](const char* name) { return std::filesystem::file_size(folder / name); };
  CHECK(bytes("elsewhere/old.pcapng") + bytes("elsewhere/old.old.pcapng") <= 20'000);
}

TEST_CASE("a bound that leaves no room beside the lines' description is refused before the run") {
  const Folder folder;
  const auto capture = io::Capture::open(folder / "small.pcapng", three_kinds(), 1000);
  REQUIRE_FALSE(capture);
  CHECK(capture.error() ==
        folder / "small.pcapng" + ": the limit is too small for so many lines, expected 1 MB at least");
}

TEST_CASE("where no capture can be written, one line says so before the run") {
  const Folder folder;
  const auto refused = [](const std::string& path) {
    const auto capture = io::Capture::open(path, three_kinds());
    return capture ? std::string("opened") : capture.error();
  };
  CHECK(refused(folder / "") == folder / "" + ": cannot be written: Is a directory");
  CHECK(refused(folder / "none/x") == folder / "none/x" + ": cannot be written: No such file or directory");
  CHECK(refused("/dev/full") == "/dev/full: is not a plain file, which a capture needs");
}

TEST_CASE(
    "a disk that fills up during the run ends the capture with one line, and what is there can be read") {
  const Folder folder;
  const std::string path = folder / "full.pcapng";
  auto capture = open(path);
  {
    const FullDisk disk(2000);
    for (int i = 0; i < 10; ++i) fill(*capture);
  }
  fill(*capture);  // there is room again, but what is missing stays missing
  const auto finished = capture->finish();
  REQUIRE_FALSE(finished);
  CHECK(finished.error() ==
        path + ": the capture ends early: File too large; nothing later than 1.02 s is in it");
  const auto content = content_of(path);
  CHECK(content.size() <= 2000);
  CHECK(packets_of(content).size() > 5);
}

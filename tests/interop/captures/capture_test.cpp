#include "sim/io/line/capture.hpp"

#include <algorithm>
#include <cstdio>

#include <doctest/doctest.h>
#include <sys/wait.h>

#include "sim/base/random.hpp"
#include "sim/modbus/crc.hpp"
#include "sim/modbus/mbap_framer.hpp"
#include "tests/sim/io/line/running.hpp"
#include "tests/sim/modbus/hex.hpp"

// The reader is tshark, whose dissectors were written after the same standards by others.

using namespace emberline;
using namespace emberline::test;
using namespace std::chrono_literals;

namespace {

constexpr std::size_t kField = 0;
constexpr std::size_t kEthernet = 1;
constexpr std::size_t kConverter = 2;

struct Exchange {
  const char* clause;
  const char* query;
  const char* answer;
};

/// MODBUS Application Protocol V1.1b3, the examples of section 6. The answers to 11 and 2B/0E are device
/// specific, these are made up after their clauses.
const Exchange kExchanges[] = {
    {"6.1", "01 00 13 00 13", "01 03 CD 6B 05"},
    {"6.2", "02 00 C4 00 16", "02 03 AC DB 35"},
    {"6.3", "03 00 6B 00 03", "03 06 02 2B 00 00 00 64"},
    {"6.4", "04 00 08 00 01", "04 02 00 0A"},
    {"6.5", "05 00 AC FF 00", "05 00 AC FF 00"},
    {"6.6", "06 00 01 00 03", "06 00 01 00 03"},
    {"6.7", "07", "07 6D"},
    {"6.8", "08 00 00 A5 37", "08 00 00 A5 37"},
    {"6.9", "0B", "0B FF FF 01 08"},
    {"6.10", "0C", "0C 08 00 00 01 08 01 21 20 00"},
    {"6.11", "0F 00 13 00 0A 02 CD 01", "0F 00 13 00 0A"},
    {"6.12", "10 00 01 00 02 04 00 0A 01 02", "10 00 01 00 02"},
    {"6.13", "11", "11 03 41 42 FF"},
    {"6.16", "16 00 04 00 F2 00 25", "16 00 04 00 F2 00 25"},
    {"6.17", "17 00 03 00 06 00 0E 00 03 06 00 FF 00 FF 00 FF", "17 0C 00 FE 0A CD 00 01 00 03 00 0D 00 FF"},
    {"6.21", "2B 0E 01 00", "2B 0E 01 01 00 00 03 00 02 41 42 01 02 43 44 02 03 31 2E 30"},
    {"6.1", "01 04 A1 00 01", "81 02"},
    {"6.12", "10 00 63 00 02 04 00 01 00 02", "90 02"},
};
constexpr std::size_t kRounds = std::size(kExchanges);

using Row = std::vector<std::string>;

/// What tshark prints about a capture, a row a packet; it fails the test if there is no tshark.
std::vector<Row> ask_tshark(const std::string& path, const std::string& arguments) {
  const Folder settings;  // nobody's own
  const std::string command = "WIRESHARK_CONFIG_DIR='" + settings / "" + "' tshark -n -r '" + path + "' " +
                              arguments + " 2>'" + settings / "words" + "'";
  FILE* pipe = ::popen(command.c_str(), "r");
  REQUIRE(pipe != nullptr);
  std::string text;
  char piece[4096];
  for (std::size_t size = 0; (size = std::fread(piece, 1, sizeof(piece), pipe)) > 0;)
    text.append(piece, size);
  const int status = ::pclose(pipe);
  REQUIRE_MESSAGE((!WIFEXITED(status) || WEXITSTATUS(status) != 127),
                  "tshark is not installed; tests/setup.sh installs it");
  CHECK(status == 0);
  std::vector<Row> rows;
  Row row(1);
  for (const char c : text) {
    if (c == '\n') {
      rows.push_back(row);
      row.assign(1, "");
    } else if (c == '\t') {
      row.emplace_back();
    } else {
      row.back() += c;
    }
  }
  return rows;
}

std::string fields(std::initializer_list<const char*> names) {
  std::string arguments = "-T fields";
  for (const char* name : names) arguments += std::string(" -e ") + name;
  return arguments;
}

/// Source and what the list says of every packet.
const std::string kList = "-T tabs -o 'gui.column.format:\"Source\",\"%s\",\"Info\",\"%i\"'";
/// Everything whose checksum is wrong, that is out of place in its stream, or that cannot be made out.
const std::string kFaults =
    "-o ip.check_checksum:TRUE -o tcp.check_checksum:TRUE "
    "-Y '_ws.malformed || tcp.analysis.flags || ip.checksum.status == \"Bad\" || tcp.checksum.status == "
    "\"Bad\"'";

std::size_t count(const std::vector<Row>& rows, const std::string& words) {
  std::size_t found = 0;
  for (const auto& row : rows) found += row.back().find(words) != std::string::npos ? 1 : 0;
  return found;
}

std::unique_ptr<io::Capture> open(const std::string& path) {
  bench::LineSpec converter = tcp_spec("converter");
  converter.kind = bench::LineKind::rtu_tcp;
  auto capture = io::Capture::open(path, {pty_spec("field"), tcp_spec("ethernet"), converter});
  if (!capture) FAIL(capture.error());
  return std::move(capture).value();
}

SimTime at(std::size_t ms) { return SimTime{std::chrono::milliseconds{ms}}; }

std::string function_of(const std::string& pdu) { return std::to_string(hex(pdu.substr(0, 2))[0] & 0x7FU); }

}  // namespace

TEST_CASE("tshark reads a captured Modbus TCP line without settings, frame by frame as it was written") {
  const Folder folder;
  const std::string path = folder / "tcp.pcapng";
  auto capture = open(path);
  capture->connection_opened(kEthernet, 1, at(0));
  for (std::size_t i = 0; i < kRounds; ++i) {
    const auto transaction = static_cast<std::uint16_t>(0x1500 + i);
    capture->bytes(kEthernet, 1, false, modbus::mbap_frame(transaction, 1, hex(kExchanges[i].query)),
                   at(10 * i));
    capture->bytes(kEthernet, 1, true, modbus::mbap_frame(transaction, 1, hex(kExchanges[i].answer)),
                   at(10 * i + 3));
  }
  capture->connection_closed(kEthernet, 1, at(1000));
  REQUIRE(capture->finish());

  CHECK(ask_tshark(path, kFaults).empty());
  const auto list = ask_tshark(path, kList + " -Y mbtcp");
  CHECK(list.size() == capture->queries() + capture->answers());
  CHECK(count(list, "Query:") == capture->queries());
  CHECK(count(list, "Response:") == capture->answers());
  CHECK(count(list, "Exception returned") == 2);
  const auto rows = ask_tshark(path, fields({"mbtcp.trans_id", "modbus.func_code", "frame.interface_name",
                                             "frame.time_relative", "modbus.request_frame"}) +
                                         " -Y mbtcp");
  REQUIRE(rows.size() == 2 * kRounds);
  for (std::size_t i = 0; i < rows.size(); ++i) {
    CAPTURE(std::string(kExchanges[i / 2].clause));
    CHECK(rows[i][0] == std::to_string(0x1500 + i / 2));
    CHECK(rows[i][1] == function_of(kExchanges[i / 2].query));
    CHECK(rows[i][2] == "ethernet");
    CHECK(std::stod(rows[i][3]) ==
          doctest::Approx(0.010 * static_cast<double>(i / 2) + (i % 2 == 0 ? 0 : 0.003)));
    // An answer is tied to its query, unless it is an exception.
    CHECK(rows[i][4].empty() == (i % 2 == 0 || (hex(kExchanges[i / 2].answer)[0] & 0x80U) != 0));
  }
  // 6.3: registers 108 to 110 are 555, 0 and 100.
  const auto words = ask_tshark(path, fields({"modbus.regval_uint16"}) + " -Y 'modbus.func_code == 3'");
  REQUIRE(words.size() == 2);
  CHECK(words[1] == Row{"555,0,100"});
}

TEST_CASE("tshark puts a TCP line together again from pieces of frames and from many frames at once") {
  const Folder folder;
  const std::string path = folder / "pieces.pcapng";
  auto capture = open(path);
  modbus::Bytes all;
  for (std::size_t i = 0; i < kRounds; ++i) {
    const auto query = modbus::mbap_frame(static_cast<std::uint16_t>(i), 1, hex(kExchanges[i].query));
    // It wants a header and a function code to begin with, and then takes bytes one by one.
    constexpr std::size_t kFirst = 8;
    capture->bytes(kEthernet, 1, false, modbus::ByteView(query).first(kFirst), at(i));
    for (std::size_t k = kFirst; k < query.size(); ++k)
      capture->bytes(kEthernet, 1, false, {&query[k], 1}, at(i));
    all.insert(all.end(), query.begin(), query.end());
  }
  capture->bytes(kEthernet, 2, false, all, at(100));
  capture->connection_closed(kEthernet, 1, at(200), io::Ending::reset_by_bench);
  capture->connection_closed(kEthernet, 2, at(200), io::Ending::by_bench);
  REQUIRE(capture->finish());
  CHECK(ask_tshark(path, kFaults).empty());
  std::size_t queries = 0;
  for (const auto& row : ask_tshark(path, fields({"mbtcp.trans_id"}) + " -Y mbtcp"))
    queries += 1 + static_cast<std::size_t>(std::count(row[0].begin(), row[0].end(), ','));
  CHECK(queries == 2 * kRounds);
}

TEST_CASE("tshark reads captured RTU lines, and with their port set it tells every query from its answer") {
  for (const auto line : {kField, kConverter}) {
    CAPTURE(line);
    const Folder folder;
    const std::string path = folder / "rtu.pcapng";
    auto capture = open(path);
    for (std::size_t i = 0; i < kRounds; ++i) {
      capture->bytes(line, 7, false, modbus::rtu_frame(17, hex(kExchanges[i].query)), at(100 * i));
      capture->bytes(line, 7, true, modbus::rtu_frame(17, hex(kExchanges[i].answer)), at(100 * i + 20));
    }
    REQUIRE(capture->finish());

    // Four frames are a function code and nothing else, which this dissector passes over.
    constexpr std::size_t kUnshown = 4;
    const auto plain =
        ask_tshark(path, fields({"ip.addr", "modbus.func_code", "mbrtu.unit_id", "frame.comment"}) +
                             " -o mbrtu.crc_verification:TRUE");
    REQUIRE(plain.size() == 2 * kRounds);
    std::size_t unshown = 0;
    for (std::size_t i = 0; i < plain.size(); ++i) {
      CAPTURE(std::string(kExchanges[i / 2].clause));
      if (plain[i][1].empty()) {
        ++unshown;
        const std::string function = std::string(kExchanges[i / 2].query).substr(0, 2);
        CHECK(plain[i][3] == "query, unit 17, function " + function);
        continue;
      }
      CHECK(plain[i][1] == function_of(kExchanges[i / 2].query));
      CHECK(plain[i][2] == "17");
      CHECK(plain[i][3].empty());
    }
    CHECK(unshown == kUnshown);
    CHECK(
        ask_tshark(path, "-o mbrtu.crc_verification:TRUE -Y '_ws.malformed || mbrtu.crc16.status == \"Bad\"'")
            .empty());

    const auto list = ask_tshark(path, kList + " -o mbrtu.tcp.port:20502");
    CHECK(count(list, "Query:") == capture->queries() - kUnshown);
    CHECK(count(list, "Response:") == capture->answers());
    const std::string bench_address = "192.0.2." + std::to_string(line + 1);
    for (std::size_t i = 0; i < list.size(); ++i)
      CHECK(list[i][0].find(i % 2 == 0 ? "198.51.100.1" : bench_address) != std::string::npos);
  }
}

TEST_CASE("a damaged frame shows in tshark as damaged, and the frames beside it are read all the same") {
  const Folder folder;
  const std::string path = folder / "damaged.pcapng";
  auto capture = open(path);
  Random random(7);
  constexpr std::size_t kDamaged = 300;
  for (std::size_t i = 0; i < kDamaged; ++i) {
    const auto& exchange = kExchanges[i % 6];  // 01 to 06: the dissector shows all of these
    auto query = modbus::rtu_frame(1, hex(exchange.query));
    const auto good = query;
    switch (i % 3) {
      case 0:
        query[random.below(query.size())] ^= static_cast<std::uint8_t>(1U << random.below(8));
        break;
      case 1:
        query.resize(1 + random.below(query.size() - 1));
        break;
      default:
        query.resize(1 + random.below(300));
        for (auto& byte : query) byte = static_cast<std::uint8_t>(random.below(256));
    }
    capture->bytes(kField, 0, false, query, at(100 * i), "bits of it were turned");
    capture->bytes(kField, 0, false, good, at(100 * i + 40));
    capture->bytes(kField, 0, true, modbus::rtu_frame(1, hex(exchange.answer)), at(100 * i + 80));
  }
  REQUIRE(capture->finish());
  const auto rows =
      ask_tshark(path, fields({"frame.packet_flags_crc_error", "frame.packet_flags_packet_too_error",
                               "frame.packet_flags_packet_too_short_error", "frame.comment",
                               "modbus.func_code", "mbrtu.crc16.status", "_ws.malformed"}) +
                           " -o mbrtu.crc_verification:TRUE");
  REQUIRE(rows.size() == 3 * kDamaged);
  for (std::size_t i = 0; i < rows.size(); ++i) {
    CAPTURE(i);
    CHECK((rows[i][0] + rows[i][1] + rows[i][2]).find_first_not_of("01") == std::string::npos);
    const bool marked = (rows[i][0] + rows[i][1] + rows[i][2]).find('1') != std::string::npos;
    CHECK(marked == (i % 3 == 0));
    CHECK((rows[i][3].find("bits of it were turned; no frame") == 0) == (i % 3 == 0));
    if (i % 3 == 0) continue;
    CHECK(rows[i][4] == function_of(kExchanges[i / 3 % 6].query));
    CHECK(rows[i][5] == "1");
    CHECK(rows[i][6].empty());
  }
}

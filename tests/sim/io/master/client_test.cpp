#include "sim/io/master/client.hpp"

#include <chrono>
#include <fstream>
#include <string>
#include <thread>
#include <vector>

#include <doctest/doctest.h>
#include <unistd.h>

#include "tests/sim/io/master/plain_slave.hpp"
#include "tests/support/this_build.hpp"

namespace emberline::io {
namespace {

using namespace std::chrono_literals;
using modbus::Table;
using Words = std::vector<std::uint16_t>;
using Bits = std::vector<bool>;

constexpr Duration kPatience = 20s;  // only for answers that come
constexpr Duration kShort = 50ms;    // for answers that do not

LineAddress tcp_at(std::uint16_t port) {
  LineAddress line;
  line.name = "ethernet";
  line.rtu = false;
  line.host = "127.0.0.1";
  line.port = port;
  return line;
}

LineAddress terminal_at(const std::string& path) {
  LineAddress line;
  line.name = "field";
  line.path = path;
  return line;
}

LineAddress line_to(const PlainSlave& slave) {
  return slave.port() != 0 ? tcp_at(slave.port()) : terminal_at(slave.path());
}

std::unique_ptr<Client> open_client(const LineAddress& line, Duration timeout) {
  auto client = Client::open(line, timeout);
  REQUIRE(client);
  return std::move(client).value();
}

std::string opening_error(const LineAddress& line) {
  const auto client = Client::open(line, kShort);
  return client ? "opened" : client.error();
}

TEST_CASE("all four tables are read and written, over TCP and over a terminal") {
  for (const auto kind : {PlainSlave::Kind::tcp, PlainSlave::Kind::pty}) {
    CAPTURE(static_cast<int>(kind));
    PlainSlave slave(kind);
    const auto client = open_client(line_to(slave), kPatience);
    CHECK(client->read_registers(1, Table::holding_registers, {2, 3}).value() == Words{102, 103, 104});
    CHECK(client->read_registers(1, Table::input_registers, {15, 1}).value() == Words{215});
    CHECK(client->read_bits(1, Table::discrete_inputs, {2, 3}).value() == Bits{false, true, false});
    CHECK(client->write_registers(1, 2, {7}));
    CHECK(client->write_registers(1, 3, {8, 9}));
    CHECK(client->read_registers(1, Table::holding_registers, {2, 3}).value() == Words{7, 8, 9});
    CHECK(client->write_bits(1, 0, {true}));
    CHECK(client->write_bits(1, 2, {true, true}));
    CHECK(client->read_bits(1, Table::coils, {0, 4}).value() == Bits{true, false, true, true});
  }
}

TEST_CASE("a refusal is told with its code and in the standard's words") {
  PlainSlave slave(PlainSlave::Kind::tcp);
  const auto client = open_client(line_to(slave), kPatience);
  const auto read = client->read_registers(1, Table::holding_registers, {16, 1});
  REQUIRE_FALSE(read);
  CHECK(read.error().refusal == modbus::Refusal::illegal_data_address);
  CHECK(read.error().sentence == "refused: illegal data address (02)");
}

TEST_CASE("a slave that does not answer is told with unit and time, and the next request is not spoilt") {
  for (const auto kind : {PlainSlave::Kind::tcp, PlainSlave::Kind::pty}) {
    CAPTURE(static_cast<int>(kind));
    PlainSlave slave(kind);
    const auto client = open_client(line_to(slave), kShort);
    slave.silent = true;
    const auto read = client->read_registers(1, Table::holding_registers, {0, 1});
    REQUIRE_FALSE(read);
    CHECK_FALSE(read.error().refusal);
    CHECK(read.error().sentence == "no answer from unit 1 within 50 ms");
    // On a loaded machine it may come to the slave only now: answered then, it would be taken for the next.
    while (slave.requests() == 0) std::this_thread::yield();
    slave.silent = false;
    // A loaded machine may need more than 50 ms now and then, so it is asked until it answers.
    auto again = client->read_registers(1, Table::holding_registers, {5, 1});
    for (int tries = 0; !again && tries < 100; ++tries) {
      again = client->read_registers(1, Table::holding_registers, {5, 1});
    }
    REQUIRE(again);
    CHECK(again.value() == Words{105});
  }
}

TEST_CASE("a connection that the other side closes is told as such and made anew") {
  PlainSlave slave(PlainSlave::Kind::tcp);
  const auto client = open_client(line_to(slave), kPatience);
  slave.hangs_up = true;
  const auto read = client->read_registers(1, Table::holding_registers, {0, 1});
  REQUIRE_FALSE(read);
  CHECK(read.error().sentence == "no answer from unit 1: the other side closed the connection");
  slave.hangs_up = false;
  CHECK(client->read_registers(1, Table::holding_registers, {1, 1}).value() == Words{101});
  CHECK(slave.connections() == 2);
  slave.stop();
  (void)client->read_registers(1, Table::holding_registers, {1, 1});
  const auto gone = client->read_registers(1, Table::holding_registers, {1, 1});
  REQUIRE_FALSE(gone);
  CHECK(gone.error().sentence == "no answer from unit 1: the line cannot be opened any more");
}

TEST_CASE("a terminal that is gone is told as such") {
  PlainSlave slave(PlainSlave::Kind::pty);
  const auto client = open_client(line_to(slave), kPatience);
  slave.stop();
  const auto read = client->read_registers(1, Table::holding_registers, {0, 1});
  REQUIRE_FALSE(read);
  CHECK(read.error().sentence == "no answer from unit 1: the terminal was hung up");
}

TEST_CASE("what cannot be asked is said before anything is sent") {
  PlainSlave slave(PlainSlave::Kind::tcp);
  const auto client = open_client(line_to(slave), kPatience);
  CHECK(client->read_registers(300, Table::holding_registers, {0, 1}).error().sentence ==
        "unit 300 cannot be asked: expected a unit id from 1 to 247");
  CHECK(client->read_registers(1, Table::holding_registers, {0, 126}).error().sentence ==
        "a request carries at most 125 registers (123 when writing) or 2000 bits (1968)");
}

TEST_CASE("a line that cannot be opened is one clear line") {
  CHECK(opening_error(terminal_at("/no/such/terminal")) == "terminal /no/such/terminal does not exist");

  const std::string path = testing::build_folder() + "/no-terminal-" + std::to_string(::getpid());
  std::ofstream(path) << "a file";
  CHECK(opening_error(terminal_at(path)) ==
        path + " is no terminal; expected a serial port or a pseudo-terminal");
  ::unlink(path.c_str());

  LineAddress seven_bits = terminal_at("/dev/ptmx");
  seven_bits.serial.data_bits = 7;
  CHECK(opening_error(seven_bits) == "Modbus RTU needs 8 data bits, not 7");

  std::uint16_t port = 0;
  {
    const PlainSlave gone(PlainSlave::Kind::tcp);
    port = gone.port();
  }
  CHECK(opening_error(tcp_at(port)) ==
        "no connection to 127.0.0.1:" + std::to_string(port) + ": nobody listens there");
  LineAddress unknown = tcp_at(502);
  unknown.host = "no host.invalid";
  CHECK(opening_error(unknown) ==
        "no connection to no host.invalid:502: nobody listens there, or the host is unknown");
}

}  // namespace
}  // namespace emberline::io

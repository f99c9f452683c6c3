#include "sim/io/line/pty_device.hpp"

#include <doctest/doctest.h>
#include <sys/ioctl.h>

#include "tests/sim/io/line/raw_master.hpp"

using namespace emberline;
using namespace emberline::test;
using io::PtyDevice;

namespace {

std::unique_ptr<PtyDevice> open_device(SerialFormat format = {}) {
  auto device = PtyDevice::open(format);
  REQUIRE(device);
  return std::move(device).value();
}

/// Waits for the bytes to cross the pseudo-terminal, which takes the system a moment.
Bytes read_some(PtyDevice& device, std::size_t count) {
  Bytes all;
  const Deadline deadline;
  while (all.size() < count) {
    deadline.check();
    const Bytes more = device.read(count - all.size());
    all.insert(all.end(), more.begin(), more.end());
  }
  return all;
}

}  // namespace

TEST_CASE("whether any master is there is known at every time") {
  const auto device = open_device();
  CHECK_FALSE(device->anybody_there());
  auto first = RawMaster::pty(device->path());
  CHECK(device->anybody_there());
  auto second = RawMaster::pty(device->path());
  first.close();
  CHECK(device->anybody_there());
  second.close();
  CHECK_FALSE(device->anybody_there());
  CHECK(device->master_has_gone());
  CHECK_FALSE(device->master_has_gone());
}

TEST_CASE("asking who is there does not look like a master that goes, and loses no byte either way") {
  const auto device = open_device();
  const auto master = RawMaster::pty(device->path());
  master.send({1, 2, 3});
  device->write(Bytes{4, 5, 6});
  for (int i = 0; i < 100; ++i) {
    CHECK(device->anybody_there());
  }
  CHECK_FALSE(device->master_has_gone());
  CHECK(read_some(*device, 3) == Bytes{1, 2, 3});
  CHECK(master.receive(3) == Bytes{4, 5, 6});
}

TEST_CASE("a master that wrote and went is still heard, and reading without one is no error") {
  const auto device = open_device();
  for (int i = 0; i < 50; ++i) {
    auto master = RawMaster::pty(device->path());
    master.send({7, 8, 9});
    master.close();
    CHECK(read_some(*device, 3) == Bytes{7, 8, 9});
    CHECK(device->read(10).empty());
  }
}

TEST_CASE("what a master left unread does not wait for the next one") {
  const auto device = open_device();
  for (int i = 0; i < 200; ++i) {
    auto gone = RawMaster::pty(device->path());
    device->write(Bytes{0xAA, 0xBB});
    gone.close();
    device->discard_unread();
    const auto next = RawMaster::pty(device->path());
    device->write(Bytes{1});
    CHECK(next.receive(1) == Bytes{1});
  }
}

TEST_CASE("what is still on its way to the terminal is thrown away with the rest") {
  const auto device = open_device();
  const auto master = RawMaster::pty(device->path());
  for (int i = 0; i < 2000; ++i) {
    device->write(Bytes{0xAA, 0xBB});
    device->discard_unread();
    device->write(Bytes{1});
    REQUIRE(master.receive(1) == Bytes{1});
  }
}

TEST_CASE("a master's speed and stop bits are seen, and are the line's own again once restored") {
  const auto device = open_device({.baud = 19200, .data_bits = 8, .parity = 'E', .stop_bits = 1});
  CHECK(device->settings() == PtyDevice::Settings{19200, 1, false});
  const auto master = RawMaster::pty(device->path());
  master.set_serial(B9600, true, true);
  CHECK(device->settings() == PtyDevice::Settings{9600, 2, true});
  device->switch_echo_off();
  CHECK(device->settings() == PtyDevice::Settings{9600, 2, false});
  device->restore_settings();
  CHECK(device->settings() == PtyDevice::Settings{19200, 1, false});
}

TEST_CASE("a master that wants the terminal for itself keeps neither us nor the next master out") {
  const auto device = open_device();
  auto selfish = RawMaster::pty(device->path());
  REQUIRE(::ioctl(selfish.descriptor(), TIOCEXCL) == 0);
  CHECK(device->anybody_there());
  CHECK(device->hold());
  selfish.close();
  device->restore_settings();
  CHECK_FALSE(device->anybody_there());
  const auto next = RawMaster::pty(device->path());
  CHECK(device->anybody_there());
}

TEST_CASE("the terminal of a running bench is told from one that is merely in use") {
  auto device = open_device();
  const std::string path = device->path();
  CHECK(io::terminal_of_a_running_bench(path));
  device.reset();
  // Its number is free again and soon given to somebody else. Here that is us, unless another program is
  // quicker.
  std::vector<io::Descriptor> others;
  for (int i = 0; i < 20; ++i) {
    others.emplace_back(::posix_openpt(O_RDWR | O_NOCTTY | O_CLOEXEC));
    REQUIRE(others.back().open());
    char name[128];
    REQUIRE(::ptsname_r(others.back().number(), name, sizeof(name)) == 0);
    CHECK_FALSE(io::terminal_of_a_running_bench(name));
  }
  CHECK_FALSE(io::terminal_of_a_running_bench("/dev/null"));
  CHECK_FALSE(io::terminal_of_a_running_bench("/dev/null", "/tmp/field"));
}

#include "sim/io/line/pty_device.hpp"

#include <array>
#include <cerrno>
#include <charconv>
#include <cstdint>
#include <filesystem>
#include <optional>
#include <string_view>
#include <system_error>
#include <tuple>
#include <utility>

#include <fcntl.h>
#include <poll.h>
#include <stdlib.h>
#include <sys/inotify.h>
#include <sys/ioctl.h>
#include <termios.h>
#include <unistd.h>

#include "sim/io/line/serial_speed.hpp"

namespace emberline::io {
namespace {

std::optional<long> terminal_number(const std::string& path) {
  constexpr std::string_view kFolder = "/dev/pts/";
  if (!path.starts_with(kFolder)) {
    return std::nullopt;
  }
  long number = 0;
  const char* end = path.data() + path.size();
  const auto [stop, error] = std::from_chars(path.data() + kFolder.size(), end, number);
  return error == std::errc{} && stop == end ? std::optional(number) : std::nullopt;
}

// A bench marks its terminals by a lock on the byte of their number in /dev/ptmx, held by the descriptor of
// our end. It ends exactly when the terminal does, and no master ever meets it: locks on the terminal itself
// would be in the way of masters that want it for themselves.
struct flock mark(long number) {
  struct flock lock {};
  lock.l_type = F_WRLCK;
  lock.l_whence = SEEK_SET;
  lock.l_start = number;
  lock.l_len = 1;
  return lock;
}

// A second byte says by which link it is found: the system gives a number to somebody else as soon as it is
// free, so an old link may lead to a terminal that another line has now, under another link. Numbers stay far
// below 2^20 (/proc/sys/kernel/pty/max).
struct flock mark(long number, const std::string& link) {
  std::error_code error;
  const std::filesystem::path path(link);
  const auto folder = std::filesystem::weakly_canonical(
      path.has_parent_path() ? path.parent_path() : std::filesystem::path("."), error);
  const auto whole = (folder / path.filename()).string();
  std::uint32_t hash = 2166136261U;  // FNV-1a with 32 bits, its numbers from memory
  for (const char c : whole) hash = (hash ^ static_cast<unsigned char>(c)) * 16777619U;
  struct flock lock = mark(number);
  lock.l_start = (1LL << 60) + (static_cast<long long>(number) << 32) + hash;
  return lock;
}

// If the system cannot tell, it counts as set: what is in use must never be taken away.
bool is_set(struct flock lock) {
  const Descriptor multiplexer(::posix_openpt(O_RDWR | O_NOCTTY | O_CLOEXEC));
  return !multiplexer.open() || ::fcntl(multiplexer.number(), F_OFD_GETLK, &lock) != 0 ||
         lock.l_type != F_UNLCK;
}

Failure<std::string> refused(std::string_view what) {
  return Failure{std::string(what) + ": " + system_words(errno)};
}

}  // namespace

bool terminal_of_a_running_bench(const std::string& path) {
  const auto number = terminal_number(path);
  return number && is_set(mark(*number));
}

bool terminal_of_a_running_bench(const std::string& path, const std::string& link) {
  const auto number = terminal_number(path);
  return number && is_set(mark(*number, link));
}

void PtyDevice::is_found_by(const std::string& link) {
  if (const auto number = terminal_number(path_)) {
    struct flock lock = mark(*number, link);
    ::fcntl(descriptor(), F_OFD_SETLK, &lock);
  }
}

PtyDevice::PtyDevice(Descriptor ours, std::string path, const SerialFormat& format)
    : ours_(std::move(ours)), path_(std::move(path)), format_(format) {}

Result<std::unique_ptr<PtyDevice>, std::string> PtyDevice::open(const SerialFormat& format) {
  Descriptor ours(::posix_openpt(O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC));
  std::array<char, 128> name{};
  if (!ours.open() || ::grantpt(ours.number()) != 0 || ::unlockpt(ours.number()) != 0 ||
      ::ptsname_r(ours.number(), name.data(), name.size()) != 0) {
    return refused("the system gives no pseudo-terminal");
  }
  std::unique_ptr<PtyDevice> device(new PtyDevice(std::move(ours), name.data(), format));
  if (!device->hold()) {
    return refused("cannot open the pseudo-terminal " + device->path_);
  }
  if (const auto number = terminal_number(device->path_)) {
    struct flock lock = mark(*number);
    ::fcntl(device->descriptor(), F_OFD_SETLK, &lock);
  }
  device->restore_settings();
  // Without a watch (the system has a limit) everything works but one thing: an answer that one master left
  // unread may meet the next.
  device->watch_ = Descriptor(::inotify_init1(IN_NONBLOCK | IN_CLOEXEC));
  if (device->watch_.open() &&
      ::inotify_add_watch(device->watch_.number(), device->path_.c_str(), IN_CLOSE_WRITE) < 0) {
    device->watch_.close();
  }
  return device;
}

bool PtyDevice::hold() {
  if (!held_.open()) {
    held_ = Descriptor(::open(path_.c_str(), O_RDONLY | O_NOCTTY | O_NONBLOCK | O_CLOEXEC));
  }
  return held_.open();
}

modbus::Bytes PtyDevice::read(std::size_t most) {
  modbus::Bytes bytes(most);
  std::size_t got = 0;
  while (got < most) {
    const ssize_t count = ::read(ours_.number(), bytes.data() + got, most - got);
    if (count > 0) {
      got += static_cast<std::size_t>(count);
    } else if (count == 0 || errno != EINTR) {
      break;
    }
  }
  bytes.resize(got);
  return bytes;
}

void PtyDevice::write(modbus::ByteView bytes) {
  while (::write(ours_.number(), bytes.data(), bytes.size()) < 0 && errno == EINTR) {
  }
}

// Masters open the terminal for reading and writing, so their leaving shows as "closed after writing was
// allowed". Our own descriptor reads only: closing it in anybody_there() does not show.
bool PtyDevice::master_has_gone() {
  if (!watch_.open()) {
    return false;
  }
  bool gone = false;
  alignas(inotify_event) std::array<char, 1024> events{};
  while (::read(watch_.number(), events.data(), events.size()) > 0) {
    gone = true;
  }
  return gone;
}

// The kernel says "hung up" exactly when nobody has the masters' end open, so our own descriptor steps aside
// for the question. Exclusive use (TIOCEXCL) would keep us from coming back; it also answers the question.
bool PtyDevice::anybody_there() {
  int exclusive = 0;
  if (held_.open() && ::ioctl(held_.number(), TIOCGEXCL, &exclusive) == 0 && exclusive != 0) {
    return true;
  }
  held_.close();
  struct pollfd ours {
    ours_.number(), 0, 0
  };
  ::poll(&ours, 1, 0);
  hold();
  return (ours.revents & POLLHUP) == 0;
}

void PtyDevice::discard_unread() {
  // At the masters' end this also takes what is still on its way there.
  if (hold()) {
    ::tcflush(held_.number(), TCIFLUSH);
  }
}

void PtyDevice::restore_settings() {
  struct termios settings {};
  if (!hold() || ::tcgetattr(held_.number(), &settings) != 0) {
    return;
  }
  ::cfmakeraw(&settings);
  ::cfsetspeed(&settings, constant_of(format_.baud));
  settings.c_cflag |= CLOCAL | CREAD;
  settings.c_cflag &= ~static_cast<tcflag_t>(CSTOPB);
  if (format_.stop_bits == 2) {
    settings.c_cflag |= CSTOPB;
  }
  ::tcsetattr(held_.number(), TCSANOW, &settings);
  ::tcgetattr(held_.number(), &before_);
  end_exclusive_use();
}

void PtyDevice::end_exclusive_use() {
  if (hold()) {
    ::ioctl(held_.number(), TIOCNXCL);
  }
}

bool PtyDevice::settings_as_before() const {
  struct termios now {};
  const auto flags = [](const struct termios& of) {
    return std::tuple(of.c_iflag, of.c_oflag, of.c_cflag, of.c_lflag, ::cfgetospeed(&of));
  };
  return ::tcgetattr(ours_.number(), &now) == 0 && flags(now) == flags(before_);
}

PtyDevice::Settings PtyDevice::settings() const {
  struct termios settings {};
  if (::tcgetattr(ours_.number(), &settings) != 0) {
    return {format_.baud, format_.stop_bits, false};
  }
  return {baud_of(::cfgetospeed(&settings)), (settings.c_cflag & CSTOPB) != 0 ? 2 : 1,
          (settings.c_lflag & ECHO) != 0};
}

void PtyDevice::switch_echo_off() {
  struct termios settings {};
  if (hold() && ::tcgetattr(held_.number(), &settings) == 0) {
    settings.c_lflag &= ~static_cast<tcflag_t>(ECHO);
    ::tcsetattr(held_.number(), TCSANOW, &settings);
  }
}

}  // namespace emberline::io

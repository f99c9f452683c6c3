#include "sim/io/line/serial_device.hpp"

#include <cerrno>
#include <utility>

#include <fcntl.h>
#include <linux/serial.h>
#include <sys/file.h>
#include <sys/ioctl.h>
#include <sys/stat.h>
#include <sys/sysmacros.h>
#include <termios.h>
#include <unistd.h>

#include "sim/io/line/serial_speed.hpp"

namespace emberline::io {
namespace {

// Linux, Documentation/admin-guide/devices.txt: 136 to 143 are the masters' ends of pseudo-terminals.
constexpr unsigned kPtyMajorFirst = 136;
constexpr unsigned kPtyMajorLast = 143;

using Problem = SerialDevice::Problem;

Failure<Problem> cannot_open(const std::string& path, int error) {
  switch (error) {
    case ENOENT:
    case ENODEV:
    case ENXIO:
      return Failure{
          Problem{true, path + " is not there; expected the tty of an adapter that is plugged in"}};
    case EACCES:
    case EPERM:
      return Failure{Problem{false, "no permission to use " + path + "; expected to be of its group"}};
    case EBUSY:
    case EWOULDBLOCK:
      return Failure{Problem{false, path + " is in use by another program; expected it for us alone"}};
    default:
      return Failure{Problem{false, "cannot open " + path + ": " + system_words(error)}};
  }
}

bool gone(int error) { return error == EIO || error == ENXIO || error == ENODEV; }

void set_format(struct termios& settings, const SerialFormat& format) {
  ::cfmakeraw(&settings);
  ::cfsetspeed(&settings, constant_of(format.baud));
  settings.c_cflag &= ~static_cast<tcflag_t>(CSTOPB | PARENB | PARODD | CRTSCTS | HUPCL);
  settings.c_cflag |= CLOCAL | CREAD;
  if (format.stop_bits == 2) {
    settings.c_cflag |= CSTOPB;
  }
  if (format.parity != 'N') {
    settings.c_cflag |= PARENB;
  }
  if (format.parity == 'O') {
    settings.c_cflag |= PARODD;
  }
  // Without IGNPAR and PARMRK a character with an error is read as 0, and the frame's CRC is wrong.
  settings.c_iflag &= ~static_cast<tcflag_t>(IGNPAR | PARMRK);
  settings.c_iflag |= INPCK;
  settings.c_cc[VMIN] = 1;
  settings.c_cc[VTIME] = 0;
}

/// What of the format is not in the settings that the driver has now.
std::string differences(const struct termios& now, const SerialFormat& format) {
  std::string words;
  const auto add = [&words](const std::string& what) { words += (words.empty() ? "" : ", ") + what; };
  if (baud_of(::cfgetospeed(&now)) != format.baud) {
    add(std::to_string(format.baud) + " bit/s");
  }
  const char parity = (now.c_cflag & PARENB) == 0 ? 'N' : (now.c_cflag & PARODD) != 0 ? 'O' : 'E';
  if (parity != format.parity) {
    add(std::string("parity ") + format.parity);
  }
  if (((now.c_cflag & CSTOPB) != 0) != (format.stop_bits == 2)) {
    add(std::to_string(format.stop_bits) + " stop bits");
  }
  return words;
}

}  // namespace

Result<std::unique_ptr<SerialDevice>, Problem> SerialDevice::open(const std::string& path,
                                                                  const Options& options) {
  // Without waiting for a carrier, which most adapters never show.
  Descriptor tty(::open(path.c_str(), O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC));
  if (!tty.open()) {
    return cannot_open(path, errno);
  }
  if (::isatty(tty.number()) == 0) {
    return Failure{Problem{false, path + " is no terminal; expected the tty of a serial adapter"}};
  }
  // A lock for those who may open everything, and exclusive use for the others.
  if (::flock(tty.number(), LOCK_EX | LOCK_NB) != 0) {
    return cannot_open(path, errno);
  }
  std::unique_ptr<SerialDevice> device(new SerialDevice(std::move(tty)));
  if (auto ready = device->set_up(path, options); !ready) {
    return Failure{ready.error()};
  }
  return device;
}

SerialDevice::~SerialDevice() {
  if (tty_.open()) {
    ::ioctl(tty_.number(), TIOCNXCL);
  }
}

Result<Done, Problem> SerialDevice::set_up(const std::string& path, const Options& options) {
  struct stat there {};
  if (::fstat(tty_.number(), &there) == 0) {
    const unsigned kind = major(there.st_rdev);
    takes_time_ = kind < kPtyMajorFirst || kind > kPtyMajorLast;
  }
  ::ioctl(tty_.number(), TIOCEXCL);
  struct termios settings {};
  if (::tcgetattr(tty_.number(), &settings) != 0) {
    return cannot_open(path, errno);
  }
  set_format(settings, options.format);
  // What it says is no judgement: it may complain about a part and take the rest. What is there then counts.
  ::tcsetattr(tty_.number(), TCSANOW, &settings);
  if (::tcgetattr(tty_.number(), &settings) != 0) {
    return cannot_open(path, errno);
  }
  not_kept_ = differences(settings, options.format);
  if (options.rs485) {
    struct serial_rs485 direction {};
    direction.flags = SER_RS485_ENABLED | SER_RS485_RTS_ON_SEND;
    if (::ioctl(tty_.number(), TIOCSRS485, &direction) != 0) {
      return Failure{
          Problem{false, "the driver of " + path +
                             " cannot turn the direction of an RS-485 bus; expected rs485: off, and "
                             "an adapter that turns it by itself"}};
    }
  }
  ::tcflush(tty_.number(), TCIOFLUSH);  // what came before was for nobody here
  return Done{};
}

std::optional<modbus::Bytes> SerialDevice::read(std::size_t most) {
  modbus::Bytes bytes(most);
  std::size_t got = 0;
  bool lost = false;
  while (got < most) {
    const ssize_t count = ::read(tty_.number(), bytes.data() + got, most - got);
    if (count > 0) {
      got += static_cast<std::size_t>(count);
    } else if (count == 0 || errno != EINTR) {
      lost = count == 0 || gone(errno);  // a terminal that has hung up has no more bytes
      break;
    }
  }
  if (lost && got == 0) {
    return std::nullopt;
  }
  bytes.resize(got);
  return bytes;
}

bool SerialDevice::write(modbus::ByteView bytes) {
  for (;;) {
    if (::write(tty_.number(), bytes.data(), bytes.size()) >= 0) {
      return true;
    }
    if (errno != EINTR) {
      return !gone(errno);
    }
  }
}

}  // namespace emberline::io

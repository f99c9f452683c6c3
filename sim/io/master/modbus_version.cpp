#include "sim/io/master/modbus_version.hpp"

#include <modbus/modbus.h>

namespace emberline::io {

std::string modbus_compiled_version() { return LIBMODBUS_VERSION_STRING; }

std::string modbus_linked_version() {
  return std::to_string(libmodbus_version_major) + "." + std::to_string(libmodbus_version_minor) + "." +
         std::to_string(libmodbus_version_micro);
}

}  // namespace emberline::io

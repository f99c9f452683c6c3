#include "sim/io/tables/csv_version.hpp"

#include <csv.h>

namespace emberline::io {

std::string csv_compiled_version() {
  return std::to_string(CSV_MAJOR) + "." + std::to_string(CSV_MINOR) + "." + std::to_string(CSV_RELEASE);
}

}  // namespace emberline::io

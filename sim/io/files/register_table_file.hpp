#pragma once

#include <map>
#include <memory>
#include <string>
#include <vector>

#include "sim/io/files/node.hpp"
#include "sim/registers/register_table.hpp"

namespace emberline::io {

/// The register tables of one bench: a file that several units use is read, and complained about, once.
class TableShelf {
 public:
  /// The table in a file, or null after complaints in `problems` about that file.
  std::shared_ptr<const registers::RegisterTable> take(const std::string& path, Problems& problems);
  /// The files that were asked for, by path.
  [[nodiscard]] std::vector<std::string> paths() const;

 private:
  std::map<std::string, std::shared_ptr<const registers::RegisterTable>> tables_;
};

}  // namespace emberline::io

#pragma once

#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "sim/bench/bench_spec.hpp"
#include "sim/io/files/node.hpp"

namespace emberline::io {

/// The names a bench file declares, section by section, known before any of them is used. One namespace:
/// doubles, `supply` and names that could not be used in a dotted signal are complained about.
class BenchNames {
 public:
  /// Takes the names of all sections of a bench file.
  void declare_all(const Node& root, Problems& problems);
  /// Takes the names of a bench that another file describes.
  void declare_all(const bench::BenchSpec& spec);
  /// Takes one more name into the namespace (stand-ins of a scenario); false after a complaint.
  bool declare(std::string_view kind, const Node& named, Problems& problems);

  /// Names of a section: "lines", "contactors", "zones", "units", "io_blocks".
  [[nodiscard]] const std::vector<std::string>& of(std::string_view section) const;
  /// How many copies there are of an entry of a section; nothing: it is there once, or not at all.
  [[nodiscard]] std::optional<int> copies(std::string_view section, std::string_view name) const;
  /// The names a reference stands for: itself, or those of all copies; none after a complaint as of check().
  [[nodiscard]] std::vector<std::string> meant_by(const Node& reference, std::string_view section,
                                                  Problems& problems) const;
  /// Whether the node's text is a name of this section; else complains with the nearest ("unknown line ...").
  bool check(const Node& reference, std::string_view section, Problems& problems) const;

 private:
  struct Taken {
    std::string kind;
    int line = 0;  ///< 0: in the bench file, while a scenario is read
  };
  bool declare(std::string_view kind, const std::string& name, const Place& place, Problems& problems);

  std::map<std::string, Taken, std::less<>> taken_;
  std::map<std::string, std::map<std::string, int, std::less<>>, std::less<>> copies_;
  std::map<std::string, std::vector<std::string>, std::less<>> sections_;
};

}  // namespace emberline::io

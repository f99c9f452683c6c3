#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "sim/io/files/node.hpp"

namespace emberline::io {

/// Reads the keys of one mapping. Ask for every key there is, then call done(), which complains about the
/// rest and about what is missing. A node that is no mapping is complained about once; then nothing is found
/// and nothing is missing.
class Fields {
 public:
  /// `example` shows what was expected where a plain value stands instead of a mapping.
  Fields(const Node& node, std::string_view example, Problems& problems);

  /// The value under a key that has to be there. Null, after a complaint, when it is missing or empty;
  /// `hint` is what the complaint says behind "is missing".
  const Node* required(std::string_view key, std::string_view hint = {});
  /// The value under a key that may be left out. Null, after a complaint, when the key stands there empty.
  const Node* optional(std::string_view key);
  /// As optional(), but an empty value is a value.
  const Node* may_be_empty(std::string_view key);
  /// Keys that users know from the plan of things but that cannot be honoured yet.
  void later(std::initializer_list<std::string_view> keys);
  /// A key that has no place in this mapping as it stands: its presence is complained about with `reason`.
  void refuse(std::string_view key, std::string_view reason);
  /// Complains about keys that are missing and keys nobody asked for, with the nearest known one. A missing
  /// key that an unknown one was meant to be is one complaint, not two.
  void done();
  /// Instead of done() when reading cannot go on to the other keys: only missing ones are complained about.
  void leave();

  [[nodiscard]] bool is_mapping() const { return usable_; }
  [[nodiscard]] const Node& node() const { return node_; }

 private:
  struct Missing {
    std::string key;
    std::string hint;
  };
  [[nodiscard]] const Node* present(std::string_view key);
  void finish(bool all_keys_known);

  const Node& node_;
  Problems& problems_;
  bool usable_ = false;
  std::vector<std::string> known_;
  std::vector<std::string> later_;
  std::vector<std::string> refused_;
  std::vector<Missing> missing_;
};

}  // namespace emberline::io

#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "sim/base/diagnostic.hpp"
#include "sim/io/files/load.hpp"

namespace emberline::io {

/// One value of a YAML file, with where it stands. A plain tree: what users may not write (anchors, aliases,
/// tags, doubles) has been refused before anybody looks at it.
struct Node {
  enum class Kind {
    null,      ///< nothing was written
    scalar,    ///< `text`
    sequence,  ///< `items`
    mapping,   ///< `entries`, in the order of the file
    refused,   ///< something was written that has been complained about already
  };
  Kind kind = Kind::null;
  Place place;                ///< of the value
  Place header;               ///< of the key it stands under; of the value itself where there is no key
  std::string label;          ///< the key it stands under; list items carry the label of their list
  std::string text;           ///< of a scalar, without blanks around it
  std::vector<Node> items;    ///< of a sequence
  std::vector<Node> entries;  ///< of a mapping; each carries its key as label

  /// The entry under `key`, or null.
  [[nodiscard]] const Node* find(std::string_view key) const;
};

/// Adds a problem. The message is made one line of readable length, whatever the user's text was.
void complain(Problems& problems, const Place& place, std::string message);

/// Puts the problems of one file in the order of their places.
void sort_by_place(Problems& problems);

}  // namespace emberline::io

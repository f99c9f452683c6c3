#pragma once

#include <string_view>
#include <vector>

namespace emberline::io {

/// A path that the hub answers. "{...}" stands for a name in it.
struct HubRoute {
  std::string_view method;
  std::string_view path;
  bool trainer_only = false;
};
/// All of them.
[[nodiscard]] std::vector<HubRoute> hub_routes();

}  // namespace emberline::io

#include "sim/io/panel/assets.hpp"

#include <algorithm>

namespace emberline::io {

const Asset* find_asset(std::string_view path) {
  if (path == "/" || path == "/class") path = "/index.html";
  const auto all = all_assets();
  const auto found =
      std::find_if(all.begin(), all.end(), [path](const Asset& asset) { return asset.path == path; });
  return found == all.end() ? nullptr : &*found;
}

}  // namespace emberline::io

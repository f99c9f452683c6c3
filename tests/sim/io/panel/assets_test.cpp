#include "sim/io/panel/assets.hpp"

#include <filesystem>
#include <fstream>
#include <iterator>
#include <string>

#include <doctest/doctest.h>

using namespace emberline;

namespace {

const std::string kPage = EMBERLINE_SOURCE_DIR "/sim/io/panel/page";

std::string content(const std::string& path) {
  std::ifstream file(path, std::ios::binary);
  REQUIRE_MESSAGE(file.good(), path);
  return {std::istreambuf_iterator<char>(file), {}};
}

}  // namespace

TEST_CASE("every file of the page is in the program as it is on the disk") {
  std::size_t files = 0;
  for (const auto& asset : io::all_assets()) {
    CAPTURE(std::string(asset.path));
    const auto path = asset.path == "/api/openapi.json" ? EMBERLINE_SOURCE_DIR "/sim/io/panel/openapi.json"
                                                        : kPage + std::string(asset.path);
    CHECK(content(path) == asset.content);
    CHECK(asset.type.find('/') != std::string_view::npos);
    ++files;
  }
  CHECK(files > 1);
  for (const auto& entry : std::filesystem::recursive_directory_iterator(kPage)) {
    const auto extension = entry.path().extension().string();
    if (extension != ".html" && extension != ".js" && extension != ".css" && extension != ".svg") continue;
    const auto path = "/" + std::filesystem::relative(entry.path(), kPage).string();
    CHECK_MESSAGE(io::find_asset(path) != nullptr, path);
  }
}

TEST_CASE("a file is found by exactly its path") {
  REQUIRE(io::find_asset("/index.html") != nullptr);
  CHECK(io::find_asset("/index.html")->type == "text/html; charset=utf-8");
  CHECK(io::find_asset("/") == io::find_asset("/index.html"));
  CHECK(io::find_asset("/class") == io::find_asset("/index.html"));
  for (const char* path : {"", "index.html", "/INDEX.HTML", "/index.html/", "/./index.html",
                           "/x/../index.html", "/class/", "/assets.cmake", "/../panel_server.cpp", "/index"})
    CHECK_MESSAGE(io::find_asset(path) == nullptr, path);
}

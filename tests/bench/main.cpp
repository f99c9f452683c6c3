#include <cstdio>
#include <string_view>

#include "tests/bench/speed.hpp"

// Measures and shows; it never passes or fails, since how fast a machine is says nothing about the program.
int main(int argc, char** argv) {
  const std::string_view only = argc > 1 ? argv[1] : "";
  if (argc > 2 || !(only.empty() || only == "tcp" || only == "stepped" || only == "story" ||
                    only == "plant" || only == "many" || only == "panel")) {
    std::fprintf(stderr, "usage: bench_speed [tcp | stepped | story | plant | many | panel]\n");
    return 2;
  }
  if (only.empty() || only == "tcp") emberline::speed::tcp_speed();
  if (only.empty() || only == "stepped") emberline::speed::stepped_speed();
  if (only.empty() || only == "story") emberline::speed::story_speed();
  if (only.empty() || only == "plant") emberline::speed::plant_speed();
  if (only.empty() || only == "many") emberline::speed::many_units();
  if (only.empty() || only == "panel") emberline::speed::panel_pages();
  return 0;
}

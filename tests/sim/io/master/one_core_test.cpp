#include "sim/io/master/one_core.hpp"

#include <set>
#include <thread>

#include <doctest/doctest.h>
#include <pthread.h>

using emberline::io::OneCore;

namespace {

cpu_set_t cores_now() {
  cpu_set_t cores;
  CPU_ZERO(&cores);
  REQUIRE(pthread_getaffinity_np(pthread_self(), sizeof cores, &cores) == 0);
  return cores;
}

int only_core(const cpu_set_t& cores) {
  REQUIRE(CPU_COUNT(&cores) == 1);
  for (unsigned core = 0; core < CPU_SETSIZE; ++core)
    if (CPU_ISSET(core, &cores)) return static_cast<int>(core);
  return -1;
}

}  // namespace

TEST_CASE("groups side by side have as many cores between them as there are, and give them back") {
  const auto before = cores_now();
  const auto count = static_cast<std::size_t>(CPU_COUNT(&before));
  const int here = sched_getcpu();
  std::set<int> cores;
  for (std::size_t number = 0; number < 2 * count; ++number) {
    {
      const OneCore one(here, number);
      const int core = only_core(cores_now());
      cores.insert(core);
      if (number % count == 0) CHECK(core == here);
      // Those that take turns stay where the group is.
      const OneCore inner;
      CHECK(only_core(cores_now()) == core);
      cpu_set_t of_thread;
      CPU_ZERO(&of_thread);
      std::thread([&] { of_thread = cores_now(); }).join();
      CHECK(only_core(of_thread) == core);
    }
    const auto after = cores_now();
    CHECK(CPU_EQUAL(&before, &after));
  }
  CHECK(cores.size() == count);
  const OneCore unknown(-1, 0);  // where the system does not tell: nothing is changed
  const auto after = cores_now();
  CHECK(CPU_EQUAL(&before, &after));
}

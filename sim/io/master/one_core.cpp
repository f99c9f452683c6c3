#include "sim/io/master/one_core.hpp"

#include <pthread.h>

namespace emberline::io {

OneCore::OneCore() { stay_on(sched_getcpu()); }

OneCore::OneCore(int first, std::size_t number) {
  cpu_set_t allowed;
  if (first < 0 || pthread_getaffinity_np(pthread_self(), sizeof allowed, &allowed) != 0) return;
  const int count = CPU_COUNT(&allowed);
  if (count <= 0) return;
  auto further = number % static_cast<std::size_t>(count);
  for (int core = first % CPU_SETSIZE;; core = (core + 1) % CPU_SETSIZE) {
    if (!CPU_ISSET(static_cast<unsigned>(core), &allowed)) continue;
    if (further-- > 0) continue;
    stay_on(core);
    return;
  }
}

OneCore::~OneCore() {
  if (before_) pthread_setaffinity_np(pthread_self(), sizeof *before_, &*before_);
}

void OneCore::stay_on(int core) {
  cpu_set_t before;
  if (core < 0 || pthread_getaffinity_np(pthread_self(), sizeof before, &before) != 0) return;
  cpu_set_t one;
  CPU_ZERO(&one);
  CPU_SET(static_cast<unsigned>(core), &one);
  if (pthread_setaffinity_np(pthread_self(), sizeof one, &one) == 0) before_ = before;
}

}  // namespace emberline::io

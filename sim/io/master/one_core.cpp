#include "sim/io/master/one_core.hpp"

#include <pthread.h>

namespace emberline::io {

OneCore::OneCore() {
  cpu_set_t before;
  const int core = sched_getcpu();
  if (core < 0 || pthread_getaffinity_np(pthread_self(), sizeof before, &before) != 0) return;
  cpu_set_t one;
  CPU_ZERO(&one);
  CPU_SET(static_cast<unsigned>(core), &one);
  if (pthread_setaffinity_np(pthread_self(), sizeof one, &one) == 0) before_ = before;
}

OneCore::~OneCore() {
  if (before_) pthread_setaffinity_np(pthread_self(), sizeof *before_, &*before_);
}

}  // namespace emberline::io

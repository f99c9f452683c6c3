#include "sim/cli/stop_signals.hpp"

#include <csignal>
#include <utility>

namespace emberline::cli {
namespace {

sigset_t stop_set() {
  sigset_t set;
  sigemptyset(&set);
  sigaddset(&set, SIGINT);
  sigaddset(&set, SIGTERM);
  sigaddset(&set, SIGUSR1);  // our own: ends the waiting thread
  return set;
}

}  // namespace

StopSignals::StopSignals() {
  const auto set = stop_set();
  pthread_sigmask(SIG_BLOCK, &set, nullptr);
}

void StopSignals::watch(std::function<void()> on_stop) {
  waiter_ = std::thread([on_stop = std::move(on_stop)] {
    const auto set = stop_set();
    int signal = 0;
    sigwait(&set, &signal);
    if (signal != SIGUSR1) on_stop();
  });
}

StopSignals::~StopSignals() {
  if (!waiter_.joinable()) return;
  pthread_kill(waiter_.native_handle(), SIGUSR1);
  waiter_.join();
}

}  // namespace emberline::cli

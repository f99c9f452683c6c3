#include "sim/cli/stop_signals.hpp"

#include <csignal>
#include <utility>

namespace emberline::cli {
namespace {

/// True if whoever started us wants us to outlive his terminal, as nohup does.
bool outlives_its_terminal() {
  struct sigaction now {};
  return ::sigaction(SIGHUP, nullptr, &now) == 0 && now.sa_handler == SIG_IGN;
}

/// Those that somebody sends on purpose.
sigset_t wanted_set() {
  sigset_t set;
  sigemptyset(&set);
  sigaddset(&set, SIGINT);
  sigaddset(&set, SIGTERM);
  return set;
}

sigset_t stop_set() {
  auto set = wanted_set();
  if (!outlives_its_terminal()) sigaddset(&set, SIGHUP);
  return set;
}

/// These, and our own that wakes the waiting thread.
sigset_t with_ours(sigset_t set) {
  sigaddset(&set, SIGUSR1);
  return set;
}

/// From now on they end the program, whatever it is at; but not SIGHUP, of which a closing terminal may send
/// several.
void let_them_end_it() {
  std::signal(SIGINT, SIG_DFL);
  std::signal(SIGTERM, SIG_DFL);
  const auto set = wanted_set();
  pthread_sigmask(SIG_UNBLOCK, &set, nullptr);
}

}  // namespace

StopSignals::StopSignals() {
  const auto set = with_ours(stop_set());
  pthread_sigmask(SIG_BLOCK, &set, nullptr);
}

void StopSignals::watch(std::function<void()> on_stop) {
  waiter_ = std::thread([this, on_stop = std::move(on_stop)] {
    auto set = with_ours(stop_set());
    while (!ending_) {
      int signal = 0;
      if (sigwait(&set, &signal) != 0 || signal == SIGUSR1) continue;  // SIGUSR1: anybody can send it
      // Before on_stop: it may be what hangs.
      let_them_end_it();
      sigemptyset(&set);
      set = with_ours(set);
      on_stop();
    }
  });
}

StopSignals::~StopSignals() {
  if (!waiter_.joinable()) return;
  ending_ = true;
  pthread_kill(waiter_.native_handle(), SIGUSR1);
  waiter_.join();
}

}  // namespace emberline::cli

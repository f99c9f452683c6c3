#include "sim/cli/crash_report.hpp"

#include <algorithm>
#include <array>
#include <atomic>
#include <cerrno>
#include <csignal>
#include <cstdlib>
#include <cstring>
#include <exception>
#include <string_view>
#include <typeinfo>
#include <utility>

#include <execinfo.h>
#include <sys/utsname.h>
#include <ucontext.h>
#include <unistd.h>

#include "sim/cli/loaded_program.hpp"
#include "sim/io/line/left_behind.hpp"

namespace emberline::cli {
namespace {

#if defined(__SANITIZE_ADDRESS__) || defined(__SANITIZE_THREAD__)
constexpr bool kHasItsOwn = true;
#else
constexpr bool kHasItsOwn = false;
#endif

constexpr std::array kCrashes = {SIGSEGV, SIGABRT, SIGBUS, SIGFPE, SIGILL};
constexpr int kMostFrames = 64;

/// Text of a fixed size that is cut where it is full: a handler of signals can have no other.
template <std::size_t kSize>
class Words {
 public:
  Words& operator<<(std::string_view text) noexcept {
    for (const char one : text)
      if (size_ < kSize) text_[size_++] = one;  // NOLINT: looked at
    return *this;
  }
  Words& operator<<(std::uint64_t number) noexcept { return digits(number, 10); }
  Words& hexadecimal(std::uint64_t number) noexcept { return (*this << "0x").digits(number, 16); }
  /// A text of others on one line.
  Words& plain(std::string_view text) noexcept {
    for (const char one : text) {
      const auto byte = static_cast<unsigned char>(one);
      *this << (byte < 0x20 || byte == 0x7F ? std::string_view("?") : std::string_view(&one, 1));
    }
    return *this;
  }
  [[nodiscard]] std::string_view text() const noexcept { return {text_.data(), size_}; }

 private:
  Words& digits(std::uint64_t number, unsigned base) noexcept {
    std::array<char, 20> backwards;
    std::size_t count = 0;
    do {
      backwards[count++] = "0123456789abcdef"[number % base];  // NOLINT: 20 digits hold any number
      number /= base;
    } while (number != 0);
    while (count > 0) *this << std::string_view(&backwards[--count], 1);
    return *this;
  }

  std::array<char, kSize> text_;  // NOLINT: filled up to size_
  std::size_t size_ = 0;
};

// Made before the first crash; the handler only reads them.
Words<256> program;       // version and build
Words<256> surroundings;  // system
Words<2048> command;
Words<512> reason;  // of what was thrown and not caught

std::atomic<const Running*> newest{nullptr};
thread_local const Running* here = nullptr;

/// How far the ending has got: what fails at one step goes on with the next.
enum Step : int { removing, reporting, dying };
std::atomic<int> step{removing};
std::atomic<pid_t> dying_thread{0};

void say(std::string_view text) noexcept {
  while (!text.empty()) {
    const auto written = ::write(STDERR_FILENO, text.data(), text.size());
    if (written < 0 && errno == EINTR) continue;
    if (written <= 0) return;
    text.remove_prefix(static_cast<std::size_t>(written));
  }
}

std::string_view name_of(int signal) noexcept {
  switch (signal) {
    case SIGSEGV:
      return "SIGSEGV";
    case SIGABRT:
      return "SIGABRT";
    case SIGBUS:
      return "SIGBUS";
    case SIGFPE:
      return "SIGFPE";
    default:
      return "SIGILL";
  }
}

/// The instruction at which the thread stood; 0 where it is not known how to ask.
std::uintptr_t instruction_of(const void* context) noexcept {
#if defined(__x86_64__)
  return static_cast<std::uintptr_t>(static_cast<const ucontext_t*>(context)->uc_mcontext.gregs[REG_RIP]);
#elif defined(__aarch64__)
  return static_cast<const ucontext_t*>(context)->uc_mcontext.pc;
#else
  return context == nullptr ? 0 : 0;
#endif
}

/// "emberline+0x1a2b", or the address itself where nothing known lies.
template <std::size_t kSize>
void place(Words<kSize>& words, std::uintptr_t address) noexcept {
  if (const auto* object = loaded_program().at(address)) {
    (words << std::string_view(object->name.data()) << "+").hexadecimal(address - object->base);
  } else {
    words.hexadecimal(address);
  }
}

void say_cause(int signal, const siginfo_t& info) noexcept {
  Words<256> words;
  words << "  signal: " << name_of(signal);
  if (info.si_code > 0) {
    // The number of an address is what a report needs, not what lies there.
    words << " at ";
    words.hexadecimal(reinterpret_cast<std::uintptr_t>(info.si_addr));
  } else if (info.si_pid == ::getpid()) {
    words << ", raised by the program itself";
  } else {
    words << ", sent by process " << static_cast<std::uint64_t>(info.si_pid);
  }
  words << "\n";
  say(words.text());
  if (reason.text().empty()) return;
  say("  reason: ");
  say(reason.text());
  say("\n");
}

void say_time() noexcept {
  const auto* running = here != nullptr ? here : newest.load();
  if (running == nullptr) return;
  const auto now =
      std::chrono::duration_cast<std::chrono::milliseconds>(running->loop().now().time_since_epoch());
  const auto milliseconds = static_cast<std::uint64_t>(std::max<std::int64_t>(0, now.count()));
  Words<512> words;
  words << "  simulated time: " << milliseconds / 1000 << ".";
  words << std::string_view("000").substr(milliseconds % 1000 < 10 ? 1 : milliseconds % 1000 < 100 ? 2 : 3);
  words << milliseconds % 1000 << " s";
  if (!running->what().empty()) (words << ", ").plain(running->what());
  words << "\n";
  say(words.text());
}

void say_frames(const void* context) noexcept {
  std::array<void*, kMostFrames> frames;
  const auto count = static_cast<std::size_t>(std::max(0, ::backtrace(frames.data(), kMostFrames)));
  const auto at = [&](std::size_t i) { return reinterpret_cast<std::uintptr_t>(frames[i]); };
  // What lies before the instruction is the handler itself.
  const auto stood = instruction_of(context);
  std::size_t first = 0;
  while (first < count && at(first) != stood) ++first;
  Words<8192> words;
  words << "  where (addr2line -Cfipe emberline ADDRESS says what is at emberline+ADDRESS, "
           "if it is the\n  program of this build id and not stripped):\n";
  if (first == count) {
    first = 0;
    words << "    ";
    place(words, stood);
    words << "\n";
  }
  for (std::size_t i = first; i < count; ++i) {
    words << "    ";
    place(words, at(i));
    words << "\n";
  }
  say(words.text());
}

void report(int signal, const siginfo_t& info, const void* context) noexcept {
  say("emberline: ended by a crash. Unless somebody sent it that signal on purpose this is a mistake in "
      "emberline;\n"
      "please report what follows, with the files it was given:\n  program: ");
  say(program.text());
  say("\n  system: ");
  say(surroundings.text());
  say("\n  command: ");
  say(command.text());
  say("\n");
  say_cause(signal, info);
  say_time();
  say_frames(context);
}

/// Ends the program by that signal, as if there had been no handler.
void die(int signal) noexcept {
  std::signal(signal, SIG_DFL);
  sigset_t set;
  sigemptyset(&set);
  sigaddset(&set, signal);
  pthread_sigmask(SIG_UNBLOCK, &set, nullptr);
  ::raise(signal);
}

void on_crash(int signal, siginfo_t* info, void* context) {
  pid_t nobody = 0;
  const pid_t us = ::gettid();
  // Another thread that crashes meanwhile waits for the first one to end the program.
  if (!dying_thread.compare_exchange_strong(nobody, us) && nobody != us)
    for (;;) ::pause();
  if (step == removing) {
    step = reporting;
    io::remove_left_behind();
  }
  if (step == reporting) {
    step = dying;
    report(signal, *info, context);
  }
  die(signal);
}

void on_terminate() {
  if (const auto thrown = std::current_exception()) {
    try {
      std::rethrow_exception(thrown);
    } catch (const std::exception& error) {
      (reason << "nobody caught " << typeid(error).name() << ": ").plain(error.what());
    } catch (...) {
      reason << "nobody caught what was thrown";
    }
  } else {
    reason << "internal error: std::terminate without an exception";
  }
  std::abort();
}

void take_down(int argc, const char* const* argv) {
  const auto& loaded = loaded_program();
  program << "emberline " EMBERLINE_VERSION;
  if (loaded.build_id[0] != '\0') program << ", build id " << std::string_view(loaded.build_id.data());
  utsname system{};
  if (::uname(&system) == 0)  // not the name of the machine
    surroundings << std::string_view(system.sysname) << " " << std::string_view(system.release) << " "
                 << std::string_view(system.machine);
  command << "emberline";
  for (int i = 1; i < argc; ++i) (command << " ").plain(argv[i]);
}

}  // namespace

void report_crashes(int argc, const char* const* argv) {
  if (kHasItsOwn) return;
  take_down(argc, argv);
  // The first backtrace loads what the others use.
  std::array<void*, 1> frame{};
  ::backtrace(frame.data(), 1);
  std::set_terminate(on_terminate);
  // A stack of its own, should the thread's be full.
  static std::array<char, 128UL * 1024> stack;
  stack_t there{};
  there.ss_sp = stack.data();
  there.ss_size = stack.size();
  ::sigaltstack(&there, nullptr);
  struct sigaction action {};
  action.sa_sigaction = on_crash;
  // Not blocked meanwhile: a crash of the handler comes back to it, and the next step is taken.
  action.sa_flags = SA_SIGINFO | SA_ONSTACK | SA_NODEFER;
  sigemptyset(&action.sa_mask);
  for (const int signal : kCrashes) ::sigaction(signal, &action, nullptr);
}

Running::Running(const bench::EventLoop& loop, std::string what)
    : loop_(loop), what_(std::move(what)), outer_(here) {
  here = this;
  newest = this;
}

Running::~Running() {
  here = outer_;
  const Running* us = this;
  newest.compare_exchange_strong(us, outer_);
}

}  // namespace emberline::cli

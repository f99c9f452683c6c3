#include "tests/support/process.hpp"

#include <array>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <sstream>

#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <sys/ioctl.h>
#include <sys/wait.h>
#include <unistd.h>

namespace emberline::testing {
namespace {

/// Long enough for the slowest machine under sanitizers; only a broken program ever waits so long.
constexpr int kPatience_ms = 120'000;
constexpr int kGlance_ms = 20;

std::string make_folder() {
  std::string pattern = std::filesystem::temp_directory_path() / "emberline-test-XXXXXX";
  if (::mkdtemp(pattern.data()) == nullptr) std::abort();
  return pattern;
}

pid_t spawn(const std::vector<std::string>& arguments, int input, const std::string& out,
            const std::string& err) {
  const pid_t child = ::fork();
  if (child != 0) return child;
  std::vector<std::string> words{EMBERLINE_BINARY};
  words.insert(words.end(), arguments.begin(), arguments.end());
  std::vector<char*> argv;
  for (auto& word : words) argv.push_back(word.data());
  argv.push_back(nullptr);
  ::dup2(input, STDIN_FILENO);
  ::dup2(::open(out.c_str(), O_WRONLY | O_CREAT | O_TRUNC, 0600), STDOUT_FILENO);
  ::dup2(::open(err.c_str(), O_WRONLY | O_CREAT | O_TRUNC, 0600), STDERR_FILENO);
  ::execv(argv[0], argv.data());
  ::_exit(127);
}

int status_of(pid_t child) {
  int status = 0;
  if (::waitpid(child, &status, 0) != child) return -1;
  return WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
}

bool running(pid_t child) {
  siginfo_t info{};
  return ::waitid(P_PID, static_cast<id_t>(child), &info, WEXITED | WNOHANG | WNOWAIT) == 0 &&
         info.si_pid == 0;
}

template <class Condition>
bool wait_until(pid_t child, Condition condition) {
  for (int waited = 0; waited < kPatience_ms; waited += kGlance_ms) {
    if (condition()) return true;
    if (!running(child)) return condition();
    ::poll(nullptr, 0, kGlance_ms);
  }
  return false;
}

}  // namespace

std::string read_file(const std::string& path) {
  std::ifstream file(path, std::ios::binary);
  std::ostringstream text;
  text << file.rdbuf();
  return text.str();
}

std::string emberline_path() { return EMBERLINE_BINARY; }

Finished run_emberline(const std::vector<std::string>& arguments) {
  const TemporaryFolder folder;
  const int nothing = ::open("/dev/null", O_RDONLY | O_CLOEXEC);
  const pid_t child = spawn(arguments, nothing, folder.file("out"), folder.file("err"));
  ::close(nothing);
  Finished finished;
  finished.status = status_of(child);
  finished.out = read_file(folder.file("out"));
  finished.err = read_file(folder.file("err"));
  return finished;
}

Finished run_on_terminal(const std::vector<std::string>& arguments, const std::string& kind, int columns) {
  const TemporaryFolder folder;
  const int ours = ::posix_openpt(O_RDWR | O_NOCTTY | O_CLOEXEC);
  if (ours < 0 || ::grantpt(ours) != 0 || ::unlockpt(ours) != 0) std::abort();
  const std::string terminal = ::ptsname(ours);
  const int held = ::open(terminal.c_str(), O_RDWR | O_NOCTTY | O_CLOEXEC);
  struct winsize size {};
  size.ws_row = 24;
  size.ws_col = static_cast<unsigned short>(columns);
  ::ioctl(held, TIOCSWINSZ, &size);
  const int nothing = ::open("/dev/null", O_RDONLY | O_CLOEXEC);
  ::setenv("TERM", kind.c_str(), 1);
  const pid_t child = spawn(arguments, nothing, terminal, folder.file("err"));
  ::close(nothing);
  Finished finished;
  std::array<char, 4096> text{};
  for (bool ended = false;;) {
    struct pollfd readable {
      ours, POLLIN, 0
    };
    ended = ended || !running(child);
    const bool there = ::poll(&readable, 1, ended ? 0 : kGlance_ms) > 0 && (readable.revents & POLLIN) != 0;
    if (!there && ended) break;
    if (!there) continue;
    const ssize_t count = ::read(ours, text.data(), text.size());
    if (count > 0) finished.out.append(text.data(), static_cast<std::size_t>(count));
  }
  finished.status = status_of(child);
  finished.err = read_file(folder.file("err"));
  ::close(held);
  ::close(ours);
  return finished;
}

Background::Background(const std::vector<std::string>& arguments) : folder_(make_folder()) {
  int ends[2];
  if (::pipe2(ends, O_CLOEXEC) != 0) std::abort();
  input_ = ends[1];
  pid_ = spawn(arguments, ends[0], folder_ + "/out", folder_ + "/err");
  ::close(ends[0]);
}

Background::~Background() {
  end_of_input();
  if (pid_ > 0) {
    ::kill(pid_, SIGKILL);
    status_of(pid_);
  }
  std::filesystem::remove_all(folder_);
}

void Background::type(const std::string& line) const {
  const auto text = line + "\n";
  if (::write(input_, text.data(), text.size()) != static_cast<ssize_t>(text.size())) std::abort();
}

void Background::end_of_input() {
  if (input_ >= 0) ::close(input_);
  input_ = -1;
}

std::string Background::output() const { return read_file(folder_ + "/out"); }

bool Background::wait_for_file(const std::string& path) const {
  return wait_until(pid_, [&] { return std::filesystem::exists(path); });
}

bool Background::wait_for_output(const std::string& text, int times) const {
  return wait_until(pid_, [&] {
    const auto all = output();
    int found = 0;
    for (auto at = all.find(text); at != std::string::npos; at = all.find(text, at + text.size())) ++found;
    return found >= times;
  });
}

bool Background::said(const std::string& text) const { return output().find(text) != std::string::npos; }

Finished Background::stop(int signal) {
  ::kill(pid_, signal);
  return wait();
}

Finished Background::wait() {
  Finished finished;
  finished.status = status_of(pid_);
  pid_ = -1;
  finished.out = output();
  finished.err = read_file(folder_ + "/err");
  return finished;
}

TemporaryFolder::TemporaryFolder() : path_(make_folder()) {}
TemporaryFolder::~TemporaryFolder() { std::filesystem::remove_all(path_); }

std::string TemporaryFolder::write(const std::string& name, const std::string& content) const {
  std::ofstream(file(name), std::ios::binary) << content;
  return file(name);
}

}  // namespace emberline::testing

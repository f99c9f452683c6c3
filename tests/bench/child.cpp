#include "tests/bench/child.hpp"

#include <cerrno>
#include <csignal>
#include <cstring>
#include <fstream>
#include <sstream>
#include <utility>

#include <arpa/inet.h>
#include <fcntl.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <sys/prctl.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <unistd.h>

namespace emberline::speed {
namespace {

std::string fresh_name(const char* kind) {
  static int made = 0;
  return temporary_folder() + "/" + kind + std::to_string(++made);
}

std::string whole_text(const std::string& path) {
  std::ifstream file(path, std::ios::binary);
  std::ostringstream text;
  text << file.rdbuf();
  return text.str();
}

/// In the child, before it becomes what it is to be.
void begin_child() {
  ::prctl(PR_SET_PDEATHSIG, SIGKILL);
  bind_to(processors().measured);
}

void run_program(const std::vector<std::string>& words, const std::string& said) {
  begin_child();
  const int nothing = ::open("/dev/null", O_RDONLY);
  const int out = ::open(said.c_str(), O_WRONLY | O_CREAT | O_TRUNC, 0600);
  ::dup2(nothing, 0);
  ::dup2(out, 1);
  ::dup2(out, 2);
  std::vector<char*> arguments;
  arguments.reserve(words.size() + 1);
  for (const auto& word : words) arguments.push_back(const_cast<char*>(word.c_str()));
  arguments.push_back(nullptr);
  ::execv(arguments[0], arguments.data());
  ::dprintf(2, "%s: %s\n", arguments[0], std::strerror(errno));
  ::_exit(3);
}

int listening(int& port) {
  const int listener = ::socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
  sockaddr_in address{};
  address.sin_family = AF_INET;
  address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
  socklen_t length = sizeof address;
  auto* const any = reinterpret_cast<sockaddr*>(&address);
  constexpr int kOn = 1;
  constexpr int kWaiting = 512;
  if (listener < 0 || ::setsockopt(listener, IPPROTO_TCP, TCP_NODELAY, &kOn, sizeof kOn) != 0 ||
      ::bind(listener, any, length) != 0 || ::listen(listener, kWaiting) != 0 ||
      ::getsockname(listener, any, &length) != 0)
    give_up(std::string("cannot listen: ") + std::strerror(errno));
  port = ntohs(address.sin_port);
  return listener;
}

}  // namespace

Child Child::running(const std::function<void()>& work) {
  Child child;
  child.begun_ = Clock::now();
  child.process_ = ::fork();
  if (child.process_ < 0) give_up("no further process");
  if (child.process_ == 0) {
    begin_child();
    work();
    ::_exit(3);
  }
  return child;
}

Child Child::answering(const std::function<void(int listener)>& serve) {
  int port = 0;
  const int listener = listening(port);
  auto child = running([&] { serve(listener); });
  child.port_ = port;
  ::close(listener);
  return child;
}

Child Child::program(const std::vector<std::string>& words) {
  Child child;
  child.said_ = fresh_name("said");
  child.begun_ = Clock::now();
  child.process_ = ::fork();
  if (child.process_ < 0) give_up("no further process");
  if (child.process_ == 0) run_program(words, child.said_);
  return child;
}

Child::Child(Child&& other) noexcept
    : process_(std::exchange(other.process_, -1)),
      port_(other.port_),
      said_(std::move(other.said_)),
      begun_(other.begun_) {}

Child::~Child() {
  if (process_ <= 0) return;
  // A program puts away what it made; the others know no other end.
  ::kill(process_, said_.empty() ? SIGKILL : SIGTERM);
  for (int wait = 0; wait < 5000; ++wait) {
    if (::waitpid(process_, nullptr, WNOHANG) != 0) return;
    ::usleep(1000);
  }
  ::kill(process_, SIGKILL);
  ::waitpid(process_, nullptr, 0);
}

void Child::require_alive() const {
  siginfo_t info{};
  if (::waitid(P_PID, static_cast<id_t>(process_), &info, WEXITED | WNOHANG | WNOWAIT) == 0 &&
      info.si_pid == 0)
    return;
  give_up("what is measured has ended" + (said_.empty() ? std::string() : ": " + whole_text(said_)));
}

namespace {

std::vector<std::string> serve_words(const std::string& bench, const std::string& ready_file,
                                     std::vector<std::string> extra) {
  std::vector<std::string> words{
      wanted().program, "serve", bench, "--ready-file", ready_file, "--control", ready_file + ".control"};
  words.insert(words.end(), extra.begin(), extra.end());
  return words;
}

std::vector<std::string> share_words(const std::vector<std::string>& shares, const std::string& ready_file) {
  std::vector<std::string> words{"/proc/self/exe", "serve-shares", ready_file};
  words.insert(words.end(), shares.begin(), shares.end());
  return words;
}

}  // namespace

Served::Served(const std::string& bench, std::vector<std::string> extra)
    : ready_file_(fresh_name("ready")),
      child_(Child::program(serve_words(bench, ready_file_, std::move(extra)))) {
  wait();
}

Served::Served(const std::vector<std::string>& shares)
    : ready_file_(fresh_name("ready")), child_(Child::program(share_words(shares, ready_file_))) {
  wait();
}

void Served::wait() {
  constexpr int kLongest = 600'000;  // of 0.1 ms
  for (int waited = 0; ::access(ready_file_.c_str(), R_OK) != 0; ++waited) {
    ::usleep(100);
    if (waited % 100 == 0) child_.require_alive();
    if (waited > kLongest) give_up("what is measured does not become ready");
  }
  ready_ = Clock::now() - child_.begun();
  text_ = whole_text(ready_file_);
}

std::string Served::value_of(const std::string& line, const std::string& key) const {
  const auto at_line = text_.find("\"" + line + "\":");
  const auto at_key = at_line == std::string::npos ? at_line : text_.find("\"" + key + "\":", at_line);
  if (at_key == std::string::npos) give_up("the ready file does not tell the " + key + " of " + line);
  const auto begin = text_.find_first_not_of(" \"", at_key + key.size() + 3);
  return text_.substr(begin, text_.find_first_of(",}\"\n", begin) - begin);
}

int Served::port(const std::string& line) const { return std::stoi(value_of(line, "port")); }
std::string Served::path(const std::string& line) const { return value_of(line, "path"); }

}  // namespace emberline::speed

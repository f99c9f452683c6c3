#include "tests/bench/measure.hpp"

#include <algorithm>
#include <bit>
#include <cerrno>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <system_error>

#include <netinet/in.h>
#include <sched.h>
#include <sys/socket.h>

namespace emberline::speed {
namespace {

cpu_set_t begun_with() {
  cpu_set_t set;
  CPU_ZERO(&set);
  if (sched_getaffinity(0, sizeof set, &set) != 0) give_up("the processors are not known");
  return set;
}

const cpu_set_t& all_of_ours() {
  static const cpu_set_t set = begun_with();
  return set;
}

void apply(const cpu_set_t& set) {
  if (sched_setaffinity(0, sizeof set, &set) != 0)
    give_up(std::string("cannot be bound to a processor: ") + std::strerror(errno));
}

struct Folder {
  std::string path;
  Folder() {
    auto name = (std::filesystem::temp_directory_path() / "emberline-speed-XXXXXX").string();
    if (mkdtemp(name.data()) == nullptr) give_up(name + ": " + std::strerror(errno));
    path = name;
  }
  ~Folder() {
    std::error_code ignored;
    std::filesystem::remove_all(path, ignored);
  }
  Folder(const Folder&) = delete;
  Folder& operator=(const Folder&) = delete;
};

}  // namespace

Wanted& wanted() {
  static Wanted all;
  return all;
}

void broken(const std::string& what) {
  std::fflush(stdout);
  std::fprintf(stderr, "bench_speed: broken answer: %s\n", what.c_str());
  std::exit(1);
}

void give_up(const std::string& what) {
  std::fflush(stdout);
  std::fprintf(stderr, "bench_speed: %s\n", what.c_str());
  std::exit(3);
}

const std::string& temporary_folder() {
  static const Folder folder;
  return folder.path;
}

const Processors& processors() {
  static const Processors found = [] {
    Processors all;
    all.count = 0;
    for (int processor = 0; processor < CPU_SETSIZE; ++processor) {
      if (!CPU_ISSET(static_cast<std::size_t>(processor), &all_of_ours())) continue;
      if (all.count == 0) all.measured = all.measuring = processor;
      if (all.count == 1) all.measuring = processor;
      ++all.count;
    }
    return all;
  }();
  return found;
}

void bind_to(int processor) {
  all_of_ours();
  cpu_set_t set;
  CPU_ZERO(&set);
  CPU_SET(static_cast<std::size_t>(processor), &set);
  apply(set);
}

void unbind() { apply(all_of_ours()); }

std::optional<double> processor_ns(pid_t process) {
  double sum = 0.0;
  std::error_code error;
  const auto tasks = "/proc/" + std::to_string(process) + "/task";
  for (const auto& task : std::filesystem::directory_iterator(tasks, error)) {
    std::ifstream file(task.path() / "schedstat");
    double ns = 0.0;
    if (!(file >> ns)) return std::nullopt;
    sum += ns;
  }
  if (error) return std::nullopt;
  return sum;
}

double resident_kB(pid_t process) {
  std::ifstream file("/proc/" + std::to_string(process) + "/status");
  std::string word;
  while (file >> word) {
    double value = 0.0;
    if (word == "VmRSS:" && file >> value) return value;
  }
  give_up("the system does not say how much memory a process has");
}

void Histogram::add(std::chrono::nanoseconds duration) {
  const auto ns = static_cast<std::uint64_t>(std::max<std::int64_t>(duration.count(), 0));
  largest_ = std::max(largest_, ns);
  ++count_;
  // Values below kFine have a bucket each; above, the highest seven bits say which.
  std::size_t bucket = ns;
  if (ns >= kFine) {
    const auto doublings = static_cast<unsigned>(std::bit_width(ns)) - 7U;
    bucket = (doublings + 1U) * kFine + ((ns >> doublings) - kFine);
  }
  ++buckets_[std::min(bucket, buckets_.size() - 1)];
}

double Histogram::quantile_us(double part) const {
  const auto wanted_rank = static_cast<std::uint64_t>(part * static_cast<double>(count_));
  std::uint64_t seen = 0;
  for (std::size_t bucket = 0; bucket < buckets_.size(); ++bucket) {
    seen += buckets_[bucket];
    if (seen <= wanted_rank) continue;
    if (bucket < kFine) return static_cast<double>(bucket) / 1e3;
    const auto doublings = bucket / kFine - 1;
    const auto low = static_cast<double>((bucket % kFine + kFine) << doublings);
    return (low + 0.5 * static_cast<double>(std::uint64_t{1} << doublings)) / 1e3;
  }
  return largest_us();
}

int connection_to(int port) {
  const int socket = ::socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
  sockaddr_in address{};
  address.sin_family = AF_INET;
  address.sin_port = htons(static_cast<std::uint16_t>(port));
  address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
  const bool there =
      socket >= 0 && ::connect(socket, reinterpret_cast<const sockaddr*>(&address), sizeof address) == 0;
  return there ? socket : -1;
}

double median(std::vector<double> values) {
  if (values.empty()) return 0.0;
  std::sort(values.begin(), values.end());
  const auto middle = values.size() / 2;
  return values.size() % 2 == 1 ? values[middle] : 0.5 * (values[middle - 1] + values[middle]);
}

std::string number(double value, int digits) {
  std::array<char, 64> text{};
  std::snprintf(text.data(), text.size(), "%.*f", digits, value);
  return text.data();
}

void Table::print(const std::string& title, const std::string& note) const {
  std::vector<std::size_t> widths;
  for (std::size_t column = 0; column < headings_.size(); ++column) {
    auto width = std::max<std::size_t>(headings_[column].size(), 3);
    for (const auto& cells : rows_) width = std::max(width, cells.at(column).size());
    widths.push_back(width);
  }
  const bool markdown = wanted().markdown;
  const auto print_row = [&](const std::vector<std::string>& cells) {
    std::string text = markdown ? "|" : " ";
    for (std::size_t column = 0; column < cells.size(); ++column) {
      const std::string padding(widths[column] - cells[column].size(), ' ');
      text += " " + (column == 0 ? cells[column] + padding : padding + cells[column]);
      text += markdown ? " |" : " ";
    }
    std::printf("%s\n", text.substr(0, text.find_last_not_of(' ') + 1).c_str());
  };
  std::printf(markdown ? "\n**%s**\n\n" : "\n%s\n", title.c_str());
  print_row(headings_);
  if (markdown) {
    std::string rule = "|";
    for (std::size_t column = 0; column < widths.size(); ++column)
      rule += (column == 0 ? " " : " ") + std::string(widths[column] - (column == 0 ? 0 : 1), '-') +
              (column == 0 ? " |" : ": |");
    std::printf("%s\n", rule.c_str());
  }
  for (const auto& cells : rows_) print_row(cells);
  if (!note.empty()) std::printf(markdown ? "\n%s\n" : "  %s\n", note.c_str());
  std::fflush(stdout);
}

}  // namespace emberline::speed

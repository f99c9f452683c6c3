#include "tests/interop/ngspice/simulate.hpp"

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <optional>
#include <sstream>
#include <utility>

#include <doctest/doctest.h>

namespace emberline::spice {
namespace {

/// A folder of its own, removed with everything in it.
class Folder {
 public:
  Folder() {
    std::string pattern = std::filesystem::temp_directory_path() / "emberline-circuit-XXXXXX";
    REQUIRE(::mkdtemp(pattern.data()) != nullptr);
    path_ = pattern;
  }
  ~Folder() {
    std::error_code ignored;
    std::filesystem::remove_all(path_, ignored);
  }
  Folder(const Folder&) = delete;
  Folder& operator=(const Folder&) = delete;
  [[nodiscard]] const std::filesystem::path& path() const { return path_; }

 private:
  std::filesystem::path path_;
};

std::string read(const std::filesystem::path& path) {
  std::ifstream file(path);
  std::ostringstream text;
  text << file.rdbuf();
  return text.str();
}

void write_netlist(const std::filesystem::path& path, const Circuit& circuit, double loose) {
  std::ofstream file(path);
  file.precision(15);
  file << "a circuit of thyristors\n";
  for (const auto& line : circuit.lines) file << line << "\n";
  // Gear's method: what hangs behind an inductance whose current has just ended would ring for ever by the
  // trapezoidal rule.
  file << ".options method=gear itl4=100 reltol=" << 1e-4 * loose << " abstol=" << 1e-6 * loose
       << " vntol=" << 1e-5 * loose
       << "\n.control\nset "
          "wr_singlescale\nset numdgt=11\n"
       << "tran " << circuit.step_s << " " << circuit.end_s << " " << circuit.keep_from_s << " "
       << circuit.step_s << " uic\nwrdata result.txt";
  for (const auto& vector : circuit.asked) file << " " << vector;
  file << "\nquit 0\n.endc\n.end\n";
}

/// Rows of numbers: the time first.
std::pair<std::vector<double>, std::vector<Signal>> read_columns(const std::filesystem::path& path,
                                                                 std::size_t columns) {
  const std::string text = read(path);
  std::pair<std::vector<double>, std::vector<Signal>> read{{}, std::vector<Signal>(columns)};
  const char* at = text.c_str();
  for (;;) {
    char* end = nullptr;
    const double time = std::strtod(at, &end);
    if (end == at) return read;
    at = end;
    read.first.push_back(time);
    for (auto& signal : read.second) {
      signal.push_back(std::strtod(at, &end));
      at = end;
    }
  }
}

/// How far from `a` to `b` (0 to 1) `time` is.
double share_of(double a, double b, double time) { return std::clamp((time - a) / (b - a), 0.0, 1.0); }

/// Nothing, and ngspice's own words, when it did not get to the end.
std::optional<Solution> try_once(const Circuit& circuit, double loose, std::string& words) {
  const Folder folder;
  write_netlist(folder.path() / "circuit.cir", circuit, loose);
  const std::string command = "cd '" + folder.path().string() +
                              "' && '" EMBERLINE_NGSPICE "' -b -n circuit.cir >log.txt 2>&1 </dev/null";
  const int status = std::system(command.c_str());
  auto [times, signals] = read_columns(folder.path() / "result.txt", circuit.asked.size());
  words = read(folder.path() / "log.txt");
  if (status != 0 || times.empty() || std::abs(times.back() - circuit.end_s) > 1e-6 * circuit.end_s)
    return {};
  return Solution(std::move(times), circuit.asked, std::move(signals));
}

}  // namespace

Solution::Solution(std::vector<double> times_s, std::vector<std::string> names, std::vector<Signal> signals)
    : times_s_(std::move(times_s)), names_(std::move(names)), signals_(std::move(signals)) {}

const Signal& Solution::operator[](const std::string& name) const {
  const auto found = std::find(names_.begin(), names_.end(), name);
  REQUIRE_MESSAGE(found != names_.end(), "nobody asked for " << name);
  return signals_[static_cast<std::size_t>(found - names_.begin())];
}

Signal Solution::difference(const std::string& name, const std::string& minus) const {
  Signal result = (*this)[name];
  const Signal& other = (*this)[minus];
  for (std::size_t i = 0; i < result.size(); ++i) result[i] -= other[i];
  return result;
}

Signal Solution::sum(const std::vector<std::string>& names) const {
  Signal result(times_s_.size());
  for (const auto& name : names) {
    const Signal& other = (*this)[name];
    for (std::size_t i = 0; i < result.size(); ++i) result[i] += other[i];
  }
  return result;
}

double Solution::at(const Signal& signal, double time_s) const {
  const auto after = std::upper_bound(times_s_.begin() + 1, times_s_.end() - 1, time_s);
  const auto k = static_cast<std::size_t>(after - times_s_.begin());
  return std::lerp(signal[k - 1], signal[k], share_of(times_s_[k - 1], times_s_[k], time_s));
}

/// `piece(k, a, b)` is the mean of something between the shares a and b of the way from point k to k + 1.
template <class Piece>
double Solution::mean_of_pieces(double from_s, double to_s, Piece piece) const {
  double sum = 0.0;
  for (std::size_t k = 0; k + 1 < times_s_.size(); ++k) {
    const double first = times_s_[k], second = times_s_[k + 1];
    if (second <= from_s || first >= to_s || second <= first) continue;
    const double a = share_of(first, second, from_s), b = share_of(first, second, to_s);
    sum += piece(k, a, b) * (b - a) * (second - first);
  }
  return sum / (to_s - from_s);
}

double Solution::mean_of(const Signal& left, const Signal& right, double from_s, double to_s) const {
  return mean_of_pieces(from_s, to_s, [&](std::size_t k, double a, double b) {
    const double l1 = std::lerp(left[k], left[k + 1], a), l2 = std::lerp(left[k], left[k + 1], b);
    const double r1 = std::lerp(right[k], right[k + 1], a), r2 = std::lerp(right[k], right[k + 1], b);
    return (2.0 * l1 * r1 + 2.0 * l2 * r2 + l1 * r2 + l2 * r1) / 6.0;
  });
}

double Solution::rms(const Signal& signal, double from_s, double to_s) const {
  return std::sqrt(mean_of(signal, signal, from_s, to_s));
}

double Solution::mean(const Signal& signal, double from_s, double to_s) const {
  return mean_of_pieces(from_s, to_s, [&](std::size_t k, double a, double b) {
    return std::lerp(signal[k], signal[k + 1], 0.5 * (a + b));
  });
}

double Solution::mean_magnitude(const Signal& signal, double from_s, double to_s) const {
  Signal magnitude = signal;
  for (auto& value : magnitude) value = std::abs(value);
  return mean(magnitude, from_s, to_s);
}

double Solution::peak(const Signal& signal, double from_s, double to_s) const {
  constexpr double kLasts_s = 2e-6;
  double largest = std::max(std::abs(at(signal, from_s)), std::abs(at(signal, to_s)));
  for (std::size_t k = 0; k < times_s_.size(); ++k) {
    if (times_s_[k] < from_s || times_s_[k] > to_s) continue;
    largest = std::max(largest, std::min(std::abs(signal[k]), std::abs(at(signal, times_s_[k] + kLasts_s))));
  }
  return largest;
}

Solution simulate(const Circuit& circuit) {
  std::string words;
  struct Attempt {
    double step_share, loose;
  };
  for (const auto& attempt : {Attempt{1.0, 1.0}, {0.83, 1.0}, {0.83, 10.0}, {0.61, 10.0}, {1.19, 10.0}}) {
    Circuit changed = circuit;
    changed.step_s *= attempt.step_share;
    if (auto solved = try_once(changed, attempt.loose, words)) return std::move(*solved);
  }
  FAIL("ngspice did not get to the end: " << words);
  return {};
}

}  // namespace emberline::spice

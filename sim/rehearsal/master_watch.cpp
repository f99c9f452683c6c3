#include "sim/rehearsal/master_watch.hpp"

#include <algorithm>
#include <utility>

#include "sim/bench/master_name.hpp"
#include "sim/bench/signal.hpp"
#include "sim/registers/point.hpp"

namespace emberline::rehearsal {

MasterWatch::MasterWatch(const bench::BenchSpec& spec) : retries_(spec) {
  for (std::size_t u = 0; u < spec.units.size(); ++u) heard_.push_back({slave_of_unit(spec, u)});
  for (std::size_t b = 0; b < spec.io_blocks.size(); ++b) heard_.push_back({slave_of_io_block(spec, b)});
}

void MasterWatch::on_request(std::function<void(const bench::RequestSeen&, bool)> listener) {
  listener_ = std::move(listener);
}

void MasterWatch::request(const bench::RequestSeen& request) {
  const bool again = retries_.request(request);
  for (auto& heard : heard_)
    if (heard.slave.is_reached(request)) heard.silence.heard(request.at);
  if (listener_) listener_(request, again);
}

void MasterWatch::write(const unit::WriteSeen& write) {
  auto& written =
      written_[{std::string(bench::without_port(write.master)), std::string(write.unit), write.point}];
  if (written.times++ == 0) {
    written.first_at = write.at;
    written.first = written.lowest = written.highest = write.asked;
  }
  if (!write.accepted) ++written.refused;
  written.last_at = write.at;
  written.last = write.asked;
  // A value that is not a number is neither.
  if (!(written.lowest <= write.asked)) written.lowest = write.asked;
  if (!(written.highest >= write.asked)) written.highest = write.asked;
}

std::vector<WritesOfPoint> MasterWatch::writes() const {
  std::vector<WritesOfPoint> all;
  for (const auto& [key, written] : written_) {
    const auto& [master, unit, point] = key;
    const auto& catalogue = registers::point_info(point);
    const bench::SignalInfo info{catalogue.dimension, catalogue.values, catalogue.flags};
    WritesOfPoint line;
    line.master = master;
    line.point = unit + "." + std::string(catalogue.name);
    line.times = written.times;
    line.refused = written.refused;
    line.first_at = written.first_at;
    line.first = bench::describe_value(info, written.first);
    line.last_at = written.last_at;
    line.last = bench::describe_value(info, written.last);
    if (bench::is_quantity(info)) {
      line.lowest = bench::describe_value(info, written.lowest);
      line.highest = bench::describe_value(info, written.highest);
    }
    all.push_back(std::move(line));
  }
  return all;
}

std::vector<Silence> MasterWatch::silences(SimTime end) const {
  std::vector<Silence> all;
  for (const auto& heard : heard_) {
    const auto longest = heard.silence.until(end);
    all.push_back({heard.slave.name(), longest.length(), longest.to});
  }
  return all;
}

}  // namespace emberline::rehearsal

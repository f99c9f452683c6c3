#include "sim/bench/lines.hpp"

#include <algorithm>
#include <utility>

namespace emberline::bench {

Lines::Lines(const BenchSpec& spec, JournalSink& journal, std::uint64_t seed)
    : spec_(spec), journal_(journal), chance_(seed), lines_(spec.lines.size()) {}

void Lines::note(std::size_t line, SimTime at, std::string sentence) {
  journal_.note(at, spec_.lines[line].name, std::move(sentence));
}

void Lines::cut(std::size_t line, Way way, SimTime at) {
  Line& it = lines_.at(line);
  const bool to_units = way != Way::to_masters;
  const bool to_masters = way != Way::to_units;
  if ((!to_units || it.cut_to_units) && (!to_masters || it.cut_to_masters)) return;
  ++changes_;
  it.cut_to_units = it.cut_to_units || to_units;
  it.cut_to_masters = it.cut_to_masters || to_masters;
  note(line, at,
       it.cut_to_units && it.cut_to_masters ? "cable pulled: nothing gets through"
       : to_units                           ? "broken towards the units: they hear nothing"
                  : "broken towards the masters: units hear and act, no answer gets through");
}

void Lines::mend(std::size_t line, SimTime at) {
  Line& it = lines_.at(line);
  if (!it.cut_to_units && !it.cut_to_masters) return;
  ++changes_;
  it.cut_to_units = it.cut_to_masters = false;
  note(line, at, "cable plugged in again");
}

bool Lines::passes(std::size_t line, Way way) const {
  const Line& it = at(line);
  return (way == Way::to_masters || !it.cut_to_units) && (way == Way::to_units || !it.cut_to_masters);
}

void Lines::impair(std::size_t line, std::string_view word, std::unique_ptr<Impairment> impairment,
                   std::string sentence, SimTime at) {
  Line& it = lines_.at(line);
  const auto same = std::find_if(it.impairments.begin(), it.impairments.end(),
                                 [&](const Held& held) { return held.word == word; });
  if (same != it.impairments.end()) {
    same->impairment = std::move(impairment);
    ++it.lifts;
  } else {
    it.impairments.push_back({std::string(word), std::move(impairment)});
  }
  note(line, at, std::move(sentence));
  settle_conduct(it);
}

bool Lines::lift(std::size_t line, std::string_view word, SimTime at) {
  Line& it = lines_.at(line);
  const auto gone = std::erase_if(it.impairments, [&](const Held& held) { return held.word == word; });
  if (gone == 0) return false;
  ++it.lifts;
  note(line, at, std::string(word) + " is over");
  settle_conduct(it);
  return true;
}

void Lines::restore(std::size_t line, SimTime at) {
  mend(line, at);
  Line& it = lines_.at(line);
  while (!it.impairments.empty()) lift(line, std::string(it.impairments.front().word), at);
}

void Lines::settle_conduct(Line& line) {
  ++changes_;
  TcpConduct now;
  now.resets = line.conduct.resets;
  now.reset_at = line.conduct.reset_at;
  line.conduct = now;
  for (const Held& held : line.impairments) held.impairment->conduct(line.conduct);
}

void Lines::reset_connections(std::size_t line, SimTime at) {
  TcpConduct& conduct = lines_.at(line).conduct;
  ++changes_;
  ++conduct.resets;
  conduct.reset_at = at;
  note(line, at, "all connections reset");
}

int Lines::state(std::size_t line) const {
  const Line& it = at(line);
  if (it.cut_to_units || it.cut_to_masters) return 1;
  return it.impairments.empty() ? 0 : 2;
}

void Lines::bytes_in(std::size_t line, modbus::Bytes& bytes) {
  for (const Held& held : at(line).impairments) held.impairment->bytes_in(bytes, chance_);
}

std::optional<Duration> Lines::request(std::size_t line, const Query& query) {
  Duration sum{};
  for (const Held& held : at(line).impairments) {
    const auto held_up = held.impairment->request(query, chance_);
    if (!held_up) return std::nullopt;
    sum += *held_up;
  }
  return sum;
}

void Lines::answer(std::size_t line, const Query& query, std::vector<Piece>& pieces) {
  for (const Held& held : at(line).impairments) held.impairment->answer(query, pieces, chance_);
}

void Lines::remove_observer(LineObserver& observer) { std::erase(observers_, &observer); }

}  // namespace emberline::bench

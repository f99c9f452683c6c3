#include "sim/io/tables/guess_words.hpp"

#include <algorithm>
#include <iterator>
#include <unordered_map>
#include <utility>
#include <vector>

namespace emberline::io {
namespace {

constexpr std::size_t kLongestName = 200;  // of more no table's name is made

using Words = std::vector<std::string>;
using Pair = std::pair<std::string_view, std::string_view>;

/// Several words that are one, or that are better said otherwise; the longer ones first.
constexpr Pair kPhrases[] = {
    {"heat sink over temperature", "heatsink over temperature"},
    {"set point", "setpoint"},
    {"heat sink", "heatsink"},
    {"time out", "timeout"},
    {"heart beat", "heartbeat"},
    {"life sign", "heartbeat"},
    {"life bit", "heartbeat"},
    {"alive counter", "heartbeat"},
    {"run time", "runtime"},
    {"running time", "runtime"},
    {"running hours", "runtime"},
    {"run hours", "runtime"},
    {"hours run", "runtime"},
    {"operating hours", "runtime"},
    {"operation hours", "runtime"},
    {"operating time", "runtime"},
    {"on time", "runtime"},
    {"hour meter", "runtime"},
    {"hours counter", "runtime"},
    {"short circuit", "shorted"},
    {"short circuited", "shorted"},
    {"heating element", "element"},
    {"cos phi", "power factor"},
    {"duty cycle", "duty"},
    {"duty ratio", "duty"},
    {"phase angle", "firing angle"},
    {"ignition angle", "firing angle"},
    {"delay angle", "firing angle"},
    {"trigger angle", "firing angle"},
    {"conduction delay", "firing angle"},
};

/// One word for another.
constexpr Pair kSynonyms[] = {
    {"curr", "current"},
    {"amps", "current"},
    {"amperage", "current"},
    {"currents", "current"},
    {"volt", "voltage"},
    {"volts", "voltage"},
    {"voltages", "voltage"},
    {"pwr", "power"},
    {"temp", "temperature"},
    {"freq", "frequency"},
    {"sp", "setpoint"},
    {"setpt", "setpoint"},
    {"target", "setpoint"},
    {"mains", "supply"},
    {"grid", "supply"},
    {"cooler", "heatsink"},
    {"heater", "element"},
    {"status", "state"},
    {"alarm", "warning"},
    {"alarms", "warning"},
    {"warnings", "warning"},
    {"warn", "warning"},
    {"trips", "trip"},
    {"tripped", "trip"},
    {"fault", "trip"},
    {"faults", "trip"},
    {"error", "trip"},
    {"errors", "trip"},
    {"failure", "trip"},
    {"failures", "trip"},
    {"fail", "trip"},
    {"communication", "comms"},
    {"communications", "comms"},
    {"comm", "comms"},
    {"com", "comms"},
    {"bus", "comms"},
    {"fieldbus", "comms"},
    {"modbus", "comms"},
    {"acknowledge", "reset"},
    {"ack", "reset"},
    {"clear", "reset"},
    {"lim", "limit"},
    {"limiting", "limit"},
    {"limitation", "limit"},
    {"limiter", "limit"},
    {"scr", "thyristor"},
    {"scrs", "thyristor"},
    {"thyristors", "thyristor"},
    {"overcurrent", "over current"},
    {"overtemperature", "over temperature"},
    {"overtemp", "over temperature"},
    {"overvoltage", "over voltage"},
    {"undervoltage", "under voltage"},
    {"cosphi", "power factor"},
    {"pf", "power factor"},
    {"max", "peak"},
    {"maximum", "peak"},
    {"loss", "lost"},
    {"missing", "lost"},
    {"short", "shorted"},
    {"blown", "open"},
    {"threshold", "threshold"},
    {"level", "threshold"},
    {"consumption", "energy"},
    {"kwh", "energy"},
    {"runtime", "runtime"},
    {"alive", "heartbeat"},
    {"remote", "remote"},
    {"thermocouple", "sensor"},
    {"resist", "resistance"},
    {"res", "resistance"},
    {"requests", "request"},
};

/// Words that tell nothing of which value it is.
constexpr std::string_view kNoise[] = {
    "actual",    "act",        "value",  "values",  "measured",   "measurement", "meas",     "present",
    "rms",       "of",         "the",    "total",   "mean",       "average",     "avg",      "sum",
    "register",  "word",       "code",   "reading", "monitor",    "monitoring",  "flags",    "bits",
    "bit",       "number",     "in",     "a",       "an",         "and",         "on",       "at",
    "is",        "any",        "common", "general", "collective", "overall",     "detected", "occurred",
    "condition", "indication", "all"};

bool is_digit(char c) { return c >= '0' && c <= '9'; }
bool is_upper(char c) { return c >= 'A' && c <= 'Z'; }
bool is_letter(char c) {
  return is_upper(c) || (c >= 'a' && c <= 'z') || static_cast<unsigned char>(c) >= 0x80U;
}

/// Runs of letters and runs of digits, in small letters.
Words raw_words(std::string_view name) {
  Words words;
  std::string word;
  const auto end_word = [&] {
    if (!word.empty()) words.push_back(std::exchange(word, {}));
  };
  bool upper_before = false;
  for (const char c : name.substr(0, kLongestName)) {
    if (!is_letter(c) && !is_digit(c)) {
      end_word();
      continue;
    }
    const bool turns = !word.empty() && is_digit(c) != is_digit(word.back());
    const bool hump = word.size() > 1 && is_upper(c) && !upper_before && !is_digit(word.back());
    if (turns || hump) end_word();
    upper_before = is_upper(c);
    word += is_upper(c) ? static_cast<char>(c - 'A' + 'a') : c;
  }
  end_word();
  return words;
}

/// Takes the phase out of the words.
int take_phase(Words& words) {
  int phase = 0;
  Words left;
  for (std::size_t i = 0; i < words.size(); ++i) {
    const auto& word = words[i];
    const bool one_to_three = word.size() == 1 && word[0] >= '1' && word[0] <= '3';
    if (!one_to_three || phase != 0) {
      left.push_back(word);
      continue;
    }
    const std::string before = left.empty() ? "" : left.back();
    const bool named =
        before == "l" || before == "ph" || before == "phase" || before == "leg" || before == "p";
    if (!named && before != "line" && i + 1 != words.size()) {
      left.push_back(word);
      continue;
    }
    phase = word[0] - '0';
    if (named) left.pop_back();
  }
  words = std::move(left);
  return phase;
}

std::string joined(const Words& words) {
  std::string text;
  for (const auto& word : words) text += (text.empty() ? "" : " ") + word;
  return text;
}

Words parted(const std::string& text) {
  Words words;
  std::size_t from = 0;
  while (from < text.size()) {
    const auto end = std::min(text.find(' ', from), text.size());
    if (end > from) words.push_back(text.substr(from, end - from));
    from = end + 1;
  }
  return words;
}

void replace_phrases(Words& words) {
  if (words.size() < 2) return;
  auto text = " " + joined(words) + " ";
  bool changed = false;
  for (const auto& [from, to] : kPhrases) {
    // A blank at both ends: a phrase is of whole words.
    const auto at = text.find(from);
    if (at == std::string::npos || text[at - 1] != ' ' || text[at + from.size()] != ' ') continue;
    text.replace(at, from.size(), to);
    changed = true;
  }
  if (changed) words = parted(text);
}

std::string_view synonym(std::string_view word) {
  static const std::unordered_map<std::string_view, std::string_view> known(std::begin(kSynonyms),
                                                                            std::end(kSynonyms));
  const auto found = known.find(word);
  return found == known.end() ? word : found->second;
}

bool is_noise(std::string_view word) {
  return std::find(std::begin(kNoise), std::end(kNoise), word) != std::end(kNoise);
}

}  // namespace

NameWords name_words(std::string_view name) {
  NameWords found;
  auto words = raw_words(name);
  found.phase = take_phase(words);
  replace_phrases(words);
  Words same;
  for (const auto& word : words)
    for (auto& part : parted(std::string(synonym(word)))) same.push_back(std::move(part));
  // What is noise beside other words may be all there is: "On" of a state.
  Words telling;
  std::copy_if(same.begin(), same.end(), std::back_inserter(telling),
               [](const auto& w) { return !is_noise(w); });
  if (telling.empty()) telling = same;
  found.warning = std::find(telling.begin(), telling.end(), "warning") != telling.end();
  const auto fails = [](const std::string& w) { return w == "failure" || w == "failures" || w == "fail"; };
  found.failure = std::any_of(words.begin(), words.end(), fails);
  found.trip = std::any_of(words.begin(), words.end(),
                           [&](const std::string& w) { return !fails(w) && synonym(w) == "trip"; });
  std::sort(telling.begin(), telling.end());
  telling.erase(std::unique(telling.begin(), telling.end()), telling.end());
  found.key = joined(telling);
  return found;
}

std::string without_word(const std::string& key, std::string_view word) {
  auto words = parted(key);
  std::erase(words, std::string(word));
  return joined(words);
}

}  // namespace emberline::io

#include <algorithm>
#include <cctype>
#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <limits>
#include <random>
#include <sstream>
#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "sim/io/tables/table_formats.hpp"
#include "sim/io/tables/table_notes.hpp"
#include "tests/sim/io/tables/every_type.hpp"
#include "tests/support/this_build.hpp"

// The functions in the Structured Text that is written are run by tests/interop/st/run.py, which knows the
// language from its own grammar, and have to give what registers::encode_row and decode_row give.

using namespace emberline;
using registers::Row;
using registers::Type;

namespace {

constexpr double kNan = std::numeric_limits<double>::quiet_NaN();
constexpr double kInfinite = std::numeric_limits<double>::infinity();

/// A call in JSON, and what has to come back.
struct Call {
  std::string json;
  std::string what;  ///< for messages
  bool is_truth = false;
  double expected = 0.0;
  double tolerance = 0.0;  ///< relative
};

/// The answers of run.py to calls of functions in `program`, a line each.
std::vector<std::string> run(const std::string& program, const std::vector<std::string>& calls) {
  const std::string folder = testing::build_folder() + "/test-artefacts/st/";
  std::filesystem::create_directories(folder);
  std::ofstream(folder + "functions.st") << program;
  std::ofstream wishes(folder + "calls.jsonl");
  for (const auto& call : calls) wishes << call << "\n";
  wishes.close();
  // Debian's own Python, which has what tests/setup.sh installs, before any other.
  const std::string python = std::filesystem::exists("/usr/bin/python3") ? "/usr/bin/python3" : "python3";
  const std::string command = "PYTHONDONTWRITEBYTECODE=1 " + python +
                              " " EMBERLINE_SOURCE_DIR "/tests/interop/st/run.py '" + folder +
                              "functions.st' < '" + folder + "calls.jsonl' > '" + folder + "answers.jsonl'";
  REQUIRE(std::system(command.c_str()) == 0);
  std::vector<std::string> answers;
  std::ifstream file(folder + "answers.jsonl");
  for (std::string line; std::getline(file, line);) answers.push_back(line);
  REQUIRE_MESSAGE(answers.size() == calls.size(), (answers.empty() ? "" : answers.front()));
  return answers;
}

/// What stands behind a key, as far as a number, true or false goes.
std::string after(const std::string& json, const std::string& key) {
  const auto at = json.find("\"" + key + "\": ");
  if (at == std::string::npos) return "nothing called " + key + " in " + json;
  const auto from = at + key.size() + 4;
  return json.substr(from, json.find_first_of(",}", from) - from);
}

std::string number(double value) {
  if (std::isnan(value)) return "\"nan\"";
  if (std::isinf(value)) return value > 0 ? "\"inf\"" : "\"-inf\"";
  return format_number(value);
}

std::string upper(std::string text) {
  for (char& c : text) c = c == '-' ? '_' : static_cast<char>(std::toupper(static_cast<unsigned char>(c)));
  return text;
}

/// The name of a row's member: the point, with where it stands from its second row on.
std::vector<std::pair<const Row*, std::string>> members_of(const registers::RegisterTable& table) {
  std::vector<std::pair<const Row*, std::string>> members;
  std::vector<std::string> taken;
  for (const auto kind : io::listing_order()) {
    for (const auto& row : table.rows()) {
      if (row.table != kind) continue;
      auto name = upper(std::string(name_of(row)));
      if (!carries_point(row) && !row.text)
        name += "_AT_" + registers::reference_number(row.address, row.table);
      if (row.flag) name += "_" + upper(std::string(io::flag_word(row)));
      if (std::find(taken.begin(), taken.end(), name) != taken.end())
        name += "_AT_" + registers::reference_number(row.address, row.table);
      taken.push_back(name);
      members.emplace_back(&row, name);
    }
  }
  return members;
}

bool has_unit_or_scale(const Row& row) {
  const auto& info = point_info(row.point);
  return row.layout.type == Type::f32 || !natural_unit(info.dimension).empty() || row.layout.scale != 1.0;
}

class Calls {
 public:
  explicit Calls(const std::string& prefix) : prefix_(prefix) {}

  void read(const Row& row, const std::string& member, const std::vector<std::uint16_t>& words) {
    std::string args;
    for (const auto word : words) args += (args.empty() ? "" : ", ") + std::to_string(word);
    const double value = registers::decode_row(row, words);
    const bool infinite = std::isinf(value);
    const bool none = std::isnan(value) || infinite || says_none(row, words);
    const auto json = [&](const char* verb) {
      return "{\"call\": \"" + prefix_ + verb + member + "\", \"args\": [" + args + "]}";
    };
    const auto what = member + " from " + args;
    const bool numbered = !point_info(row.point).values.empty() && carries_point(row);
    const bool can_be_none = row.layout.type == Type::f32 || row.layout.broken || numbered ||
                             row.layout.coding == registers::Coding::bcd;
    if (can_be_none) all.push_back({json("_VALID_"), what + ", valid", true, none ? 0.0 : 1.0});
    if (none) return;
    if (row.layout.type == Type::bit) {
      all.push_back({json("_GET_"), what, true, value != 0.0 ? 1.0 : 0.0});
      return;
    }
    double expected = value;
    if (numbered) {
      const auto found = row.values.find(static_cast<int>(value));
      if (found != row.values.end()) expected = found->second;
    } else if (carries_point(row) && !point_info(row.point).flags.empty()) {
      expected = registers::decode(words, row.layout);  // bits as carried; the constants say which is which
    } else if (carries_point(row) && has_unit_or_scale(row)) {
      expected = value / natural_factor(point_info(row.point).dimension);
    }
    all.push_back({json("_GET_"), what, false, expected, 1e-12});
  }

  /// What may be written of it: within the row's range, and its least for what is no number.
  static double held(const Row& row, double value) {
    if (!row.range || !point_info(row.point).values.empty()) return value;
    return std::isnan(value) ? row.range->first : std::clamp(value, row.range->first, row.range->second);
  }

  /// `value` in SI; whole numbers of words are ours.
  void write(const Row& row, const std::string& member, double value) {
    const auto words = registers::encode_row(row, held(row, value));
    std::string given = number(value / natural_factor(point_info(row.point).dimension));
    if (row.layout.type == Type::bit) given = value != 0.0 ? "true" : "false";
    const auto renumbered = row.values.find(static_cast<int>(std::isfinite(value) ? value : -1));
    if (renumbered != row.values.end()) given = std::to_string(renumbered->second);
    const bool shared = row.layout.type == Type::bit || row.layout.type == Type::bits;
    for (int i = 0; i < words.used; ++i) {
      std::string args = "\"value\": " + given;
      if (shared) args += ", \"word_0\": 0";
      if (words.used > 1) args += ", \"index\": " + std::to_string(i);
      all.push_back({"{\"call\": \"" + prefix_ + "_SET_" + member + "\", \"args\": {" + args + "}}",
                     member + " to register " + std::to_string(i) + ": " + given, false,
                     static_cast<double>(words.words[static_cast<std::size_t>(i)])});
    }
  }

  std::vector<Call> all;

 private:
  /// The registers hold the count that stands for no value.
  static bool says_none(const Row& row, const std::vector<std::uint16_t>& words) {
    if (!row.layout.broken) return false;
    const auto none = registers::encode(kNan, row.layout);
    // Of a register that is shared, the row's own bits: with the other ones off.
    if (row.layout.type == Type::bits)
      return registers::encode(registers::decode(words, row.layout), row.layout).words == none.words;
    return std::equal(words.begin(), words.end(), none.words.begin());
  }
  std::string prefix_;
};

void check_all(const std::string& program, const std::vector<Call>& calls) {
  std::vector<std::string> wishes;
  for (const auto& call : calls) wishes.push_back(call.json);
  const auto answers = run(program, wishes);
  for (std::size_t i = 0; i < calls.size(); ++i) {
    const auto& call = calls[i];
    CAPTURE(call.what);
    CAPTURE(call.json);
    const auto result = after(answers[i], "result");
    if (call.is_truth) {
      CHECK_MESSAGE(result == std::string(call.expected != 0.0 ? "true" : "false"), answers[i]);
      continue;
    }
    char* end = nullptr;
    const double found = std::strtod(result.c_str(), &end);
    CHECK_MESSAGE(end != result.c_str(), answers[i]);
    CHECK(std::abs(found - call.expected) <= call.tolerance * std::abs(call.expected));
  }
}

io::RegisterList list_of(const std::shared_ptr<const registers::RegisterTable>& table) {
  return {"A sample", "emberline", {{table, {}}}};
}

}  // namespace

TEST_CASE("the functions in Structured Text read other values than the table means") {
  const auto table = test::every_type();
  Calls calls("EVERY_TYPE_ALL");
  std::mt19937 chance(7);
  std::uniform_int_distribution<unsigned> any(0, 0xFFFF);
  for (const auto& [row, member] : members_of(*table)) {
    if (modbus::carries_bits(row->table) || row->layout.type == Type::text) continue;
    const auto width = static_cast<std::size_t>(register_count(row->layout));
    for (int i = 0; i < 12; ++i) {
      std::vector<std::uint16_t> words(width);
      for (auto& word : words) word = static_cast<std::uint16_t>(any(chance));
      calls.read(*row, member, words);
    }
    for (const int same : {0x0000, 0xFFFF, 0x8000, 0x7FFF, 0x9999, 0x0001, 0x0080, 0x7F80, 0x1234})
      calls.read(*row, member, std::vector<std::uint16_t>(width, static_cast<std::uint16_t>(same)));
    // What is carried for ordinary values; of words all of them, of no value what stands for it.
    for (const double count : {0.0, 1.0, 2.0, 3.0, 7.0, 10.0, 66.0, 123.0, 9999.0}) {
      auto plain = *row;
      plain.values.clear();
      plain.flags.clear();
      const auto words = registers::encode_row(plain, count * row->layout.scale);
      calls.read(*row, member, {words.words.begin(), words.words.begin() + words.used});
    }
    const auto none = registers::encode(kNan, row->layout);
    if (row->layout.broken) calls.read(*row, member, {none.words.begin(), none.words.begin() + none.used});
  }
  CHECK(calls.all.size() > 900);
  check_all(io::registers_st(list_of(table)), calls.all);
}

TEST_CASE("the functions in Structured Text write other registers than the table means") {
  const auto table = test::every_type();
  Calls calls("EVERY_TYPE_ALL");
  std::mt19937 chance(8);
  for (const auto& [row, member] : members_of(*table)) {
    if (modbus::carries_bits(row->table) || row->access == registers::Access::read_only) continue;
    const auto& layout = row->layout;
    const auto& info = point_info(row->point);
    if (layout.type == Type::bit || !info.values.empty()) {
      for (int i = 0; i < static_cast<int>(std::max<std::size_t>(info.values.size(), 2)); ++i)
        calls.write(*row, member, i);
      continue;
    }
    const double low = std::max(lowest(layout), -1e300);
    const double high = highest(layout);
    if (!has_unit_or_scale(*row)) {  // a whole number, in the type of the count
      for (const double whole : {0.0, 1.0, 7.0, 63.0, 64.0, 9999.0, 10000.0, 32767.0})
        if (whole <= high || layout.type != Type::s16) calls.write(*row, member, whole);
      if (layout.type == Type::s16) calls.write(*row, member, -32768.0);
      if (layout.type == Type::u64)
        for (const double whole : {1e12 + 1.0, 999999999999999.0, 4503599627370497.0, 9007199254740991.0})
          calls.write(*row, member, whole);
      continue;
    }
    std::vector<double> counts{0.0,
                               1.0,
                               -1.0,
                               0.4,
                               0.5,
                               1.5,
                               2.5,
                               -0.5,
                               -1.5,
                               100.49,
                               low,
                               high,
                               high - 0.5,
                               high + 0.6,
                               2.0 * high + 5.0,
                               low - 0.6,
                               2.0 * low - 5.0,
                               0.1,
                               1e-3};
    std::uniform_real_distribution<double> below(0.0, 1.0);
    for (int i = 0; i < 12; ++i)
      counts.push_back(std::min(high, 1e15) * std::pow(10.0, -below(chance) * 12.0));
    if (layout.type == Type::f32)  // single precision: subnormal, halves between two neighbours, too great
      counts.insert(counts.end(),
                    {1e-40, 1.4e-45, 7e-46, 1e-60, 16777217.0, 16777219.0, 3.4028235677973366e38, 1e39,
                     1.17549435e-38, -3.3, 8388608.5, 8388609.5, 0.33333333333333331});
    for (const double count : counts) calls.write(*row, member, count * layout.scale);
    calls.write(*row, member, kNan);
    calls.write(*row, member, kInfinite);
    calls.write(*row, member, -kInfinite);
  }
  CHECK(calls.all.size() > 900);
  check_all(io::registers_st(list_of(table)), calls.all);
}

TEST_CASE("a value that is no number, or too great, goes out as more than may be written") {
  const auto table = test::every_type();
  const std::string set = "{\"call\": \"EVERY_TYPE_ALL_SET_";
  const auto setpoint = [&](const std::string& percent, double counts) {
    return Call{set + "SETPOINT\", \"args\": [" + percent + "]}", "setpoint " + percent, false, counts};
  };
  const auto low_word = [&](const std::string& name, const std::string& value, double word) {
    return Call{set + name + "\", \"args\": {\"value\": " + value + ", \"index\": 1}}", name + " " + value,
                false, word};
  };
  // 0 to 100 % in counts of 0.1 %; 0 to 600 s in decimal digits of 1 ms, whose low word is then 0x0000.
  check_all(io::registers_st(list_of(table)),
            {setpoint("\"nan\"", 0), setpoint("1000.0", 1000), setpoint("100.04", 1000), setpoint("-5.0", 0),
             setpoint("\"inf\"", 1000), setpoint("\"-inf\"", 0), setpoint("55.55", 556),
             low_word("COMMS_TIMEOUT", "\"nan\"", 0x0000), low_word("COMMS_TIMEOUT", "6e9", 0x0000),
             low_word("COMMS_TIMEOUT", "1.234", 0x1234)});
}

TEST_CASE("writing a bit or some bits of a register in Structured Text changes the others") {
  const auto table = test::every_type();
  const std::string set = "{\"call\": \"EVERY_TYPE_ALL_SET_";
  check_all(io::registers_st(list_of(table)),
            {{set + "RESET\", \"args\": [true, 43690]}", "reset on", false, 43691.0},
             {set + "RESET\", \"args\": [false, 43691]}", "reset off", false, 43690.0},
             {set + "LEARN_LOAD\", \"args\": [true, 1]}", "bit 15 on", false, 32769.0},
             {set + "HEARTBEAT\", \"args\": [63, 32769]}", "bits 4 to 9", false, 33777.0},
             {set + "SUPPLY_LOW_DELAY\", \"args\": [0.0, 65535]}", "high byte seen as low", false, 65408.0}});
}

TEST_CASE("a block read lands elsewhere in the structure of the points, or more of it than came") {
  const auto table = test::every_type();
  const auto program = io::registers_st(list_of(table));
  // A structure of nothing, as the file declares it.
  std::string points;
  const auto from = program.find("EVERY_TYPE_ALL_POINTS : STRUCT");
  std::istringstream lines(program.substr(from, program.find("END_STRUCT", from) - from));
  std::string line;
  std::getline(lines, line);
  while (std::getline(lines, line)) {
    std::istringstream fields(line);
    std::string name, colon, type;
    if (!(fields >> name >> colon >> type) || colon != ":") continue;  // the rest of a comment
    const bool text = type.rfind("STRING", 0) == 0;
    points += (points.empty() ? "\"" : ", \"") + name + "\": " +
              (text                         ? "\"\""
               : type.rfind("BOOL", 0) == 0 ? "false"
                                            : "0");
  }
  std::vector<std::uint16_t> words(125, 0);
  words[1] = 66;      // 0x0101: warnings
  words[4] = 0x8000;  // 0x0104: no value
  words[5] = 0xFFFE;  // 0x0105: -2, low word first
  words[6] = 0xFFFF;
  words[13] = 0x454C;  // 0x010D: "EL7"
  words[14] = 0x3700;
  words[19] = 0x4C45;  // 0x0113: "EL,24", low byte first
  words[20] = 0x322C;
  words[21] = 0x0034;
  std::string list;
  for (const auto word : words) list += (list.empty() ? "" : ", ") + std::to_string(word);
  const auto taking = [&](const std::string& first, const std::string& count) {
    return "{\"call\": \"EVERY_TYPE_ALL_TAKE_INPUT\", \"args\": {\"first\": " + first +
           ", \"count\": " + count + ", \"words\": [" + list + "], \"points\": {" + points + "}}}";
  };
  const auto answers = run(program, {taking("256", "22"), taking("256", "6"), taking("257", "22")});
  const auto& whole = answers[0];
  CHECK(after(whole, "result") == "10");  // of eleven rows: load_power has no value
  CHECK(after(whole, "LOAD_POWER_VALID") == "false");
  CHECK(after(whole, "STATE_VALID") == "true");
  CHECK(after(whole, "WARNINGS") == "66");
  CHECK(after(whole, "ELEMENT_TEMPERATURE") == "-2.0");
  CHECK(after(whole, "PRODUCT_CODE") == "\"EL7\"");
  CHECK(whole.find("\"FIXED_AT_30276\": \"EL,24\"") != std::string::npos);
  CHECK(after(answers[1], "result") == "3");  // element_temperature is there by half
  CHECK(after(answers[1], "ELEMENT_TEMPERATURE") == "0.0");
  CHECK(after(answers[2], "WARNINGS") == "0");  // what comes from one further on is one off
}

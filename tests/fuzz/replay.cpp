// In place of libFuzzer, for a build by any compiler: feeds a fuzzer its kept inputs, and then variations of
// them, the same each time. What it cannot do is look where they get to; that is left to libFuzzer.
#include <algorithm>
#include <csignal>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <random>
#include <string>
#include <vector>

#include <sanitizer/common_interface_defs.h>
#include <sanitizer/lsan_interface.h>
#include <unistd.h>

#include "tests/fuzz/fuzz.hpp"

// What the other of the two sanitizers finds ends as an abort too, so that its input is kept.
extern "C" const char* __ubsan_default_options();
const char* __ubsan_default_options() { return "abort_on_error=1"; }

namespace {

constexpr std::size_t kLongest = 6000;
constexpr unsigned kPatience_s = 60;
constexpr int kBetweenLooks = 500;

std::string g_input;  // what is being tried
std::string g_kept;   // where it is kept if it breaks something

void keep_input() {
  std::ofstream(g_kept, std::ios::binary) << g_input;
  (void)std::fprintf(stderr, "the input is kept in %s\n", g_kept.c_str());
}

void on_signal(int number) {
  keep_input();
  (void)std::fprintf(stderr, number == SIGALRM ? "BROKEN: takes too long\n" : "BROKEN: aborted\n");
  ::_exit(1);
}

void attempt(std::string input) {
  g_input = std::move(input);
  ::alarm(kPatience_s);
  // At its own end, so that reading past it is seen.
  const std::vector<std::uint8_t> bytes(g_input.begin(), g_input.end());
  (void)LLVMFuzzerTestOneInput(bytes.data(), bytes.size());
}

/// Looked for now and then, since at the end nobody knows any more which input it was.
void look_for_leaks() { emberline::fuzz::must(__lsan_do_recoverable_leak_check() == 0, "nothing leaks"); }

std::string text_of(const std::filesystem::path& path) {
  std::ifstream file(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(file), {}};
}

std::vector<std::string> texts_in(const std::filesystem::path& folder) {
  std::vector<std::filesystem::path> paths;
  for (const auto& entry : std::filesystem::directory_iterator(folder)) paths.push_back(entry.path());
  std::sort(paths.begin(), paths.end());
  std::vector<std::string> texts;
  for (const auto& path : paths) texts.push_back(text_of(path));
  return texts;
}

/// The words of a dictionary: what stands between the quotes of a line, with its \xNN, \" and \\ put in.
std::vector<std::string> words_of(const char* dictionary) {
  std::vector<std::string> words;
  std::ifstream file(dictionary);
  for (std::string line; std::getline(file, line);) {
    const auto begin = line.find('"');
    const auto end = line.rfind('"');
    if (line.starts_with('#') || begin == std::string::npos || end <= begin + 1) continue;
    std::string word;
    for (auto at = begin + 1; at < end; ++at) {
      if (line[at] != '\\') {
        word += line[at];
      } else if (line[++at] == 'x') {
        word += static_cast<char>(std::stoi(line.substr(at + 1, 2), nullptr, 16));
        at += 2;
      } else {
        word += line[at];
      }
    }
    words.push_back(std::move(word));
  }
  return words;
}

class Variations {
 public:
  Variations(std::vector<std::string> kept, std::vector<std::string> words)
      : kept_(std::move(kept)), words_(std::move(words)) {}

  std::string next() {
    std::string text = any_of(kept_);
    for (std::size_t changes = 1 + below(4); changes > 0; --changes) change(text);
    if (text.size() > kLongest) text.resize(kLongest);
    return text;
  }

 private:
  std::size_t below(std::size_t limit) { return limit == 0 ? 0 : random_() % limit; }
  const std::string& any_of(const std::vector<std::string>& texts) { return texts[below(texts.size())]; }

  /// A piece of another input, of 32 bytes at most.
  std::string piece() {
    const auto& other = any_of(kept_);
    const auto from = below(other.size());  // one draw after the other, with any compiler
    return other.substr(from, 1 + below(32));
  }

  void change(std::string& text) {
    const auto at = below(text.size() + 1);
    const auto byte = static_cast<char>(below(256));
    switch (below(7)) {
      case 0:  // a bit
        if (at < text.size()) text[at] = static_cast<char>(text[at] ^ (1 << below(8)));
        break;
      case 1:
        if (at < text.size()) text[at] = byte;
        break;
      case 2:
        text.insert(at, 1 + below(4), byte);
        break;
      case 3:
        text.erase(at, 1 + below(16));
        break;
      case 4:
        text.insert(at, piece());
        break;
      case 5: {  // one after another of two
        const auto& other = any_of(kept_);
        text = text.substr(0, at) + other.substr(below(other.size()));
        break;
      }
      default: {  // a word, between others or over them
        if (words_.empty()) break;
        const auto& word = any_of(words_);
        text.replace(at, below(2) * word.size(), word);
      }
    }
  }

  std::vector<std::string> kept_;
  std::vector<std::string> words_;
  std::mt19937 random_{1};
};

}  // namespace

/// NAME-OF-KEPT CORPUS VARIATIONS [DICTIONARY]
int main(int count, char** arguments) {
  if (count < 4) return 2;
  g_kept = arguments[1];
  __sanitizer_set_death_callback(keep_input);
  (void)std::signal(SIGABRT, on_signal);
  (void)std::signal(SIGALRM, on_signal);
  const auto kept = texts_in(arguments[2]);
  emberline::fuzz::must(!kept.empty(), "there are kept inputs");
  for (const auto& text : kept) attempt(text);
  look_for_leaks();
  const int variations = std::stoi(arguments[3]);
  Variations varied(kept, count > 4 ? words_of(arguments[4]) : std::vector<std::string>{});
  for (int number = 0; number < variations; ++number) {
    attempt(varied.next());
    if (number % kBetweenLooks == 0) look_for_leaks();
  }
  look_for_leaks();
  ::alarm(0);
  __sanitizer_set_death_callback(nullptr);
  std::printf("%zu kept inputs and %d variations\n", kept.size(), variations);
  return 0;
}

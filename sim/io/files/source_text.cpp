#include "sim/io/files/source_text.hpp"

#include <algorithm>
#include <cerrno>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <sstream>
#include <system_error>

#include "sim/base/utf8.hpp"

namespace emberline::io {
namespace {

namespace fs = std::filesystem;

constexpr std::size_t kLargestFile = 1'000'000;
constexpr std::string_view kByteOrderMark = "\xEF\xBB\xBF";

unsigned byte_at(std::string_view text, std::size_t i) { return static_cast<unsigned char>(text[i]); }

}  // namespace

SourceText::SourceText(std::string path, std::string text) : path_(std::move(path)), text_(std::move(text)) {
  line_starts_.push_back(0);
  for (std::size_t i = 0; i < text_.size(); ++i)
    if (text_[i] == '\n') line_starts_.push_back(i + 1);
}

Place SourceText::place(std::size_t offset) const {
  offset = std::min(offset, text_.size());
  const auto next = std::upper_bound(line_starts_.begin(), line_starts_.end(), offset);
  const auto start = *(next - 1);
  int column = 1;
  for (std::size_t i = start; i < offset; ++i)
    if ((byte_at(text_, i) & 0xC0U) != 0x80U) ++column;
  return {path_, static_cast<int>(next - line_starts_.begin()), column};
}

std::size_t SourceText::offset(int line, int column) const {
  const auto index = std::min(static_cast<std::size_t>(std::max(line, 0)), line_starts_.size() - 1);
  return std::min(line_starts_[index] + static_cast<std::size_t>(std::max(column, 0)), text_.size());
}

std::string why_not_a_file(const std::string& path, std::size_t largest, std::string_view too_large) {
  std::error_code error;
  const auto status = fs::status(path, error);
  if (status.type() == fs::file_type::not_found) return "no such file";
  if (error) return "cannot be read: " + error.message();
  if (fs::is_directory(status)) return "is a directory, expected a file";
  if (!fs::is_regular_file(status)) return "is not a plain file";
  if (fs::file_size(path, error) > largest && !error) return std::string(too_large);
  return {};
}

std::optional<SourceText> read_source(const std::string& path, Problems& problems) {
  const auto refuse = [&](std::string why) {
    complain(problems, {path.empty() ? "''" : path, 0, 0}, std::move(why));
    return std::nullopt;
  };
  if (auto why = why_not_a_file(path, kLargestFile, "is larger than 1 MB, which no file of ours needs");
      !why.empty())
    return refuse(std::move(why));
  std::ifstream file(path, std::ios::binary);
  if (!file) return refuse(std::string("cannot be read: ") + std::generic_category().message(errno));
  std::ostringstream content;
  content << file.rdbuf();
  std::string text = std::move(content).str();
  if (file.bad()) return refuse("cannot be read to its end");
  if (text.starts_with(kByteOrderMark)) text.erase(0, kByteOrderMark.size());
  const auto bad = first_not_text(text);
  SourceText source(path, std::move(text));
  if (bad) {
    complain(problems, source.place(*bad), "is not UTF-8 text from here on");
    return std::nullopt;
  }
  return source;
}

}  // namespace emberline::io

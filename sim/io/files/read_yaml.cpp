#include "sim/io/files/read_yaml.hpp"

#include <map>
#include <optional>
#include <sstream>
#include <string_view>
#include <utility>

#include <yaml-cpp/eventhandler.h>
#include <yaml-cpp/exceptions.h>
#include <yaml-cpp/parser.h>

#include "sim/io/files/quotes.hpp"
#include "sim/io/files/source_text.hpp"

namespace emberline::io {
namespace {

std::string trimmed(const std::string& text) {
  const auto first = text.find_first_not_of(" \t\r\n");
  if (first == std::string::npos) return {};
  return text.substr(first, text.find_last_not_of(" \t\r\n") - first + 1);
}

/// The code of the first control character of a text, as in Unicode: C0 without the line feed, which YAML
/// itself makes of a text over several lines, DEL, and C1 (two bytes in UTF-8). They would steer terminals
/// and break reports.
std::optional<unsigned> control_character(std::string_view text) {
  for (std::size_t i = 0; i < text.size(); ++i) {
    const unsigned byte = static_cast<unsigned char>(text[i]);
    if ((byte < 0x20U && byte != '\n') || byte == 0x7FU) return byte;
    if (byte != 0xC2U || i + 1 == text.size()) continue;
    const unsigned next = static_cast<unsigned char>(text[i + 1]);
    if (next < 0xA0U) return next;
  }
  return std::nullopt;
}

std::string hex_byte(unsigned value) {
  constexpr std::string_view kDigits = "0123456789ABCDEF";
  return {'0', 'x', kDigits[value / 16 % 16], kDigits[value % 16]};
}

constexpr std::string_view kNoAliases = "aliases (*name) are not used in these files: write the value out";

/// Takes the parser's events and builds our tree from them, refusing what we do not want on the way.
/// Anchors and aliases are seen here as such, before anybody could follow them in a circle.
class TreeBuilder final : public YAML::EventHandler {
 public:
  TreeBuilder(const SourceText& source, Problems& problems) : source_(source), problems_(problems) {}

  void OnDocumentStart(const YAML::Mark& mark) override {
    ++documents_;
    if (documents_ == 2) {
      misread_ = true;
      complain(problems_, place(mark),
               "a second document begins here, expected one a file (is a line indented differently from its "
               "neighbours?)");
    }
  }
  void OnDocumentEnd() override {}
  void OnNull(const YAML::Mark& mark, YAML::anchor_t anchor) override {
    take(leaf(mark, anchor, {}, Node::Kind::null));
  }
  void OnAlias(const YAML::Mark& mark, YAML::anchor_t /*anchor*/) override {
    complain(problems_, place(mark), std::string(kNoAliases));
    take(leaf(mark, 0, {}, Node::Kind::refused));
  }
  void OnScalar(const YAML::Mark& mark, const std::string& tag, YAML::anchor_t anchor,
                const std::string& value) override {
    check_quotes(mark);
    auto node = leaf(mark, anchor, tag, Node::Kind::scalar);
    node.text = trimmed(value);
    if (const auto control = control_character(node.text)) {
      node.kind = Node::Kind::refused;
      complain(problems_, node.place,
               "control characters cannot stand in a text, found " + hex_byte(*control) +
                   (*control == '\t' ? " (a tab)" : ""));
    }
    take(std::move(node));
  }
  void OnSequenceStart(const YAML::Mark& mark, const std::string& tag, YAML::anchor_t anchor,
                       YAML::EmitterStyle::value /*style*/) override {
    open(leaf(mark, anchor, tag, Node::Kind::sequence));
  }
  void OnSequenceEnd() override { close(); }
  void OnMapStart(const YAML::Mark& mark, const std::string& tag, YAML::anchor_t anchor,
                  YAML::EmitterStyle::value /*style*/) override {
    open(leaf(mark, anchor, tag, Node::Kind::mapping));
  }
  void OnMapEnd() override { close(); }

  [[nodiscard]] bool has_root() const { return has_root_; }
  /// The parser took a part of the file for something else, so that missing keys mean nothing.
  [[nodiscard]] bool misread() const { return misread_; }
  [[nodiscard]] Node&& root() { return std::move(root_); }
  /// The innermost bracket that was opened and not closed so far.
  [[nodiscard]] std::optional<std::size_t> open_bracket() const {
    for (auto level = open_.rbegin(); level != open_.rend(); ++level) {
      const char c = level->offset < source_.text().size() ? source_.text()[level->offset] : '\0';
      if (c == '{' || c == '[') return level->offset;
    }
    return std::nullopt;
  }

 private:
  /// A collection being filled; in a mapping, the key that waits for its value.
  struct Level {
    Node node;
    std::size_t offset = 0;
    bool key_waits = false;
    bool drop_value = false;  ///< the waiting key was refused: its value goes with it
    std::string key;
    Place key_place;
  };

  [[nodiscard]] std::size_t offset(const YAML::Mark& mark) const {
    return source_.offset(mark.line, mark.column);
  }
  [[nodiscard]] Place place(const YAML::Mark& mark) const { return source_.place(offset(mark)); }

  Node leaf(const YAML::Mark& mark, YAML::anchor_t anchor, const std::string& tag, Node::Kind kind) {
    Node node;
    node.kind = kind;
    node.place = place(mark);
    last_offset_ = offset(mark);
    if (anchor != 0)
      complain(problems_, node.place, "anchors (&name) are not used in these files: write values out");
    if (!tag.empty() && tag != "?" && tag != "!")
      complain(problems_, node.place, "tags (!name) are not used in these files: leave it out");
    return node;
  }

  void check_quotes(const YAML::Mark& mark) {
    const auto at = offset(mark);
    const auto& text = source_.text();
    if (at >= text.size() || (text[at] != '"' && text[at] != '\'')) return;
    if (closing_quote(text, at)) return;
    misread_ = true;
    complain(problems_, source_.place(at), "this quote is never closed");
  }

  void open(Node node) {
    Level level;
    level.offset = last_offset_;
    level.node = std::move(node);
    open_.push_back(std::move(level));
  }

  void close() {
    Node done = std::move(open_.back().node);
    // Whose keys were all refused is not empty, it has been complained about.
    if (open_.back().drop_value && done.entries.empty()) done.kind = Node::Kind::refused;
    open_.pop_back();
    take(std::move(done));
  }

  void take(Node node) {
    if (documents_ > 1) return;
    if (open_.empty()) {
      node.header = node.place;
      root_ = std::move(node);
      has_root_ = true;
    } else if (open_.back().node.kind == Node::Kind::sequence) {
      node.header = node.place;
      open_.back().node.items.push_back(std::move(node));
    } else if (!open_.back().key_waits) {
      take_key(node);
    } else {
      take_value(std::move(node));
    }
  }

  void take_key(const Node& node) {
    auto& level = open_.back();
    level.key_waits = true;
    level.drop_value = false;
    level.key = node.text;
    level.key_place = node.place;
    if (node.kind != Node::Kind::scalar || node.text.empty()) {
      level.drop_value = true;
      if (node.kind != Node::Kind::refused)
        complain(problems_, node.place, "expected a key, a plain word before the ':'");
      return;
    }
    const auto* first = level.node.find(node.text);
    if (first == nullptr) return;
    level.drop_value = true;
    complain(problems_, node.place,
             "key '" + node.text + "' stands twice, first on line " + std::to_string(first->header.line));
  }

  void take_value(Node node) {
    auto& level = open_.back();
    level.key_waits = false;
    if (level.drop_value) return;
    node.label = level.key;
    node.header = level.key_place;
    for (auto& item : node.items) item.label = node.label;
    // An empty value has no place of its own: the parser gives that of whatever comes next.
    if (node.kind == Node::Kind::null) node.place = node.header;
    level.node.entries.push_back(std::move(node));
  }

  const SourceText& source_;
  Problems& problems_;
  int documents_ = 0;
  std::vector<Level> open_;
  std::size_t last_offset_ = 0;
  Node root_;
  bool has_root_ = false;
  bool misread_ = false;
};

/// What the parser stumbled over, in words of a person who writes such files.
std::string in_our_words(const std::string& parser_message) {
  using namespace std::string_literals;
  static const std::map<std::string, std::string> words{
      {"end of map not found", "expected 'key: value' here, indented like the keys above"},
      {"end of sequence not found", "expected '- item' here, indented like the items above"},
      {"illegal map value", "a ':' is not expected here; text with ': ' in it needs quotes"},
      {"illegal block entry", "a '- ' item is not expected here (tabs cannot indent)"},
      {"illegal map key", "a key is not expected here"},
      {"illegal document indicator in scalar", "a document cannot end inside a quoted text"},
      {"illegal tab when looking for indentation", "tabs cannot indent, expected spaces"},
      {"unknown token", "a value cannot begin with this character; put it in quotes"},
      {"illegal flow end", "this bracket closes nothing"},
  };
  const auto found = words.find(parser_message);
  if (found != words.end()) return found->second;
  if (parser_message.starts_with("the referenced anchor")) return std::string(kNoAliases);
  if (parser_message.starts_with("unknown escape")) return "unknown escape after '\\' in a quoted text"s;
  return "this cannot be read as YAML"s;
}

/// A tab before the first character of a line.
std::optional<std::size_t> tab_in_indentation(const SourceText& source, int line) {
  const auto& text = source.text();
  for (std::size_t i = source.offset(line, 0); i < text.size() && (text[i] == ' ' || text[i] == '\t'); ++i)
    if (text[i] == '\t') return i;
  return std::nullopt;
}

void complain_unparsed(const SourceText& source, const TreeBuilder& tree, const YAML::ParserException& error,
                       Problems& problems) {
  if (const auto quote = quote_left_open(source.text())) {
    complain(problems, source.place(*quote), "this quote is not closed on its line");
    return;
  }
  const bool in_brackets = error.msg.find("flow") != std::string::npos;
  if (const auto bracket = tree.open_bracket(); bracket && in_brackets) {
    complain(problems, source.place(*bracket),
             std::string("this '") + source.text()[*bracket] + "' is not closed");
    return;
  }
  if (const auto tab = tab_in_indentation(source, error.mark.line)) {
    complain(problems, source.place(*tab), "tabs cannot indent, expected spaces");
    return;
  }
  complain(problems, source.place(source.offset(error.mark.line, error.mark.column)),
           in_our_words(error.msg));
}

/// Runs the parser over the text; false when it gave up.
bool parse(const SourceText& source, TreeBuilder& tree, Problems& problems) {
  std::istringstream stream(source.text());
  try {
    YAML::Parser parser(stream);
    if (parser.HandleNextDocument(tree)) parser.HandleNextDocument(tree);
    return true;
  } catch (const YAML::ParserException& error) {
    complain_unparsed(source, tree, error, problems);
  } catch (const std::exception&) {
    complain(problems, source.whole_file(), "cannot be read as YAML");
  }
  return false;
}

}  // namespace

std::optional<Node> read_yaml(const std::string& path, Problems& problems) {
  const auto source = read_source(path, problems);
  if (!source) return std::nullopt;
  TreeBuilder tree(*source, problems);
  if (!parse(*source, tree, problems) || tree.misread()) return std::nullopt;
  if (!tree.has_root()) {
    complain(problems, source->whole_file(), "holds nothing, expected keys and values");
    return std::nullopt;
  }
  Node root = tree.root();
  if (root.kind != Node::Kind::mapping) {
    if (problems.empty()) complain(problems, root.place, "expected keys and values, 'key: value'");
    return std::nullopt;
  }
  return root;
}

}  // namespace emberline::io

// What visitors send to the panel, without the server that carries it: targets, fields of a header, JSON
// bodies, what a page says over its WebSocket. An input is lines; the first character of each says what it
// is.
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "sim/base/utf8.hpp"
#include "sim/io/panel/access.hpp"
#include "sim/io/panel/http_text.hpp"
#include "sim/io/panel/lesson_json.hpp"
#include "sim/io/panel/panel_hub.hpp"
#include "sim/io/report/json_find.hpp"
#include "tests/fuzz/stepped_wall.hpp"

using namespace emberline;
using fuzz::must;

namespace {

/// The text up to a separator, which both are taken off.
std::string take(std::string_view& text, char separator) {
  const auto end = std::min(text.find(separator), text.size());
  std::string taken(text.substr(0, end));
  text.remove_prefix(std::min(end + 1, text.size()));
  return taken;
}

void must_be_json(const std::string& text) {
  must(!io::parse_json(text).is_null(), "an answer is JSON");
  must(!first_not_utf8(text), "an answer is text");
}

void must_refuse_plainly(const io::Refusal& refusal) {
  must(refusal.status >= 400 && refusal.status < 500, "a refusal is the visitor's mistake");
  must(!refusal.error.empty(), "a refusal has words");
  must_be_json(io::error_json(refusal.error));
}

class Sink final : public io::LiveSink {
 public:
  bool send(io::SharedText text) override {
    must_be_json(*text);
    return true;
  }
};

class Panel {
 public:
  explicit Panel(const bench::BenchSpec& spec) : bench_(spec), hub_({"1.2.3", true, {}}) {
    hub_.attach(bench_.wall, bench_.bench);
    for (const auto role : {io::Role::watcher, io::Role::trainer})
      pages_.push_back(hub_.connected(role, sink_));
    move_on(2);
  }
  ~Panel() {
    pages_.clear();
    hub_.detach();
  }
  Panel(const Panel&) = delete;
  Panel& operator=(const Panel&) = delete;

  void ask(std::string method, io::Role role, std::string_view line) {
    auto target = io::parse_target(take(line, ' '));
    if (!target) return must_refuse_plainly(target.error());
    must(target->path.starts_with('/') && target->path.find("..") == std::string::npos,
         "a path leads into the panel");
    // The server asks the site only for these; the rest are files of the page, and sessions.
    if (!target->path.starts_with("/api/") && target->path != "/metrics") return;
    int answers = 0;
    const bool may = method == "GET" || role == io::Role::trainer;
    io::PanelRequest request{std::move(method), target->path, target->query, std::string(line), role};
    hub_.handle(std::move(request), io::PanelReply([&](const io::PanelAnswer& answer) {
                  ++answers;
                  must(answer.status == 200 || (answer.status >= 400 && answer.status <= 503),
                       "an answer has a status of ours");
                  must(may || answer.status != 200, "a watcher does nothing");
                  if (answer.type == "application/json") must_be_json(answer.body);
                  check_head(answer);
                }));
    for (int tries = 0; answers == 0 && tries < 400; ++tries) move_on(1);
    must(answers == 1, "a request is answered once");
  }
  void told(io::Role role, std::string_view text) {
    pages_[static_cast<std::size_t>(role)]->told(std::string(text));
    move_on(2);
  }
  void move_on(unsigned ticks) {
    for (; ticks > 0; --ticks) {
      bench_.step(std::chrono::milliseconds{50});
      hub_.tick();
    }
  }

 private:
  /// Nothing that was asked puts a line of its own into the head of an answer.
  static void check_head(const io::PanelAnswer& answer) {
    io::AnswerHead head;
    head.status = answer.status;
    head.type = answer.type;
    head.length = answer.body.size();
    head.file_name = answer.file_name;
    const auto text = io::to_text(head);
    must(text.ends_with("\r\n\r\n") && text.find("\r\n\r\n") == text.size() - 4, "a head is one head");
    for (std::size_t i = 0; i < text.size(); ++i) {
      const auto code = static_cast<unsigned char>(text[i]);
      must((code >= 0x20 && code < 0x7F) || (code == '\r' && text[i + 1] == '\n') ||
               (code == '\n' && text[i - 1] == '\r'),
           "a head is plain lines");
    }
  }

  fuzz::SteppedBench bench_;
  io::PanelHub hub_;
  Sink sink_;
  std::vector<std::unique_ptr<io::LivePage>> pages_;
};

/// Fields of a header, separated by '|', and the body of who begins a session.
void visit(io::Access& access, std::string_view line) {
  const io::Access::Instant now{};
  io::Visit visit;
  visit.method = take(line, '|');
  visit.path = take(line, '|');
  visit.host = take(line, '|');
  if (auto origin = take(line, '|'); !origin.empty()) visit.origin = std::move(origin);
  if (auto site = take(line, '|'); !site.empty()) visit.fetch_site = std::move(site);
  visit.content_type = take(line, '|');
  visit.cookie = take(line, '|');
  visit.authorization = take(line, '|');
  visit.arrived_at = "192.0.2.7";
  if (const auto refusal = access.refused(visit)) must_refuse_plainly(*refusal);
  if (const auto role = access.role_of(visit, now); !role) must_refuse_plainly(role.error());
  if (const auto session = access.begin_session(std::string(line), now); !session)
    must_refuse_plainly(session.error());
  // Nobody who has not been given a token gets in.
  const bool shown = visit.authorization.find("trainer-word") != std::string::npos ||
                     visit.authorization.find("class-word") != std::string::npos;
  must(shown || !access.is_known(visit), "whoever shows no token is not known");
}

}  // namespace

int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  constexpr int kMostLines = 8;
  static const auto spec = fuzz::shipped_bench("water-heater.yaml");
  std::string_view rest(reinterpret_cast<const char*>(data), size);
  std::optional<Panel> panel;
  const auto the_panel = [&]() -> Panel& { return panel ? *panel : panel.emplace(spec); };
  io::PanelAddress address;
  address.trainer_token = "trainer-word";
  address.watcher_token = "class-word";
  io::Access access(address, address.port);
  for (int lines = 0; !rest.empty() && lines < kMostLines; ++lines) {
    const auto line = take(rest, '\n');
    const auto text = std::string_view(line).substr(std::min<std::size_t>(1, line.size()));
    switch (line.empty() ? '\0' : line[0]) {
      case 'G':
        the_panel().ask("GET", io::Role::trainer, text);
        break;
      case 'g':
        the_panel().ask("GET", io::Role::watcher, text);
        break;
      case 'P':
        the_panel().ask("POST", io::Role::trainer, text);
        break;
      case 'p':
        the_panel().ask("POST", io::Role::watcher, text);
        break;
      case 'W':
        the_panel().told(io::Role::trainer, text);
        break;
      case 'w':
        the_panel().told(io::Role::watcher, text);
        break;
      case 'V':
        visit(access, text);
        break;
      case 'L':
        if (const auto word = io::lesson_word(std::string(text)); !word)
          must(!word.error().empty(), "a complaint has words");
        break;
      default:
        if (panel) panel->move_on(static_cast<unsigned>(text.size() % 8U));
    }
  }
  return 0;
}

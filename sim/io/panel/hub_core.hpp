#pragma once

#include <atomic>
#include <cstdint>
#include <functional>
#include <map>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "sim/io/panel/bench_link.hpp"
#include "sim/io/panel/journal_feed.hpp"
#include "sim/io/panel/panel_hub.hpp"
#include "sim/io/panel/recovery.hpp"
#include "sim/io/panel/traffic_feed.hpp"
#include "sim/io/panel/trend_store.hpp"

namespace emberline::io {

class HubPage;

/// A file that is made piece by piece, one in each tick: the panel's thread is everybody's.
class Download {
 public:
  virtual ~Download() = default;
  /// Makes the next piece. The answer with all of them, when that was the last.
  [[nodiscard]] virtual std::optional<PanelAnswer> go_on() = 0;
};

/// The inside of a hub. All but attach() and detach() happens on the panel's thread. Time and pages are in
/// panel_hub.cpp, the routes in hub_routes.cpp and hub_answers.cpp.
class PanelHub::Impl {
 public:
  explicit Impl(Options the_options) : options(std::move(the_options)), blind(options.blind) {}

  /// An answer that takes the bench's thread some time: fetched anew a quarter of a second after it came, and
  /// given to all who wait for it.
  struct Shared {
    std::atomic<bool> come = false;     ///< then `text` is the panel's thread's, else the bench's
    std::function<std::string()> text;  ///< with what the bench's thread has copied
    bool on_its_way = false;
    std::uint64_t came_at = 0;  ///< tick
    std::string json;
    std::vector<PanelReply> waiting;
  };
  /// Copies what an answer is told from, on the bench's thread; what it returns runs on the panel's.
  using Copy = std::function<std::function<std::string()>(bench::Bench&, SimTime)>;

  /// What the panel's thread knows of one run of a bench.
  struct Run {
    explicit Run(std::shared_ptr<BenchLink> the_link)
        : link(std::move(the_link)), traffic(link->facts()), trends(link->facts().signals.size()) {}
    [[nodiscard]] const BenchFacts& facts() const { return link->facts(); }
    std::shared_ptr<BenchLink> link;
    Snapshot snapshot;
    std::uint64_t snapshots = 0;  ///< that have come
    std::uint64_t number = 0;     ///< of the newest, as it was asked for
    JournalFeed journal;
    TrafficFeed traffic;
    std::vector<LineEvent> events;  // on their way there; kept for its memory
    TrendStore trends;
    Recovery recovery;
    std::vector<faults::InForce::Entry> in_force;
    std::map<std::pair<Role, bool>, std::string>
        description;                                        ///< of the bench, by who asks and what is hidden
    std::map<std::string, std::shared_ptr<Shared>> shared;  ///< by path
    /// The file that is being made, and for whom.
    struct Making {
      Making(std::unique_ptr<Download> the_file, Role the_role, PanelReply the_reply, std::uint64_t snapshot)
          : file(std::move(the_file)), role(the_role), reply(std::move(the_reply)), needs(snapshot) {}
      std::unique_ptr<Download> file;
      Role role;
      PanelReply reply;
      std::uint64_t needs;  ///< the number of the snapshot that has to be here; 0: none
    };
    std::optional<Making> making;
  };

  // --- any thread
  void attach(WallBench& wall, bench::Bench& bench, std::vector<OpenLine> places);
  void detach();

  // --- the panel's thread
  void handle(PanelRequest request, PanelReply reply);
  void tick();
  /// Follows the bench that runs now, and takes in what has come from it.
  void collect();
  /// A watcher in blind mode is not told what tells of faults.
  [[nodiscard]] bool hides(Role role) const { return blind && role == Role::watcher; }
  [[nodiscard]] SharedText state_message(Role role);
  [[nodiscard]] SharedText journal_message(Role role, std::uint64_t& after);
  [[nodiscard]] SharedText traffic_message(std::uint64_t& after);
  [[nodiscard]] std::string state(Role role, std::string_view type) const;

  // --- routes
  PanelAnswer openapi(const PanelRequest& request);
  PanelAnswer bench_description(const PanelRequest& request);
  PanelAnswer state_now(const PanelRequest& request);
  PanelAnswer journal(const PanelRequest& request);
  PanelAnswer traffic(const PanelRequest& request);
  PanelAnswer trend(const PanelRequest& request);
  PanelAnswer metrics(const PanelRequest& request);
  PanelAnswer set_blind(const PanelRequest& request);
  PanelAnswer lesson_state(const PanelRequest& request);
  PanelAnswer lesson_told(const PanelRequest& request);
  void trend_csv(const PanelRequest& request, PanelReply reply);
  void capture(const PanelRequest& request, PanelReply reply);
  void review(const PanelRequest& request, PanelReply reply);
  void waves(const PanelRequest& request, PanelReply reply);
  void act(const PanelRequest& request, PanelReply reply);

  const Options options;
  bool blind;
  LessonDesk* lesson = nullptr;
  std::unique_ptr<Run> run;
  std::uint64_t generation = 0;     ///< grows when a run begins
  std::uint64_t watchers_anew = 0;  ///< grows when what watchers may see has changed
  std::uint64_t ticks = 0;
  std::vector<HubPage*> pages;

 private:
  /// A request that is answered when a snapshot has come that was taken after it.
  struct Waiting {
    std::uint64_t needs;
    std::uint64_t generation;
    PanelAnswer (Impl::*answer)(const PanelRequest&);
    PanelRequest request;
    PanelReply reply;
  };
  void answer_waiting();
  void ask_for_snapshot();
  void look_at_recovery();
  void share(const std::string& path, PanelReply reply, Copy copy);
  void answer_shared();
  void begin(std::unique_ptr<Download> file, Role role, PanelReply reply, std::uint64_t snapshot);
  void make_files();

  std::mutex current_mutex_;
  std::shared_ptr<BenchLink> current_;

  std::vector<Waiting> waiting_;
  std::uint64_t asked_at_tick_ = 0;
  /// Messages that several pages get, by audience and where they begin; of this tick only.
  std::map<std::pair<int, std::uint64_t>, std::pair<std::uint64_t, SharedText>> texts_;
  std::uint64_t texts_tick_ = 0;
};

/// A page that is connected.
class HubPage final : public LivePage {
 public:
  HubPage(PanelHub::Impl& hub, Role role, LiveSink& sink);
  ~HubPage() override;
  HubPage(const HubPage&) = delete;
  HubPage& operator=(const HubPage&) = delete;
  void told(const std::string& text) override;
  /// Sends what is due.
  void tick();
  /// How many ticks lie between two snapshots it wants; nothing: it wants none.
  [[nodiscard]] std::optional<std::uint64_t> wants_every() const;

 private:
  struct Wants {
    std::uint64_t every = 2;  // ticks
    bool state = false;
    std::optional<std::uint64_t> journal_after;
    bool traffic = false;
    bool lesson = false;
    std::vector<std::string> signals;  // by name: another run may have others
  };
  /// What is wrong with it; empty: nothing.
  [[nodiscard]] std::string understand(const std::string& text, Wants& wants) const;
  bool send(std::string text);
  bool send_error(std::string_view error);
  [[nodiscard]] std::string find_signals();
  bool begin_anew();
  void send_state();
  void send_values();
  void send_journal();
  void send_traffic();
  void send_lesson();

  PanelHub::Impl& hub_;
  Role role_;
  LiveSink& sink_;
  Wants wants_;
  std::vector<std::size_t> places_;  // of the signals, on the bench that runs
  std::uint64_t generation_;
  std::uint64_t watchers_anew_;
  std::uint64_t traffic_after_ = 0;
  std::uint64_t state_sent_ = 0;  // number of the snapshot
  std::uint64_t state_tick_ = 0;
  std::uint64_t values_sent_ = 0;
  std::uint64_t values_tick_ = 0;
  std::uint64_t traffic_tick_ = 0;
  std::optional<std::uint64_t> lesson_version_;
};

}  // namespace emberline::io

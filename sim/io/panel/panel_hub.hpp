#pragma once

#include <functional>
#include <memory>
#include <string>
#include <vector>

#include "sim/bench/bench.hpp"
#include "sim/bench/traffic.hpp"
#include "sim/io/line/wall_bench.hpp"
#include "sim/io/panel/lesson_desk.hpp"
#include "sim/io/panel/site.hpp"

namespace emberline::io {

/// What the panel's interface is about: a bench that runs, or one after the other when a lesson starts over.
/// The bench's thread is asked for snapshots and to carry actions out; all else happens on the panel's.
class PanelHub final : public PanelSite {
 public:
  struct Options {
    std::string version;  ///< of the program
    bool blind = false;   ///< watchers do not see the faults, until the trainer says so
    /// The traffic review in words, on the panel's thread; empty: bench::traffic_lines.
    std::function<std::vector<std::string>(const bench::TrafficReview&)> traffic_lines{};
  };
  explicit PanelHub(Options options);
  ~PanelHub() override;

  /// The bench that runs from now on. Called on the bench's thread before its run() and after its open();
  /// both must stay until detach(). `lines`: what open() gave, so that pages can say where masters find them.
  void attach(WallBench& wall, bench::Bench& bench, std::vector<OpenLine> lines = {});
  /// It has ended: nothing of it is touched any more. What is asked meanwhile gets 503.
  void detach();
  /// The lesson that is walked through; must outlive the hub. Called before the server opens.
  void teach(LessonDesk& lesson);

  void handle(PanelRequest request, PanelReply reply) override;
  [[nodiscard]] std::unique_ptr<LivePage> connected(Role role, LiveSink& sink) override;
  void tick() override;

  class Impl;

 private:
  std::unique_ptr<Impl> impl_;
};

}  // namespace emberline::io

#include "sim/io/panel/hub_routes.hpp"

#include <algorithm>
#include <utility>

#include "sim/io/panel/hub_core.hpp"
#include "sim/io/panel/json_bits.hpp"

namespace emberline::io {
namespace {

using Hub = PanelHub::Impl;

/// When a route is answered.
enum class When : std::uint8_t {
  at_once,   ///< whether a bench runs or not
  with_run,  ///< at once, but only while a bench runs
  fresh,     ///< when a snapshot has come that was taken after the request
  itself,    ///< it sees to that itself
};

struct Route {
  HubRoute is;
  When when;
  PanelAnswer (Hub::*answer)(const PanelRequest&);
  void (Hub::*itself)(const PanelRequest&, PanelReply) = nullptr;
};

constexpr bool kTrainerOnly = true;
constexpr Route kRoutes[] = {
    {{"GET", "/api/openapi.json"}, When::at_once, &Hub::openapi},
    {{"GET", "/api/bench"}, When::with_run, &Hub::bench_description},
    {{"GET", "/api/state"}, When::fresh, &Hub::state_now},
    {{"GET", "/api/journal"}, When::fresh, &Hub::journal},
    {{"GET", "/api/traffic"}, When::fresh, &Hub::traffic},
    {{"GET", "/api/review"}, When::itself, nullptr, &Hub::review},
    {{"GET", "/api/waves/{unit}"}, When::itself, nullptr, &Hub::waves},
    {{"GET", "/api/trend"}, When::with_run, &Hub::trend},
    {{"GET", "/api/trend.csv"}, When::itself, nullptr, &Hub::trend_csv},
    {{"GET", "/api/capture.pcapng"}, When::itself, nullptr, &Hub::capture},
    {{"POST", "/api/actions", kTrainerOnly}, When::itself, nullptr, &Hub::act},
    {{"POST", "/api/blind", kTrainerOnly}, When::at_once, &Hub::set_blind},
    {{"GET", "/api/lesson"}, When::at_once, &Hub::lesson_state},
    {{"POST", "/api/lesson", kTrainerOnly}, When::at_once, &Hub::lesson_told},
    {{"GET", "/metrics", kTrainerOnly}, When::fresh, &Hub::metrics},
};
constexpr std::size_t kMostAwaitingSnapshot = 500;

bool leads_to(std::string_view pattern, std::string_view path) {
  const auto name = pattern.find('{');
  if (name == std::string_view::npos) return pattern == path;
  return path.size() > name && path.starts_with(pattern.substr(0, name));
}

}  // namespace

std::vector<HubRoute> hub_routes() {
  std::vector<HubRoute> routes;
  for (const auto& route : kRoutes) routes.push_back(route.is);
  return routes;
}

void PanelHub::Impl::handle(PanelRequest request, PanelReply reply) {
  const Route* found = nullptr;
  bool path_known = false;
  for (const auto& route : kRoutes) {
    if (!leads_to(route.is.path, request.path)) continue;
    path_known = true;
    if (route.is.method == request.method) found = &route;
  }
  if (found == nullptr) {
    if (path_known) return reply(refused(405, request.path + " does not take " + request.method));
    return reply(refused(404, "there is no " + request.path + "; /api/openapi.json lists what there is"));
  }
  if (request.role != Role::trainer && (found->is.trainer_only || request.method == "POST"))
    return reply(refused(403, "only the trainer may do that"));
  collect();
  if (found->when == When::at_once) return reply((this->*found->answer)(request));
  if (!run) return;  // the reply says so
  switch (found->when) {
    case When::itself:
      return (this->*found->itself)(request, std::move(reply));
    case When::fresh:
      if (waiting_.size() >= kMostAwaitingSnapshot) return;
      waiting_.push_back(
          {run->link->asked() + 1, generation, found->answer, std::move(request), std::move(reply)});
      return ask_for_snapshot();
    default:
      return reply((this->*found->answer)(request));
  }
}

void PanelHub::Impl::answer_waiting() {
  std::vector<Waiting> still;
  for (auto& waiting : std::exchange(waiting_, {})) {
    // Whoever asked of a bench that has ended gets what the dropped reply says.
    if (!run || waiting.generation != generation) continue;
    if (waiting.needs > run->number)
      still.push_back(std::move(waiting));
    else
      waiting.reply((this->*waiting.answer)(waiting.request));
  }
  for (auto& waiting : still) waiting_.push_back(std::move(waiting));
}

void PanelHub::Impl::ask_for_snapshot() {
  if (!run) return;
  std::uint64_t every = 5;  // ticks: four a second
  for (const auto* page : pages)
    if (const auto wanted = page->wants_every()) every = std::min(every, *wanted);
  const auto not_asked_for = [this](const auto& waiting) { return waiting.needs > run->link->asked(); };
  const bool wanted = std::any_of(waiting_.begin(), waiting_.end(), not_asked_for) ||
                      (run->making && not_asked_for(*run->making));
  if (!wanted && ticks < asked_at_tick_ + every) return;
  asked_at_tick_ = ticks;
  run->link->ask();
}

}  // namespace emberline::io

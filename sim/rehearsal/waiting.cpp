#include "sim/rehearsal/waiting.hpp"

#include <algorithm>
#include <cstdint>

#include "sim/rehearsal/question.hpp"

namespace emberline::rehearsal {
namespace {

/// Every anchor that may be known before an expectation is met. `needed`: only those that have to come first.
std::vector<const Anchor*> anchors_of(const Expectation& expectation, bool needed) {
  std::vector<const Anchor*> anchors;
  if (expectation.from) anchors.push_back(&*expectation.from);
  // What passes before its end, or at one of its own, does not wait for that.
  const bool waits = !needed || (met_at_end_only(expectation) && !length_of(expectation));
  if (expectation.until && waits) anchors.push_back(&*expectation.until);
  for (const auto& step : expectation.sequence)
    if (step.happens) anchors.push_back(&*step.happens);
  return anchors;
}

std::optional<std::size_t> find(const std::vector<Expectation>& expectations, const std::string& name) {
  for (std::size_t i = 0; i < expectations.size(); ++i)
    if (expectations[i].name == name) return i;
  return std::nullopt;
}

/// What waits for what: entries of the timeline have the first numbers, expectations those behind.
class Web {
 public:
  /// `needed`: only what has to come first, so that an action counts when only one entry does it.
  Web(const ScenarioSpec& scenario, bool needed)
      : scenario_(scenario), entries_(scenario.timeline.size()), needed_(needed) {}

  [[nodiscard]] std::size_t size() const { return entries_ + scenario_.expectations.size(); }
  [[nodiscard]] Waiting named(std::size_t node) const {
    return node < entries_ ? Waiting{true, node} : Waiting{false, node - entries_};
  }
  [[nodiscard]] std::vector<std::size_t> waits_for(std::size_t node) const {
    std::vector<std::size_t> nodes;
    if (node >= entries_) {
      for (const auto* anchor : anchors_of(scenario_.expectations[node - entries_], needed_))
        add(*anchor, nodes);
      return nodes;
    }
    const auto& entry = scenario_.timeline[node];
    add(entry.when, nodes);
    if (entry.when.conditions.empty() || entry.from_start) return nodes;
    // Its conditions count from the entry before it in the file on.
    while (node > 0 && scenario_.timeline[--node].takes_back) {
    }
    if (&scenario_.timeline[node] != &entry) nodes.push_back(node);
    return nodes;
  }

 private:
  void add(const Anchor& anchor, std::vector<std::size_t>& nodes) const {
    if (anchor.entry) {
      nodes.push_back(*anchor.entry);
    } else if (!anchor.expectation.empty()) {
      if (const auto met = find(scenario_.expectations, anchor.expectation)) nodes.push_back(entries_ + *met);
    } else {
      const auto doing = entries_doing(anchor);
      if (!needed_ || doing.size() == 1) nodes.insert(nodes.end(), doing.begin(), doing.end());
    }
  }
  [[nodiscard]] std::vector<std::size_t> entries_doing(const Anchor& anchor) const {
    std::vector<std::size_t> doing;
    for (std::size_t i = 0; i < entries_; ++i) {
      const auto& action = scenario_.timeline[i].action;
      if (action && action->kind->word == anchor.action_word && action->target == anchor.action_target)
        doing.push_back(i);
    }
    return doing;
  }

  const ScenarioSpec& scenario_;
  std::size_t entries_;
  bool needed_;
};

/// A walk over that, depth first, in search of a circle.
class Walk {
 public:
  explicit Walk(const ScenarioSpec& scenario) : web_(scenario, true), marks_(web_.size(), Mark::unseen) {}

  std::optional<std::vector<Waiting>> circle() {
    for (std::size_t node = 0; node < marks_.size(); ++node)
      if (visit(node)) return found_;
    return std::nullopt;
  }

 private:
  enum class Mark : std::uint8_t { unseen, on_the_way, done };

  bool visit(std::size_t node) {
    if (marks_[node] == Mark::done) return false;
    if (marks_[node] == Mark::on_the_way) {
      const auto begin = std::find(way_.begin(), way_.end(), node);
      std::vector<Waiting> circle;
      for (auto it = begin; it != way_.end(); ++it) circle.push_back(web_.named(*it));
      found_ = std::move(circle);
      return true;
    }
    marks_[node] = Mark::on_the_way;
    way_.push_back(node);
    for (const auto next : web_.waits_for(node))
      if (visit(next)) return true;
    way_.pop_back();
    marks_[node] = Mark::done;
    return false;
  }

  Web web_;
  std::vector<Mark> marks_;
  std::vector<std::size_t> way_;
  std::vector<Waiting> found_;
};

void put(std::size_t node, const Web& web, std::vector<bool>& seen, std::vector<std::size_t>& order) {
  if (seen[node]) return;
  seen[node] = true;
  for (const auto before : web.waits_for(node)) put(before, web, seen, order);
  if (const auto what = web.named(node); !what.is_entry) order.push_back(what.index);
}

}  // namespace

std::vector<std::size_t> met_order(const ScenarioSpec& scenario) {
  const Web web(scenario, false);
  std::vector<std::size_t> order;
  std::vector<bool> seen(web.size(), false);
  for (std::size_t node = 0; node < web.size(); ++node) put(node, web, seen, order);  // entries first
  return order;
}

std::optional<std::vector<Waiting>> find_circle(const ScenarioSpec& scenario) {
  return Walk(scenario).circle();
}

}  // namespace emberline::rehearsal

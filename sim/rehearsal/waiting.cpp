#include "sim/rehearsal/waiting.hpp"

#include <algorithm>
#include <cstdint>

namespace emberline::rehearsal {
namespace {

/// Every anchor an expectation hangs on.
std::vector<const Anchor*> anchors_of(const Expectation& expectation) {
  std::vector<const Anchor*> anchors;
  if (expectation.from) anchors.push_back(&*expectation.from);
  if (expectation.until) anchors.push_back(&*expectation.until);
  for (const auto& step : expectation.sequence)
    if (step.happens) anchors.push_back(&*step.happens);
  return anchors;
}

std::optional<std::size_t> find(const std::vector<Expectation>& expectations, const std::string& name) {
  for (std::size_t i = 0; i < expectations.size(); ++i)
    if (expectations[i].name == name) return i;
  return std::nullopt;
}

/// A walk over what waits for what, depth first.
class Walk {
 public:
  explicit Walk(const ScenarioSpec& scenario)
      : scenario_(scenario),
        entries_(scenario.timeline.size()),
        marks_(entries_ + scenario.expectations.size(), Mark::unseen) {}

  std::optional<std::vector<Waiting>> circle() {
    for (std::size_t node = 0; node < marks_.size(); ++node)
      if (visit(node)) return found_;
    return std::nullopt;
  }

 private:
  enum class Mark : std::uint8_t { unseen, on_the_way, done };

  [[nodiscard]] Waiting named(std::size_t node) const {
    return node < entries_ ? Waiting{true, node} : Waiting{false, node - entries_};
  }
  void add(const Anchor& anchor, std::vector<std::size_t>& nodes) const {
    if (anchor.entry) {
      nodes.push_back(*anchor.entry);
    } else if (!anchor.expectation.empty()) {
      if (const auto met = find(scenario_.expectations, anchor.expectation)) nodes.push_back(entries_ + *met);
    } else if (const auto only = only_entry(anchor)) {
      nodes.push_back(*only);
    }
  }
  [[nodiscard]] std::optional<std::size_t> only_entry(const Anchor& anchor) const {
    std::optional<std::size_t> only;
    for (std::size_t i = 0; i < entries_; ++i) {
      const auto& action = scenario_.timeline[i].action;
      if (!action || action->kind->word != anchor.action_word || action->target != anchor.action_target)
        continue;
      if (only) return std::nullopt;
      only = i;
    }
    return only;
  }
  [[nodiscard]] std::vector<std::size_t> waits_for(std::size_t node) const {
    std::vector<std::size_t> nodes;
    if (node >= entries_) {
      for (const auto* anchor : anchors_of(scenario_.expectations[node - entries_])) add(*anchor, nodes);
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
  bool visit(std::size_t node) {
    if (marks_[node] == Mark::done) return false;
    if (marks_[node] == Mark::on_the_way) {
      const auto begin = std::find(way_.begin(), way_.end(), node);
      std::vector<Waiting> circle;
      for (auto it = begin; it != way_.end(); ++it) circle.push_back(named(*it));
      found_ = std::move(circle);
      return true;
    }
    marks_[node] = Mark::on_the_way;
    way_.push_back(node);
    for (const auto next : waits_for(node))
      if (visit(next)) return true;
    way_.pop_back();
    marks_[node] = Mark::done;
    return false;
  }

  const ScenarioSpec& scenario_;
  std::size_t entries_;
  std::vector<Mark> marks_;
  std::vector<std::size_t> way_;
  std::vector<Waiting> found_;
};

void put(std::size_t index, const std::vector<Expectation>& expectations, std::vector<bool>& seen,
         std::vector<std::size_t>& order) {
  if (seen[index]) return;
  seen[index] = true;
  for (const auto* anchor : anchors_of(expectations[index]))
    if (const auto met = find(expectations, anchor->expectation); met && !anchor->expectation.empty())
      put(*met, expectations, seen, order);
  order.push_back(index);
}

}  // namespace

std::vector<std::size_t> met_order(const std::vector<Expectation>& expectations) {
  std::vector<std::size_t> order;
  std::vector<bool> seen(expectations.size(), false);
  for (std::size_t i = 0; i < expectations.size(); ++i) put(i, expectations, seen, order);
  return order;
}

std::optional<std::vector<Waiting>> find_circle(const ScenarioSpec& scenario) {
  return Walk(scenario).circle();
}

}  // namespace emberline::rehearsal

#include "sim/polling/review_text.hpp"

#include "sim/bench/traffic_text.hpp"
#include "sim/polling/plan_review.hpp"

namespace emberline::polling {

std::string review_head(std::string_view plan_title, std::string_view line) {
  return "Beside the poll plan '" + std::string(plan_title) + "' of " + std::string(line) + ":";
}

std::vector<std::string> traffic_lines(const bench::TrafficReview& traffic, const PollPlans& plans) {
  auto lines = bench::traffic_lines(traffic);
  for (const auto& plan : plans) {
    lines.push_back(review_head(plan->wish.title, plan->wish.bench->lines.at(plan->wish.line).name));
    for (const auto& sentence : review_against(*plan, traffic)) lines.push_back("  " + sentence);
  }
  return lines;
}

}  // namespace emberline::polling

#pragma once

#include <string>
#include <vector>

#include "sim/polling/poll_plan.hpp"

namespace emberline::io {

/// A table of a sheet. Each row may have a sentence of its own, which stands below it, or in a last column.
struct PlanTable {
  struct Column {
    std::string head;
    bool right = false;  ///< numbers stand at the right
  };
  std::vector<Column> columns;
  std::vector<std::vector<std::string>> rows;
  std::string remark_head;
  std::vector<std::string> remarks;  ///< none, or one a row
};

struct PlanSection {
  std::string title;
  std::vector<std::string> before;  ///< paragraphs above the table
  PlanTable table;                  ///< without columns: there is none
  std::vector<std::string> after;   ///< and below it
};

/// A poll plan as people read it, without a layout.
struct PlanSheet {
  std::string title;
  std::vector<std::string> lead;
  std::vector<PlanSection> sections;
};

[[nodiscard]] PlanSheet sheet_of(const polling::PollPlan& plan);

// --- parts of it

[[nodiscard]] PlanSection requests_section(const polling::PollPlan& plan);
[[nodiscard]] PlanSection slaves_section(const polling::PollPlan& plan);
/// The load with its formula.
[[nodiscard]] PlanSection load_section(const polling::PollPlan& plan);
[[nodiscard]] PlanSection ages_section(const polling::PollPlan& plan);
[[nodiscard]] PlanSection cycle_section(const polling::PollPlan& plan);
[[nodiscard]] PlanSection watchdog_section(const polling::PollPlan& plan);

}  // namespace emberline::io

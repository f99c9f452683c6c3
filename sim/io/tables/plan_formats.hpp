#pragma once

#include <string>

#include "sim/polling/poll_plan.hpp"

namespace emberline::io {

// A poll plan for people and programs. Addresses are zero-based; where people read, reference numbers stand
// beside them.

/// Everything there is to know, on 100 columns.
[[nodiscard]] std::string plan_text(const polling::PollPlan& plan);
/// The same for a page of a documentation (tables as GitHub Flavored Markdown has them).
[[nodiscard]] std::string plan_markdown(const polling::PollPlan& plan);
/// The requests and nothing else, one a line (RFC 4180); times in seconds.
[[nodiscard]] std::string plan_csv(const polling::PollPlan& plan);
/// All numbers (RFC 8259), as config/schema/poll-plan-result.json describes them; times in seconds.
[[nodiscard]] std::string plan_json(const polling::PollPlan& plan);
/// The requests as constants in Structured Text (IEC 61131-3:2013, ed. 3).
[[nodiscard]] std::string plan_st(const polling::PollPlan& plan);

}  // namespace emberline::io

#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "sim/cli/panel_options.hpp"
#include "sim/cli/reports.hpp"

namespace emberline::cli {

/// `emberline serve BENCH`: answers until told to stop.
struct ServeOptions {
  std::string bench;
  std::string control;                  ///< empty: the default place
  std::string ready_file;               ///< empty: none
  std::string capture;                  ///< empty: none
  std::string capture_limit = "1000";   ///< MB of it that are kept; "0": all
  std::vector<std::string> poll_plans;  ///< what the traffic is held against
  PanelOptions panel;
  std::string seed = "1";
  double plant_speed = 1.0;
};
[[nodiscard]] int serve(const ServeOptions& options);

/// `emberline rehearse SCENARIO...`: runs and judges.
struct RehearseOptions {
  std::vector<std::string> scenarios;
  std::string junit;       ///< empty: none
  std::string json;        ///< empty: none
  std::string report;      ///< empty: none
  std::string trends;      ///< a folder; empty: none
  std::string capture;     ///< empty: none
  std::string save_state;  ///< empty: none
  std::string seed = "1";
  bool seed_given = false;
  std::string jobs = "1";  ///< how many at a time; "0": as many as there are cores
  std::string shard;       ///< "2/5"; empty: all
  std::string repeat;      ///< how many seeds each; empty: one, `seed`
  std::string seed_from;   ///< the first of them; empty: 1
  std::string wait_for_master = "60 s";
  bool wait_given = false;
  bool real_master = false;
  bool by_hand = false;
  double plant_speed = 1.0;
};
[[nodiscard]] int rehearse(const RehearseOptions& options);

/// `emberline lesson SCENARIO`: walks through it in the panel until told to stop.
struct LessonOptions {
  std::string scenario;
  std::string ready_file;  ///< empty: none
  PanelOptions panel;
  std::string seed = "1";
  bool real_master = false;
  bool blind = false;  ///< the class does not see the faults, until the trainer says so
  double plant_speed = 1.0;
};
[[nodiscard]] int lesson(const LessonOptions& options);

/// `emberline merge SHARD.json...`: the reports of all shards of a run.
struct MergeOptions {
  std::vector<std::string> shards;  ///< what `rehearse --json` wrote
  ReportFiles reports;
};
[[nodiscard]] int merge(const MergeOptions& options);

/// `emberline check FILE...`: says what is wrong with any kind of file.
[[nodiscard]] int check(const std::vector<std::string>& files);

/// `emberline registers FILE`: lists a register table, or those of a bench.
struct RegistersOptions {
  std::string file;
  std::string format = "text";  ///< text, markdown, csv, json, html, st, yaml
  std::string unit;             ///< of a bench: only the table of this one; empty: all
  std::string out;              ///< empty: standard output
};
[[nodiscard]] int registers(const RegistersOptions& options);

/// `emberline poll-plan FILE`: makes a poll plan.
struct PollPlanOptions {
  std::string file;
  std::string format = "text";  ///< text, csv, markdown, json, st
  std::string out;              ///< empty: standard output
};
[[nodiscard]] int poll_plan(const PollPlanOptions& options);

/// `emberline read` and `emberline write`: a plain master for commissioning.
struct MasterOptions {
  std::string bench;      ///< either this
  std::string registers;  ///< or this
  std::string serial = "19200 8E1";
  bool serial_given = false;
  std::string line;
  std::string unit;
  std::vector<std::string> points;
  std::string timeout = "1 s";
  std::string every;  ///< write only; empty: once
};
[[nodiscard]] int read(const MasterOptions& options);
[[nodiscard]] int write(const MasterOptions& options);

/// `emberline tell BENCH-OR-SOCKET-OR-URL 'cut field'`: hands for a running bench.
struct TellOptions {
  std::string where;
  std::vector<std::string> words;
  std::string token_file;  ///< for a URL; empty: none
  bool ping = false;
};
[[nodiscard]] int tell(const TellOptions& options);

/// `emberline watch BENCH-OR-SOCKET-OR-URL`: a line a second of what a running bench does.
struct WatchOptions {
  std::string where;
  std::string every = "1 s";
  std::string token_file;  ///< empty: none
  bool once = false;
};
[[nodiscard]] int watch(const WatchOptions& options);

}  // namespace emberline::cli

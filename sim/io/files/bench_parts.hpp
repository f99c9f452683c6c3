#pragma once

#include <map>
#include <optional>
#include <set>
#include <string>
#include <vector>

#include "sim/bench/bench_spec.hpp"
#include "sim/io/files/bench_names.hpp"
#include "sim/io/files/load.hpp"
#include "sim/io/files/node.hpp"
#include "sim/io/files/register_table_file.hpp"

namespace emberline::io {

/// What the parts of a bench file know of each other while it is being read. Parts with problems stay in the
/// specification with what could be read, so that references to them hold and one mistake is one complaint.
struct BenchDraft {
  std::string path;
  BenchNames names;
  bench::BenchSpec spec;
  bool supply_known = false;  ///< system and frequency were read
  TableShelf tables;
  Problems problems;        ///< of the bench file itself
  Problems table_problems;  ///< of the register tables it names
  /// Who has a unit id on a line: (line, id) -> unit or io-block.
  std::map<std::pair<std::string, int>, std::string> ids;
  /// `element` of zones: what the loads that heat them take when they say nothing themselves.
  std::map<std::string, plant::ElementParameters> zone_elements;
  std::set<std::string> firing_known;  ///< units whose firing was read without a complaint
  std::optional<int> copies;           ///< of the unit that is being read; nothing: it is there once
};

/// load_bench(), which also tells the paths of the register tables it has read.
[[nodiscard]] Result<bench::BenchSpec, Problems> load_bench_and_tell(const std::string& path,
                                                                     std::vector<std::string>& tables);

void read_supply(const Node* node, BenchDraft& draft);
void read_line(const Node& node, BenchDraft& draft);
void read_contactor(const Node& node, BenchDraft& draft);
void read_zone(const Node& node, BenchDraft& draft);
void read_neighbours(const Node* node, BenchDraft& draft);
void read_load_sharing(const Node& node, BenchDraft& draft);
void read_unit(const Node& node, BenchDraft& draft);
void read_io_block(const Node& node, BenchDraft& draft);
/// Resolves what io-blocks and local setpoints are wired to; needs the whole rest of the specification.
/// Coils of all io-blocks come first: other io-blocks may carry them.
void connect_io_coils(const Node& node, bench::IoBlockSpec& block, BenchDraft& draft);
void connect_io_inputs(const Node& node, bench::IoBlockSpec& block, BenchDraft& draft);
void connect_unit(const Node& node, unit::UnitSpec& unit, BenchDraft& draft);

/// `copies:` of a line, zone or unit: there are NAME-1, NAME-2, ... instead of NAME. Nothing: it is there
/// once, or the value cannot be used, which read_copies() complains about and copies_of() does not.
[[nodiscard]] std::optional<int> copies_of(const Node& entry);
[[nodiscard]] std::optional<int> read_copies(const Node* node, Problems& problems);
/// Add an entry so many times: ports, paths, unit ids, lines and zones go along with the number. The place of
/// complaints is `node`.
void add_copies(const Node& node, const bench::LineSpec& line, int copies, BenchDraft& draft);
void add_copies(const bench::ZoneSpec& zone, int copies, BenchDraft& draft);
void add_copies(const Node& node, const bench::UnitEntry& entry, int copies, BenchDraft& draft);
/// Complains if a line before this one has the same path, or the same host and port.
void check_place(const Node& node, const bench::LineSpec& line, BenchDraft& draft);

/// `lines:` of a unit or io-block: names of lines of this bench. A unit with copies may name a line with
/// copies.
std::vector<std::string> read_line_names(const Node* node, BenchDraft& draft);
/// `id:`, 1 to 247.
std::optional<int> read_id(const Node* node, Problems& problems);
/// Takes a unit id on each of the lines, or complains at `at`, naming who has it already.
void claim_id(const Node* at, int id, const std::string& owner, const std::vector<std::string>& lines,
              BenchDraft& draft);
/// `identity:` of a unit or io-block: what it says it is. What is not given stays as it is.
void read_identity(const Node* node, modbus::Identity& identity, Problems& problems);

// Parts of a unit.
void read_firing(const Node* node, const Node* load, bench::UnitEntry& entry, BenchDraft& draft);
void read_control(const Node* node, unit::ControlSpec& control, Problems& problems);
void read_limits(const Node* node, unit::LimitsSpec& limits, Problems& problems);
void read_intake(const Node* node, unit::IntakeSpec& intake, Problems& problems);
void read_relays(const Node* node, std::vector<unit::RelaySpec>& relays, Problems& problems);
void read_comms_loss(const Node* node, unit::UnitSpec& unit, Problems& problems);
/// `reset_by:` of the watchdog and of protections.
void read_resets(const Node* node, std::vector<unit::ResetBy>& resets, const unit::UnitSpec& unit,
                 Problems& problems);
void read_load(const Node* node, bench::UnitEntry& entry, BenchDraft& draft);
void read_heat_sink(const Node* node, bench::UnitEntry& entry, Problems& problems);
void read_fuse(const Node* node, bench::UnitEntry& entry, Problems& problems);
/// Needs the unit's heat sink and fuse.
void read_protections(const Node* node, bench::UnitEntry& entry, Problems& problems);

/// `element:` of a load or of a zone; nothing where there is none. Its zone is left open.
[[nodiscard]] std::optional<plant::ElementParameters> read_element(const Node* node, Problems& problems);
void read_emissivity(const Node* node, double& into, Problems& problems);

}  // namespace emberline::io

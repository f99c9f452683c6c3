#include <algorithm>
#include <charconv>
#include <string>
#include <string_view>

#include "sim/bench/signal.hpp"
#include "sim/io/files/bench_parts.hpp"
#include "sim/io/files/fields.hpp"
#include "sim/io/files/register_row.hpp"
#include "sim/io/files/values.hpp"
#include "sim/io/files/words.hpp"
#include "sim/rehearsal/unknown_signal.hpp"

namespace emberline::io {
namespace {

using bench::SignalId;

constexpr std::string_view kIoBlockExample = "{ id: 20, lines: [field], coils: { 0: main.closed } }";
constexpr std::string_view kInputExample = "{ signal: soak.measured, as: s16, scale: 0.1 degC }";
constexpr unsigned kLastAddress = 0xFFFF;

/// Io-block addresses are zero-based, decimal or hexadecimal.
std::optional<std::uint16_t> address_of(const Node& entry, Problems& problems) {
  const std::string& text = entry.label;
  const bool hex = text.starts_with("0x") || text.starts_with("0X");
  const char* begin = text.data() + (hex ? 2 : 0);
  const char* end = text.data() + text.size();
  unsigned address = 0;
  const auto [rest, error] = std::from_chars(begin, end, address, hex ? 16 : 10);
  if (error == std::errc{} && rest == end && begin != end && address <= kLastAddress)
    return static_cast<std::uint16_t>(address);
  complain(problems, entry.header, "expected a zero-based address from 0 to 65535, found '" + text + "'");
  return std::nullopt;
}

/// The entries of coils:, discrete: or input:, each under its address; doubles such as 16 and 0x10 refused.
std::map<std::uint16_t, const Node*> entries_of(const Node* section, std::string_view example,
                                                Problems& problems) {
  std::map<std::uint16_t, const Node*> entries;
  if (section == nullptr || section->kind == Node::Kind::refused || section->kind == Node::Kind::null)
    return entries;
  if (section->kind != Node::Kind::mapping) {
    complain_kind(*section, example, problems);
    return entries;
  }
  for (const auto& entry : section->entries) {
    const auto address = address_of(entry, problems);
    if (address && !entries.try_emplace(*address, &entry).second)
      complain(problems, entry.header, "address " + entry.label + " stands twice");
  }
  return entries;
}

/// A signal by name. Values of io-blocks other than coils cannot be wired on: that could go in a circle.
std::optional<SignalId> resolve(const Node& node, const std::string& name, const BenchDraft& draft,
                                Problems& problems) {
  const auto signal = bench::find_signal(draft.spec, name);
  if (!signal) {
    complain(problems, node.place, label_of(node) + rehearsal::unknown_signal(draft.spec, name));
    return std::nullopt;
  }
  if (signal->kind != SignalId::Kind::io_discrete && signal->kind != SignalId::Kind::io_input) return signal;
  complain(problems, node.place,
           label_of(node) + "'" + name + "' is an input of an io-block: name the signal it carries");
  return std::nullopt;
}

void connect_coils(const Node* section, bench::IoBlockSpec& block, BenchDraft& draft) {
  auto& problems = draft.problems;
  for (const auto& [address, node] : entries_of(section, "coils such as { 0: main.closed }", problems)) {
    std::string name;
    if (!read_text(node, name, problems)) continue;
    const auto signal = resolve(*node, name, draft, problems);
    if (!signal) continue;
    if (signal->kind != SignalId::Kind::terminal && signal->kind != SignalId::Kind::contactor) {
      complain_kind(*node,
                    "UNIT.terminal.enable, UNIT.terminal.reset or CONTACTOR.closed: coils drive nothing else",
                    problems);
      continue;
    }
    for (const auto& other : draft.spec.io_blocks)
      for (const auto& [taken, wired] : other.coils)
        if (wired == name)
          complain(problems, node->place,
                   label_of(*node) + "'" + name + "' is driven by " + other.name + ".coil." +
                       std::to_string(taken) + " already");
    block.coils[address] = name;
  }
}

void connect_discrete(const Node* section, bench::IoBlockSpec& block, BenchDraft& draft) {
  auto& problems = draft.problems;
  for (const auto& [address, node] :
       entries_of(section, "discrete inputs such as { 0: soak-heater.relay.K1 }", problems)) {
    std::string name;
    if (!read_text(node, name, problems)) continue;
    const auto signal = resolve(*node, name, draft, problems);
    if (!signal) continue;
    if (bench::signal_info(draft.spec, *signal).dimension != Dimension::logical) {
      complain_kind(*node, "a signal that is on or off (a terminal, a relay, a contactor, a coil)", problems);
      continue;
    }
    block.discrete[address] = name;
  }
}

/// A register's layout when nothing is said: natural unit, with a sign where values below 0 are everyday.
registers::Layout natural_layout(Dimension dimension) {
  registers::Layout layout;
  layout.type = dimension == Dimension::temperature ? registers::Type::s16 : registers::Type::u16;
  layout.scale = natural_factor(dimension);
  return layout;
}

std::optional<bench::IoInput> read_input_register(const Node& node, BenchDraft& draft) {
  auto& problems = draft.problems;
  bench::IoInput input;
  if (node.kind == Node::Kind::scalar) {
    const auto signal = resolve(node, node.text, draft, problems);
    if (!signal) return std::nullopt;
    return bench::IoInput{node.text, natural_layout(bench::signal_info(draft.spec, *signal).dimension)};
  }
  Fields fields(node, kInputExample, problems);
  const auto* name = fields.required("signal");
  std::optional<SignalId> signal;
  if (read_text(name, input.signal, problems)) signal = resolve(*name, input.signal, draft, problems);
  auto dimension = signal ? bench::signal_info(draft.spec, *signal).dimension : Dimension::number;
  input.layout = natural_layout(dimension);
  if (dimension == Dimension::logical) dimension = Dimension::number;
  read_type(fields.optional("as"), false, input.layout.type, problems);
  const auto* scale = fields.optional("scale");
  if (signal) read_quantity(scale, dimension, Bound::positive, input.layout.scale, problems);
  read_word_order(fields.optional("word_order"), input.layout.word_order, problems);
  read_byte_order(fields.optional("byte_order"), input.layout.byte_order, problems);
  read_broken(fields.optional("broken"), dimension, input.layout, problems);
  fields.done();
  return signal ? std::optional(input) : std::nullopt;
}

void connect_input(const Node* section, bench::IoBlockSpec& block, BenchDraft& draft) {
  auto& problems = draft.problems;
  unsigned next_free = 0;
  std::string before;
  unsigned registers_before = 0;
  for (const auto& [address, node] :
       entries_of(section, "input registers such as { 0: soak.measured }", problems)) {
    const auto input = read_input_register(*node, draft);
    if (!input) continue;
    const unsigned count = static_cast<unsigned>(registers::register_count(input->layout));
    if (address < next_free)
      complain(problems, node->header,
               "address " + node->label + " is " +
                   (registers_before == 2 ? "the second register" : "one of the registers") + " of '" +
                   before + "'");
    if (address + count > kLastAddress + 1)
      complain(problems, node->header,
               "a " + std::to_string(16 * count) + "-bit value at address " + node->label +
                   " runs past the last address, 65535");
    next_free = address + count;
    before = input->signal;
    registers_before = count;
    block.input[address] = *input;
  }
}

}  // namespace

void read_io_block(const Node& node, BenchDraft& draft) {
  auto& problems = draft.problems;
  bench::IoBlockSpec block;
  block.name = node.label;
  Fields fields(node, kIoBlockExample, problems);
  const auto* id_node = fields.required("id", "expected a unit id from 1 to 247");
  const auto id = read_id(id_node, problems);
  block.lines =
      read_line_names(fields.required("lines", "expected the lines it is on, such as [field]"), draft);
  if (id) {
    block.id = *id;
    claim_id(id_node, *id, block.name, block.lines, draft);
  }
  read_identity(fields.optional("identity"), block.identity, problems);
  read_duration(fields.optional("turnaround"), Bound::not_negative, block.turnaround, problems);
  read_duration(fields.optional("outputs_off_after"), Bound::positive, block.outputs_off_after, problems);
  // Read by connect_io_coils and connect_io_inputs, when all signals are known.
  fields.optional("coils");
  fields.optional("discrete");
  fields.optional("input");
  fields.later({"holding"});
  fields.done();
  draft.spec.io_blocks.push_back(std::move(block));
}

void connect_io_coils(const Node& node, bench::IoBlockSpec& block, BenchDraft& draft) {
  connect_coils(node.find("coils"), block, draft);
}

void connect_io_inputs(const Node& node, bench::IoBlockSpec& block, BenchDraft& draft) {
  connect_discrete(node.find("discrete"), block, draft);
  connect_input(node.find("input"), block, draft);
}

}  // namespace emberline::io

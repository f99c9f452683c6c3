#pragma once

#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "plant-models/electrical/fuse.hpp"
#include "plant-models/electrical/heat_sink.hpp"
#include "plant-models/electrical/network.hpp"
#include "plant-models/thermal/thermal_plant.hpp"
#include "sim/base/serial_format.hpp"
#include "sim/base/sim_time.hpp"
#include "sim/bench/panel_spec.hpp"
#include "sim/modbus/identity.hpp"
#include "sim/registers/codec.hpp"
#include "sim/unit/unit_spec.hpp"

namespace emberline::bench {

enum class LineKind : std::uint8_t { pty, serial_port, tcp, rtu_tcp };
/// True for lines that carry RTU frames (unit id 0 is broadcast there).
constexpr bool carries_rtu(LineKind kind) { return kind != LineKind::tcp; }
/// True for lines that masters reach by a TCP connection.
constexpr bool over_tcp(LineKind kind) { return kind == LineKind::tcp || kind == LineKind::rtu_tcp; }
[[nodiscard]] std::string_view to_word(LineKind kind);  ///< "pty", "serial-port", "tcp", "rtu-tcp"

/// A way in for masters.
struct LineSpec {
  std::string name;
  LineKind kind = LineKind::pty;
  std::string path;           ///< pty: the stable link, empty: none asked for; serial-port: the device
  bool rs485 = false;         ///< serial-port: the driver turns the direction of a two-wire bus
  bool hears_itself = false;  ///< serial-port: the adapter hands back what it sends; that is thrown away
  std::string host;           ///< tcp, rtu-tcp
  std::uint16_t port = 0;     ///< tcp, rtu-tcp; 0: one is chosen
  SerialFormat serial;        ///< RTU lines
  int max_connections = 8;    ///< tcp, rtu-tcp
  bool drop_oldest = false;   ///< beyond max_connections: drop the oldest instead of refusing the newest
  std::optional<Duration> idle_timeout;  ///< tcp, rtu-tcp: without a whole request for so long, a connection
                                         ///< is closed; nothing: never
  bool unknown_id_exception_0b = false;  ///< an id nobody has: answered 0B, as a gateway would; else silence
  bool paced = true;  ///< RTU: frames take the time that speed and format say; else answers leave at once
  bool strict_timing = false;  ///< RTU in wall time: t1.5/t3.5 as the standard has them
  std::optional<Duration>
      frame_silence;  ///< RTU in wall time: silence that ends an incomplete frame; default max(t3.5, 50 ms)
};

struct ContactorSpec {
  std::string name;
  std::vector<std::string> feeds;  ///< units
};

/// A hard-wired excess-temperature cut-out with a probe of its own: opens a contactor, and stays so until it
/// is reset by hand, 5 K below its threshold or colder.
struct CutOutSpec {
  double above_degC = 0.0;
  std::string opens;  ///< contactor
};

struct ZoneSpec {
  std::string name;
  plant::ZoneParameters parameters;
  std::optional<CutOutSpec> cut_out{};
};

/// Units in `burst` with one base whose on-times follow each other, so that they meet as little as they can.
struct LoadSharingSpec {
  std::string name;
  std::vector<std::string> units;
};

/// A unit with what hangs on its terminals.
struct UnitEntry {
  unit::UnitSpec unit;
  plant::LoadParameters load;
  std::optional<std::string> heats;  ///< zone
  plant::ElementParameters element;  ///< its zone is set by `heats`
  std::optional<plant::HeatSinkParameters> heat_sink;
  std::optional<plant::FuseParameters> fuse;
};

/// An input register of an io-block.
struct IoInput {
  std::string signal;
  registers::Layout layout;
};

/// A remote I/O block. Addresses are zero-based. Coils go to terminals (UNIT.terminal.enable,
/// UNIT.terminal.reset) and contactors (CONTACTOR.closed); discrete inputs and input registers carry any
/// signal.
struct IoBlockSpec {
  std::string name;
  int id = 1;
  std::vector<std::string> lines;
  /// What it says it is; function codes 11 and 2B (hex).
  modbus::Identity identity = modbus::basic_identity("Emberline", "virtual-io-block", "1.0");
  Duration turnaround{};  ///< as that of a unit
  std::optional<Duration> outputs_off_after;
  std::map<std::uint16_t, std::string> coils;
  std::map<std::uint16_t, std::string> discrete;
  std::map<std::uint16_t, IoInput> input;
};

/// Somebody who answers on a line.
struct SlaveOnLine {
  std::string_view name;
  int id = 0;
  std::optional<std::size_t> unit;  ///< its place among the units; nothing for an io-block
};

/// The whole virtual installation, as checked by the loader: names are unique over lines, contactors, zones,
/// units and io-blocks; every reference is to something that exists; unit ids are unique on each line.
struct BenchSpec {
  std::string title;
  plant::SupplyParameters supply;
  std::vector<ContactorSpec> contactors;
  std::vector<LineSpec> lines;
  std::vector<ZoneSpec> zones;
  std::vector<plant::NeighbourParameters> neighbours;
  std::vector<LoadSharingSpec> load_sharing;
  Duration demand_interval = std::chrono::minutes{15};  ///< of demand and peak demand
  std::vector<UnitEntry> units;
  std::vector<IoBlockSpec> io_blocks;
  std::optional<PanelSpec> panel;  ///< nothing: as `serve` has it by default

  [[nodiscard]] std::optional<std::size_t> find_line(std::string_view name) const;
  [[nodiscard]] std::optional<std::size_t> find_contactor(std::string_view name) const;
  [[nodiscard]] std::optional<std::size_t> find_zone(std::string_view name) const;
  [[nodiscard]] std::optional<std::size_t> find_unit(std::string_view name) const;
  [[nodiscard]] std::optional<std::size_t> find_io_block(std::string_view name) const;
  /// Who answers on a line, units first, in the order of the file.
  [[nodiscard]] std::vector<SlaveOnLine> slaves_on(std::size_t line) const;
  /// Who answers to an id on a line. On Modbus TCP 0 and 255 reach the only slave of a line when there is
  /// just one (Messaging on TCP/IP V1.0b, 4.4.1).
  [[nodiscard]] std::optional<SlaveOnLine> slave_on(std::size_t line, int id) const;
};

}  // namespace emberline::bench

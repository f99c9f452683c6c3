#include "tests/bench/many_units.hpp"

#include <filesystem>
#include <fstream>
#include <system_error>

#include "tests/bench/measure.hpp"

namespace emberline::speed {
namespace {

constexpr std::size_t kLargestFile = 1'000'000;  // of a bench, as the loader has it

std::string line_text(int line) {
  return "  " + line_name(line) +
         (is_pty(line) ? ": { pty: , pacing: none }\n" : ": { tcp: \"127.0.0.1:0\" }\n");
}

std::string zone_text(const ManyUnits& wanted, int unit) {
  std::string text = "  z" + std::to_string(unit) +
                     ": { mass: 180 kg, specific_heat: 900 J/kgK, ambient: 25 degC, sensor: { lag: 12 s }, ";
  if (!wanted.walls) return text + "loss: 38 W/K }\n";
  return text +
         "wall: { area: 2.4 m2, inside_film: 40 W/m2K, layers: [{ thickness: 115 mm, conductivity: 0.9 W/mK, "
         "density: 1500 kg/m3, specific_heat: 1000 J/kgK }, { thickness: 100 mm, conductivity: 0.25 W/mK, "
         "density: 500 kg/m3, specific_heat: 1000 J/kgK }, { thickness: 4 mm, conductivity: 45 W/mK, "
         "density: "
         "7800 kg/m3, specific_heat: 480 J/kgK }] } }\n";
}

std::string unit_text(const ManyUnits& wanted, int unit) {
  const auto number = std::to_string(unit);
  return "  u" + number + ": { id: " + std::to_string(id_of(unit, wanted.lines)) +
         ", lines: " + line_name(unit % wanted.lines) +
         ", registers: sixteen-live.yaml, rating: { voltage: 400 V, current: 63 A }, firing: { mode: " +
         wanted.mode +
         ", ramp: 500 ms }, control: { variable: power, full_scale: 24 kW }, comms_loss: { timeout: 600 s, "
         "policy: latch-to-inhibit }, load: { connection: " +
         wanted.connection +
         ", elements: 4 in parallel, material: nickel-chromium, cold_resistance: 22 ohm, heats: z" + number +
         " } }\n";
}

/// The lines from `first` on, up to but without `end`, with all that hangs on them.
std::string bench_text(const ManyUnits& wanted, int first, int end) {
  std::string lines, zones, units;
  for (int line = first; line < end; ++line) lines += line_text(line);
  for (int unit = 0; unit < wanted.units; ++unit) {
    const int line = unit % wanted.lines;
    if (line < first || line >= end) continue;
    zones += zone_text(wanted, unit);
    units += unit_text(wanted, unit);
  }
  return "bench: " + std::to_string(wanted.units) +
         " units\nsupply: { system: three-phase, voltage: 400 V, frequency: 50 Hz" +
         (wanted.one_source ? ", impedance: 8 uohm" : "") + " }\nlines:\n" + lines + "zones:\n" + zones +
         "units:\n" + units;
}

void write_file(const std::string& path, const std::string& text) {
  std::ofstream file(path, std::ios::binary);
  file << text;
  if (!file.flush()) give_up(path + " cannot be written");
}

}  // namespace

std::string line_name(int line) { return "l" + std::to_string(line); }

std::vector<std::string> write_many_units(const ManyUnits& wanted, const std::string& folder) {
  if (wanted.units < 1 || wanted.lines < 1 || wanted.lines > wanted.units ||
      (wanted.units - 1) / wanted.lines + 1 > 247)
    give_up("a bench needs a unit a line at least, and 247 at most");
  std::error_code error;
  std::filesystem::copy_file(EMBERLINE_SOURCE_DIR "/tests/bench/sixteen-live.yaml",
                             folder + "/sixteen-live.yaml", std::filesystem::copy_options::overwrite_existing,
                             error);
  if (error) give_up(folder + ": " + error.message());
  int shares = 1;
  std::vector<std::string> texts;
  for (bool fits = false; !fits; ++shares) {
    texts.clear();
    fits = true;
    for (int share = 0; share < shares && fits; ++share) {
      texts.push_back(bench_text(wanted, wanted.lines * share / shares, wanted.lines * (share + 1) / shares));
      fits = texts.back().size() <= kLargestFile;
    }
  }
  std::vector<std::string> files;
  for (const auto& text : texts) {
    files.push_back(folder + "/bench" + (texts.size() == 1 ? "" : std::to_string(files.size())) + ".yaml");
    write_file(files.back(), text);
  }
  return files;
}

}  // namespace emberline::speed

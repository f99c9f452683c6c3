#include "sim/faults/line/noise.hpp"

#include <algorithm>

#include "sim/base/quantity.hpp"
#include "sim/faults/action_impairment.hpp"

namespace emberline::faults {
namespace {

enum class Place : std::uint8_t { anywhere, before, over, behind };
constexpr std::string_view kPlaces[] = {"anywhere", "before", "over", "behind"};  // as Place counts them

constexpr ActionKey kKeys[] = {share_key("of the frames that are hit"),
                               {.key = "bytes",
                                .kind = ActionKey::Kind::whole,
                                .fallback = 4.0,
                                .meaning = "how many random bytes a burst has",
                                .least = 1.0,
                                .most = 64.0},
                               {.key = "place",
                                .kind = ActionKey::Kind::word,
                                .fallback = 0.0,
                                .meaning = "where a burst meets the frame; anywhere: by chance",
                                .words = kPlaces},
                               way_key(bench::Way::both, "which way frames are hit")};

class Noise final : public bench::Impairment {
 public:
  Noise(double share, std::size_t count, Place place, bench::Way way)
      : share_(share), count_(count), place_(place), way_(way) {}
  void bytes_in(modbus::Bytes& bytes, Random& chance) override {
    if (way_ != bench::Way::to_masters) (void)disturb(bytes, chance);
  }
  void answer(const bench::Query& query, std::vector<bench::Piece>& pieces, Random& chance) override {
    if (way_ == bench::Way::to_units) return;
    for (auto& piece : pieces)
      piece.due += query.character * static_cast<Duration::rep>(disturb(piece.bytes, chance));
  }

 private:
  /// Gives how many bytes there are more.
  std::size_t disturb(modbus::Bytes& bytes, Random& chance) const {
    if (bytes.empty() || !hits(share_, chance)) return 0;
    const Place place = place_ == Place::anywhere ? static_cast<Place>(1 + chance.below(3)) : place_;
    modbus::Bytes burst(count_);
    for (auto& byte : burst) byte = static_cast<std::uint8_t>(chance.below(256));
    if (place == Place::over) {
      const std::size_t size = std::min(count_, bytes.size());
      const auto first = static_cast<std::ptrdiff_t>(chance.below(bytes.size() - size + 1));
      std::copy_n(burst.begin(), size, bytes.begin() + first);
      return 0;
    }
    bytes.insert(place == Place::before ? bytes.begin() : bytes.end(), burst.begin(), burst.end());
    return count_;
  }
  double share_;
  std::size_t count_;
  Place place_;
  bench::Way way_;
};

void perform(bench::Bench& bench, const Action& action, SimTime at) {
  const double share = action.value("share");
  const auto count = static_cast<std::size_t>(action.value("bytes"));
  const bench::Way way = way_of(action);
  const auto place = static_cast<Place>(static_cast<int>(action.value("place")));
  install(bench, action, std::make_unique<Noise>(share, count, place, way),
          "bursts of " + format_number(static_cast<double>(count)) + " random bytes hit " +
              portion(share, "frames") + ", " + in_words(way) +
              ": units are silent to what is no frame, masters may trip over bytes that nobody sent",
          at);
}

}  // namespace

const ActionKind kNoise{"noise",
                        TargetKind::rtu_line,
                        "puts random bytes before, over or behind what goes over a line",
                        Duration{},
                        perform,
                        kKeys,
                        lifted};

}  // namespace emberline::faults

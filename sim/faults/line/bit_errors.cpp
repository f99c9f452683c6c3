#include "sim/faults/line/bit_errors.hpp"

#include "sim/base/quantity.hpp"
#include "sim/faults/action_impairment.hpp"

namespace emberline::faults {
namespace {

constexpr ActionKey kKeys[] = {{.key = "rate",
                                .kind = ActionKey::Kind::rate,
                                .fallback = std::nullopt,
                                .meaning = "the chance of every bit to be turned over"},
                               way_key(bench::Way::both, "which way bits are turned over")};

/// Errors that have nothing to do with each other, in the data bits alone. What a receiver's parity check
/// would throw away comes as a wrong byte here; the CRC is left to find either.
class BitErrors final : public bench::Impairment {
 public:
  BitErrors(double rate, bench::Way way) : rate_(rate), way_(way) {}
  void bytes_in(modbus::Bytes& bytes, Random& chance) override {
    if (way_ != bench::Way::to_masters) damage(bytes, chance);
  }
  void answer(const bench::Query& /*query*/, std::vector<bench::Piece>& pieces, Random& chance) override {
    if (way_ == bench::Way::to_units) return;
    for (auto& piece : pieces) damage(piece.bytes, chance);
  }

 private:
  void damage(modbus::Bytes& bytes, Random& chance) const {
    for (auto& byte : bytes)
      for (unsigned bit = 0; bit < 8; ++bit)
        if (hits(rate_, chance)) byte = static_cast<std::uint8_t>(byte ^ (1u << bit));
  }
  double rate_;
  bench::Way way_;
};

void perform(bench::Bench& bench, const Action& action, SimTime at) {
  const double rate = action.value("rate");
  const bench::Way way = way_of(action);
  install(bench, action, std::make_unique<BitErrors>(rate, way),
          "bits are turned over at a rate of " + format_number(rate) + ", " + in_words(way) +
              ": units are silent to frames with a bad CRC, masters throw such answers away",
          at);
}

}  // namespace

const ActionKind kBitErrors{"bit_errors",
                            TargetKind::rtu_line,
                            "turns over bits of what goes over a line, each with the same chance",
                            Duration{},
                            perform,
                            kKeys,
                            lifted};

}  // namespace emberline::faults

#include "sim/faults/line/collision.hpp"

#include "sim/base/quantity.hpp"
#include "sim/faults/action_impairment.hpp"

namespace emberline::faults {
namespace {

constexpr std::size_t kCrcSize = 2;
constexpr std::size_t kLagMost = 2;  ///< characters

constexpr ActionKey kKeys[] = {{.key = "id",
                                .kind = ActionKey::Kind::whole,
                                .fallback = std::nullopt,
                                .meaning = "the unit id that two devices have",
                                .least = 1.0,
                                .most = 247.0}};

bool answers_with_data(std::uint8_t function) { return (function >= 1 && function <= 4) || function == 0x17; }

/// A second device of the same make with the same unit id: it does what the first one does, without a state
/// of its own. To a read it answers as many bytes with other values, to anything else the same. It begins up
/// to two characters later. Where both drive the line, a bit that either of them makes 0 is 0, as on a line
/// with open collectors; where one is through, the other one alone is heard. Real transceivers that drive
/// against each other give what their strength and the cable decide, and bits do not meet in whole
/// characters; what a master sees of it, frames with a bad CRC and now and then a good one when both say the
/// same at the same time, is the same. (Common practice, no source.)
class Collision final : public bench::Impairment {
 public:
  explicit Collision(std::uint8_t id) : id_(id) {}
  void answer(const bench::Query& query, std::vector<bench::Piece>& pieces, Random& chance) override {
    if (query.unit_id != id_) return;
    for (auto& piece : pieces) {
      if (piece.echo || !intact(piece.bytes)) continue;
      const modbus::Bytes second = of_second(piece.bytes, chance);
      const std::size_t lag = chance.below(kLagMost + 1);
      piece.bytes.resize(piece.bytes.size() + lag, 0xFF);
      for (std::size_t i = 0; i < second.size(); ++i) piece.bytes[i + lag] &= second[i];
      piece.due += query.character * static_cast<Duration::rep>(lag);
    }
  }

 private:
  /// What the second device says when the first one says `first`.
  static modbus::Bytes of_second(const modbus::Bytes& first, Random& chance) {
    modbus::Bytes second = first;
    if (!answers_with_data(first[1])) return second;
    for (std::size_t i = 3; i + kCrcSize < second.size(); ++i)
      second[i] = static_cast<std::uint8_t>(chance.below(256));
    seal(second);
    return second;
  }
  std::uint8_t id_;
};

void perform(bench::Bench& bench, const Action& action, SimTime at) {
  const double id = action.value("id");
  const bool known = bench.spec().slave_on(action.target.index, static_cast<int>(id)).has_value();
  install(bench, action, std::make_unique<Collision>(static_cast<std::uint8_t>(id)),
          known ? "a second device has unit id " + format_number(id) +
                      ": both do as they are told and answer over each other, masters read rubbish"
                : "nobody has unit id " + format_number(id) +
                      " here: there is nothing for a second device to collide with",
          at);
}

}  // namespace

const ActionKind kCollision{"collision",
                            TargetKind::rtu_line,
                            "lets a second device with the same unit id answer over the first",
                            Duration{},
                            perform,
                            kKeys,
                            lifted};

}  // namespace emberline::faults

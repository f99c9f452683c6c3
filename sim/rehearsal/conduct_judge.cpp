#include "sim/rehearsal/conduct_judge.hpp"

#include "sim/bench/master_name.hpp"
#include "sim/rehearsal/conduct_rules.hpp"
#include "sim/rehearsal/conduct_words.hpp"

namespace emberline::rehearsal {
namespace {

bool is_counted(const Conduct& conduct, std::string_view master, bool any_master) {
  return any_master || conduct.by.empty() || bench::without_port(master) == conduct.by;
}

/// Asked about one master where nobody can tell them apart.
class IndistinctRule final : public ConductRule {
 public:
  explicit IndistinctRule(const Conduct& conduct) : conduct_(conduct) {}
  void begin(SimTime at) override { decide(finish(at)); }
  [[nodiscard]] Finding finish(SimTime end) const override {
    return {Outcome::Result::not_judged,
            {},
            "masters on real lines cannot be told apart (by: " + conduct_.by + ")",
            end};
  }

 private:
  const Conduct& conduct_;
};

std::unique_ptr<ConductRule> make_rule(const RuleContext& context, bool any_master) {
  const auto& conduct = context.conduct;
  if (any_master && conduct.one_of_several && !conduct.by.empty())
    return std::make_unique<IndistinctRule>(conduct);
  switch (context.conduct.kind) {
    case ConductKind::poll_period:
    case ConductKind::read_back:
    case ConductKind::read_before_write:
      return make_read_rule(context);
    case ConductKind::silence:
    case ConductKind::retries:
    case ConductKind::exceptions:
      return make_slave_rule(context);
    default:
      return make_write_rule(context);
  }
}

}  // namespace

ConductJudge::ConductJudge(const Conduct& conduct, const bench::BenchSpec& bench, bool any_master)
    : conduct_(&conduct),
      any_master_(any_master),
      rule_(make_rule({conduct, bench, any_master || conduct.by.empty() ? "" : " by " + conduct.by},
                      any_master)) {}
ConductJudge::~ConductJudge() = default;
ConductJudge::ConductJudge(ConductJudge&&) noexcept = default;
ConductJudge& ConductJudge::operator=(ConductJudge&&) noexcept = default;

bool ConductJudge::counts(std::string_view master) const {
  return is_counted(*conduct_, master, any_master_);
}

void ConductJudge::begin(SimTime at) { rule_->begin(at); }

void ConductJudge::write(const unit::WriteSeen& write) {
  if (!rule_->decided() && counts(write.master)) rule_->write(write);
}

void ConductJudge::request(const bench::RequestSeen& request, bool again) {
  if (!rule_->decided() && counts(request.master)) rule_->request(request, again);
}

std::optional<Finding> ConductJudge::look(SimTime now) const {
  return rule_->decided() ? rule_->decided() : rule_->look(now);
}
std::optional<SimTime> ConductJudge::next() const { return rule_->decided() ? std::nullopt : rule_->next(); }

Finding ConductJudge::finish(SimTime end) const {
  return rule_->decided() ? *rule_->decided() : rule_->finish(end);
}

bool matches_write(const Conduct& conduct, const bench::BenchSpec& bench, const unit::WriteSeen& write,
                   bool any_master) {
  return is_counted(conduct, write.master, any_master) && is_of_point(conduct, bench, write) &&
         (!conduct.condition || holds(*conduct.condition, write.asked));
}

}  // namespace emberline::rehearsal

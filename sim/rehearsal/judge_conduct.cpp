// What a master did in an interval.
#include "sim/rehearsal/question.hpp"

namespace emberline::rehearsal {
namespace {

class Done final : public Question {
 public:
  Done(const Expectation& expectation, const Scene& scene) : conduct_(*expectation.conduct), scene_(scene) {}

  void begin(SimTime from) override {
    judge_.emplace(conduct_, scene_.bench.spec(), scene_.any_master);
    judge_->begin(from);
  }
  [[nodiscard]] bool hears() const override { return true; }
  void write(const unit::WriteSeen& write) override { judge_->write(write); }
  void request(const bench::RequestSeen& request, bool again) override { judge_->request(request, again); }
  [[nodiscard]] std::optional<Finding> look(SimTime now) override { return judge_->look(now); }
  [[nodiscard]] std::optional<SimTime> next() const override { return judge_->next(); }
  [[nodiscard]] Finding over(SimTime end, bool /*by_run*/) override { return judge_->finish(end); }

 private:
  const Conduct& conduct_;
  const Scene& scene_;
  std::optional<ConductJudge> judge_;
};

}  // namespace

std::unique_ptr<Question> ask_conduct(const Expectation& expectation, const Scene& scene) {
  return std::make_unique<Done>(expectation, scene);
}

}  // namespace emberline::rehearsal

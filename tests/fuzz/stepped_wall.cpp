// WallBench as far as the panel and the words of `tell` use it, in place of the one with sockets and a clock.
#include "tests/fuzz/stepped_wall.hpp"

#include <deque>
#include <utility>

namespace emberline::io {

class WallBench::Impl {
 public:
  bench::EventLoop& loop;
  std::deque<std::function<void(SimTime)>> tasks{};
};

namespace {
std::deque<std::function<void(SimTime)>>* tasks_of_the_one = nullptr;
}

WallBench::WallBench(bench::Bench& /*bench*/, bench::EventLoop& loop, Options /*options*/)
    : impl_(new Impl{loop}) {
  tasks_of_the_one = &impl_->tasks;
}
WallBench::~WallBench() { tasks_of_the_one = nullptr; }
void WallBench::post(std::function<void(SimTime)> task) { impl_->tasks.push_back(std::move(task)); }
bool WallBench::begun() const { return true; }
SimTime WallBench::now() const { return impl_->loop.now(); }

}  // namespace emberline::io

namespace emberline::fuzz {

void SteppedBench::step(Duration by) {
  auto& tasks = *io::tasks_of_the_one;
  while (!tasks.empty()) {
    const auto task = std::move(tasks.front());
    tasks.pop_front();
    task(loop.now());
    loop.touched();
  }
  loop.run_through(loop.now() + by);
}

}  // namespace emberline::fuzz

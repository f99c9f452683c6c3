#include "sim/io/control/control.hpp"

#include <cstdlib>
#include <utility>

#include <unistd.h>

#include "sim/io/control/control_socket.hpp"
#include "sim/io/control/hands.hpp"
#include "sim/io/control/standard_input.hpp"

namespace emberline::io {

class Control::Impl {
 public:
  Impl(WallBench& the_wall, bench::Bench& the_bench) : wall(the_wall), bench(the_bench) {}
  [[nodiscard]] Hands hands() const { return {wall, bench, panel, poll_plans}; }

  WallBench& wall;
  bench::Bench& bench;
  std::shared_ptr<std::string> panel = std::make_shared<std::string>();
  std::shared_ptr<polling::PollPlans> poll_plans = std::make_shared<polling::PollPlans>();
  std::unique_ptr<ControlSocket> socket;
  std::unique_ptr<StandardInput> standard_input;
};

Control::Control(WallBench& wall, bench::Bench& bench) : impl_(new Impl(wall, bench)) {}

Control::~Control() = default;

Result<Done, std::string> Control::listen(const std::string& path) {
  auto socket = ControlSocket::open(impl_->hands(), path);
  if (!socket) {
    return Failure{"control socket: " + socket.error()};
  }
  impl_->socket = std::move(socket).value();
  return Done{};
}

void Control::hold_against(polling::PollPlans plans) { *impl_->poll_plans = std::move(plans); }

void Control::panel_at(const std::string& url) { *impl_->panel = url; }

void Control::read_standard_input(std::function<void(const std::string&)> say) {
  impl_->standard_input = std::make_unique<StandardInput>(impl_->hands(), std::move(say));
}

void Control::close() {
  impl_->socket.reset();
  impl_->standard_input.reset();
}

std::string default_control_path(const std::string& bench_file) {
  const char* runtime = std::getenv("XDG_RUNTIME_DIR");
  const std::string folder = runtime != nullptr && *runtime != '\0' ? runtime : "/tmp";
  const auto slash = bench_file.rfind('/');
  std::string stem = slash == std::string::npos ? bench_file : bench_file.substr(slash + 1);
  if (const auto dot = stem.rfind('.'); dot != std::string::npos && dot != 0) {
    stem.resize(dot);
  }
  return folder + "/emberline-" + std::to_string(::getuid()) + "/" + stem + ".sock";
}

}  // namespace emberline::io

#include "sim/io/line/readiness.hpp"

#include <utility>

namespace emberline::io {
namespace {

// So many rounds without a look at what else there is to do: other lines, timers, the order to stop.
constexpr int kMostRounds = 8;

}  // namespace

Readiness::Readiness(boost::asio::io_context& context) : set_(context) {
  const int set = ::epoll_create1(EPOLL_CLOEXEC);
  boost::system::error_code error;
  if (set >= 0 && set_.assign(set, error)) {
    Descriptor(set).close();
  }
}

Readiness::Place Readiness::add(int socket, std::shared_ptr<Watched> who) {
  Place place = 0;
  if (free_.empty()) {
    place = static_cast<Place>(entries_.size());
    entries_.emplace_back();
  } else {
    place = free_.back();
    free_.pop_back();
  }
  entries_[place] = {socket, 0, std::move(who)};
  return place;
}

bool Readiness::watch(Place place, bool reading, bool writing) {
  Entry& entry = entries_[place];
  const std::uint32_t events =
      (reading ? std::uint32_t{EPOLLIN} : 0u) | (writing ? std::uint32_t{EPOLLOUT} : 0u);
  if (events == entry.events) {
    return true;
  }
  // Whoever is watched for nothing would still be told of failures, over and over.
  const int change = events == 0 ? EPOLL_CTL_DEL : entry.events == 0 ? EPOLL_CTL_ADD : EPOLL_CTL_MOD;
  epoll_event event{};
  event.events = events;
  event.data.u32 = place;
  if (::epoll_ctl(set_.native_handle(), change, entry.socket, &event) != 0) {
    return false;
  }
  entry.events = events;
  wait();
  return true;
}

void Readiness::remove(Place place) {
  if (entries_[place].events != 0) {
    (void)watch(place, false, false);
  }
  entries_[place] = {};
  removed_.push_back(place);
}

void Readiness::wait() {
  if (std::exchange(waiting_, true)) {
    return;
  }
  set_.async_wait(boost::asio::posix::stream_descriptor::wait_read,
                  [this](const boost::system::error_code& error) {
                    if (error) {
                      return;  // it is about to go
                    }
                    rounds();
                    waiting_ = false;
                    wait();
                  });
}

void Readiness::rounds() {
  for (int done = 0; done < kMostRounds; ++done) {
    if (round() < 2) {
      return;  // a single one will hardly have asked again already
    }
  }
}

int Readiness::round() {
  const int count = ::epoll_wait(set_.native_handle(), events_.data(), static_cast<int>(events_.size()), 0);
  for (int i = 0; i < count; ++i) {
    const epoll_event& event = events_[static_cast<std::size_t>(i)];
    auto who = entries_[event.data.u32].who;
    if (!who) {
      continue;  // removed by what another was told
    }
    const bool failed = (event.events & (EPOLLERR | EPOLLHUP)) != 0;
    who->ready(failed || (event.events & EPOLLIN) != 0, failed || (event.events & EPOLLOUT) != 0);
    told_.push_back(std::move(who));
  }
  for (const auto& who : told_) {
    who->round_over();
  }
  told_.clear();
  free_.insert(free_.end(), removed_.begin(), removed_.end());
  removed_.clear();
  return count;
}

}  // namespace emberline::io

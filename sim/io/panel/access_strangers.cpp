#include "sim/io/panel/access_strangers.hpp"

#include <algorithm>
#include <array>

#include <arpa/inet.h>

#include "sim/io/panel/access.hpp"
#include "sim/io/panel/panel_limits.hpp"

namespace emberline::io {

std::string network_of(const std::string& address) {
  in6_addr bits{};
  auto without_zone = address.substr(0, address.find('%'));
  if (::inet_pton(AF_INET6, without_zone.c_str(), &bits) != 1 || IN6_IS_ADDR_LOOPBACK(&bits) != 0)
    return without_zone;
  std::array<char, INET6_ADDRSTRLEN> text{};
  if (IN6_IS_ADDR_V4MAPPED(&bits) != 0)
    return ::inet_ntop(AF_INET, &bits.s6_addr[12], text.data(), text.size());
  std::fill(std::begin(bits.s6_addr) + 8, std::end(bits.s6_addr), std::uint8_t{0});
  return ::inet_ntop(AF_INET6, &bits, text.data(), text.size()) + std::string("/64");
}

bool Strangers::room_for(const std::string& network, std::size_t connections) const {
  if (is_loopback(network)) return connections < kMostConnections;
  const auto there = count_.find(network);
  return connections < kMostConnections - kKeptForThisMachine &&
         (there == count_.end() || there->second < kMostStrangers);
}

void Strangers::left(const std::string& network) {
  const auto there = count_.find(network);
  if (there != count_.end() && --there->second == 0) count_.erase(there);
}

}  // namespace emberline::io

#pragma once

#include <cstddef>
#include <map>
#include <string>

namespace emberline::io {

/// Whom an address is counted under: an IPv4 address (also one written as IPv6) is itself, of IPv6 it is the
/// network of 64 bits, all of which a single machine may have ("2001:db8::/64"); "::1" is itself.
[[nodiscard]] std::string network_of(const std::string& address);

/// The connections of a panel on which nobody has shown yet that he may see it, by the network they come
/// from. They cost nothing to make; so no other machine may hold all that there are.
class Strangers {
 public:
  /// Whether one more may come from there, with so many connections there in all.
  [[nodiscard]] bool room_for(const std::string& network, std::size_t connections) const;
  void came(const std::string& network) { ++count_[network]; }
  /// Gone, or known by now.
  void left(const std::string& network);

 private:
  std::map<std::string, std::size_t> count_;
};

}  // namespace emberline::io

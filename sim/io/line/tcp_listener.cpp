#include "sim/io/line/tcp_listener.hpp"

#include <cstdint>
#include <string>
#include <utility>

namespace emberline::io {
namespace {

using boost::asio::ip::tcp;
using boost::system::error_code;

Failure<std::string> cannot_listen(const std::string& where, const error_code& error) {
  std::string why = error.message();
  if (error == boost::asio::error::address_in_use) {
    why = "the port is in use; expected a free one, or 0 to have one chosen";
  } else if (error == boost::asio::error::access_denied) {
    why += "; ports below 1024 need a privilege";
  }
  return Failure{"cannot listen on " + where + ": " + why};
}

}  // namespace

std::string name_of(const tcp::endpoint& endpoint) {
  const std::string address = endpoint.address().to_string();
  return (endpoint.address().is_v6() ? "[" + address + "]" : address) + ":" + std::to_string(endpoint.port());
}

Result<tcp::endpoint, std::string> find_endpoint(boost::asio::io_context& context, const std::string& host,
                                                 std::uint16_t port) {
  error_code error;
  tcp::resolver resolver(context);
  const auto found = resolver.resolve(host, std::to_string(port), tcp::resolver::passive, error);
  if (error || found.empty()) {
    return Failure{"cannot listen on " + host + ":" + std::to_string(port) +
                   ": no address of that name; expected one of this machine"};
  }
  return tcp::endpoint(*found.begin());
}

Result<tcp::acceptor, std::string> listen_at(boost::asio::io_context& context,
                                             const tcp::endpoint& endpoint) {
  error_code error;
  tcp::acceptor acceptor(context);
  acceptor.open(endpoint.protocol(), error);
  // Connections of before may still be there when the port is opened again. A port of the system's choosing
  // is told so when it has been chosen: two that choose at once could be given the same one else.
  const tcp::acceptor::reuse_address again(true);
  if (!error && endpoint.port() != 0) acceptor.set_option(again, error);
  if (!error) acceptor.bind(endpoint, error);
  if (!error && endpoint.port() == 0) acceptor.set_option(again, error);
  if (!error) {
    acceptor.listen(boost::asio::socket_base::max_listen_connections, error);
  }
  if (!error) {
    acceptor.non_blocking(true, error);
  }
  if (error) {
    return cannot_listen(name_of(endpoint), error);
  }
  return acceptor;
}

}  // namespace emberline::io

#pragma once

#include <cstdint>
#include <string>

#include <boost/asio/io_context.hpp>
#include <boost/asio/ip/tcp.hpp>

#include "sim/base/result.hpp"

namespace emberline::io {

/// As in "192.0.2.7:502" and "[2001:db8::7]:502".
[[nodiscard]] std::string name_of(const boost::asio::ip::tcp::endpoint& endpoint);

/// The address a host's name and a port stand for. The error is one line.
[[nodiscard]] Result<boost::asio::ip::tcp::endpoint, std::string> find_endpoint(
    boost::asio::io_context& context, const std::string& host, std::uint16_t port);

/// Listens there, without ever blocking. The error is one line: where, what the system said, what was
/// expected.
[[nodiscard]] Result<boost::asio::ip::tcp::acceptor, std::string> listen_at(
    boost::asio::io_context& context, const boost::asio::ip::tcp::endpoint& endpoint);

}  // namespace emberline::io

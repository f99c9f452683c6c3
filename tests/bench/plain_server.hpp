#pragma once

namespace emberline::speed {

/// The yardstick: a slave as libmodbus' own functions make it, one thread that waits in select() over all
/// connections and answers with modbus_receive and modbus_reply from a flat array. Nothing lives behind its
/// registers. Never returns.
[[noreturn]] void serve_plainly(int listener);

/// The floor: waits in epoll, takes what has come with one recv() and gives a canned answer to each request
/// in it (03 of kRead registers, 06), all in one send(). It looks at nothing but the function code and copies
/// nothing but the transaction id. Never returns.
[[noreturn]] void serve_canned(int listener);

}  // namespace emberline::speed

#include "sim/io/master/socket_pair.hpp"

#include <sys/select.h>
#include <sys/socket.h>
#include <unistd.h>

namespace emberline::io {

void FileDescriptor::close() {
  if (number_ >= 0) ::close(std::exchange(number_, -1));
}

SocketPair make_socket_pair() {
  int ends[2] = {-1, -1};
  if (::socketpair(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0, ends) != 0) return {};
  SocketPair pair{FileDescriptor{ends[0]}, FileDescriptor{ends[1]}};
  if (pair.theirs.number() >= FD_SETSIZE) return {};
  return pair;
}

}  // namespace emberline::io

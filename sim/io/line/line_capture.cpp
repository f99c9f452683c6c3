#include "sim/io/line/line_capture.hpp"

namespace emberline::io {

Ending ending_of(bench::SessionEnd end) {
  switch (end) {
    case bench::SessionEnd::by_master:
      return Ending::by_master;
    case bench::SessionEnd::by_bench:
      return Ending::by_bench;
    case bench::SessionEnd::reset_by_bench:
      return Ending::reset_by_bench;
  }
  return Ending::by_master;
}

LineCapture::LineCapture(bench::Bench& bench, Capture& capture) : bench_(bench), capture_(capture) {
  bench_.lines().add_observer(*this);
}

LineCapture::~LineCapture() { bench_.lines().remove_observer(*this); }

void LineCapture::session_began(const bench::SessionSeen& session) {
  capture_.connection_opened(session.line, session.session, session.at);
}

void LineCapture::session_ended(const bench::SessionSeen& session) {
  capture_.connection_closed(session.line, session.session, session.at, ending_of(session.end));
}

void LineCapture::bytes(const bench::BytesSeen& bytes) {
  capture_.bytes(bytes.line, bytes.session, bytes.to_master, bytes.bytes, bytes.at);
}

}  // namespace emberline::io

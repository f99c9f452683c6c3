#include "sim/io/line/line_capture.hpp"

namespace emberline::io {

LineCapture::LineCapture(bench::Bench& bench, Capture& capture) : bench_(bench), capture_(capture) {
  bench_.lines().add_observer(*this);
}

LineCapture::~LineCapture() { bench_.lines().remove_observer(*this); }

void LineCapture::session_began(const bench::SessionSeen& session) {
  capture_.connection_opened(session.line, session.session, session.at);
}

void LineCapture::session_ended(const bench::SessionSeen& session) {
  capture_.connection_closed(session.line, session.session, session.at);
}

void LineCapture::bytes(const bench::BytesSeen& bytes) {
  capture_.bytes(bytes.line, bytes.session, bytes.to_master, bytes.bytes, bytes.at);
}

}  // namespace emberline::io

#include "sim/io/panel/site.hpp"

namespace emberline::io {

PanelReply::~PanelReply() {
  if (give_)
    give_({.status = 503, .body = R"({"error":"there is no bench at the moment; try again in a second"})"});
}

}  // namespace emberline::io

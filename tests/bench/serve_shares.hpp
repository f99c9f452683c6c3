#pragma once

#include <string>
#include <vector>

namespace emberline::speed {

/// What `emberline serve` does with one bench, without hands and panel, for several bench files as one bench
/// on one clock: for more units than a file may hold. Writes the ready file when all lines answer; serves
/// until it is killed.
int serve_shares(const std::string& ready_file, const std::vector<std::string>& shares);

}  // namespace emberline::speed

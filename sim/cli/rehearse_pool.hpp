#pragma once

#include <cstddef>
#include <functional>

namespace emberline::cli {

/// Calls `run(job, worker)` for the jobs 0 to count - 1 in up to `workers` threads, each job once, begun in
/// the order of their numbers. `done(job)` is called on the calling thread in that order too, as soon as that
/// job and all before it have run. Returns when all have. What `run` throws ends it: no further job begins,
/// and it is thrown again here.
void run_pool(std::size_t count, std::size_t workers,
              const std::function<void(std::size_t job, std::size_t worker)>& run,
              const std::function<void(std::size_t job)>& done);

}  // namespace emberline::cli

// SPDX-License-Identifier: Apache-2.0
// Independent pieces of work on all cores.
#pragma once

#include <atomic>
#include <cstddef>
#include <exception>
#include <thread>
#include <vector>

namespace base {

/// Calls `work(i)` for every i below `count`, as many at a time as the machine has cores,
/// or `at_a_time` where that is given. Pieces
/// must not touch each other's data; then the result does not depend on which ran when. The first
/// exception, by i, is thrown when all have ended. Where no more threads can be had, fewer do it.
template <class Work>
void side_by_side(std::size_t count, const Work& work, std::size_t at_a_time = 0) {
  std::atomic<std::size_t> next = 0;
  std::vector<std::exception_ptr> failed(count);
  const auto take = [&] {
    for (std::size_t i = next++; i < count; i = next++) {
      try {
        work(i);
      } catch (...) {
        failed[i] = std::current_exception();
      }
    }
  };
  const std::size_t cores = at_a_time > 0 ? at_a_time : std::thread::hardware_concurrency();
  std::vector<std::thread> others;
  try {
    for (std::size_t t = 1; t < cores && t < count; ++t) others.emplace_back(take);
  } catch (const std::exception&) {  // no thread or no memory for one more: fewer do the work
  }
  take();
  for (std::thread& t : others) t.join();
  for (const std::exception_ptr& f : failed)
    if (f) std::rethrow_exception(f);
}

}  // namespace base

// SPDX-License-Identifier: Apache-2.0
// Long work, off the way of requests: one at a time, with progress, and it can be stopped.
#pragma once

#include <atomic>
#include <condition_variable>
#include <deque>
#include <functional>
#include <map>
#include <memory>
#include <mutex>
#include <string>
#include <thread>

#include "base/json.hpp"

namespace server {

class Jobs {
 public:
  /// Told now and then what share is done; answers whether to go on.
  using KeepGoing = std::function<bool(double)>;
  using Work = std::function<base::Json(const KeepGoing&)>;

  explicit Jobs(std::function<void(const base::Json&)> on_event);
  ~Jobs();
  Jobs(const Jobs&) = delete;
  Jobs& operator=(const Jobs&) = delete;

  static constexpr std::size_t most_waiting = 8, most_kept = 32;

  /// Its number; nothing where too many wait.
  std::string start(const std::string& kind, Work work);
  /// {"id", "kind", "state": "waiting" | "running" | "done" | "stopped" | "failed", "progress",
  /// "result", "why"}; null where there is none of that number.
  [[nodiscard]] base::Json show(const std::string& id) const;
  void stop(const std::string& id);

 private:
  struct Job {
    std::string id, kind, state = "waiting", why;
    std::atomic<double> progress = 0.0;
    std::atomic<bool> stopped = false;
    base::Json result;
    Work work;
  };
  void work_for_ever();

  std::function<void(const base::Json&)> on_event_;
  mutable std::mutex mutex_;
  std::condition_variable changed_;
  std::map<std::string, std::shared_ptr<Job>> jobs_;
  std::deque<std::shared_ptr<Job>> waiting_, kept_;
  unsigned next_ = 1;
  bool ending_ = false;
  std::thread worker_;
};

}  // namespace server

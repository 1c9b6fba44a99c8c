// SPDX-License-Identifier: Apache-2.0
#include "server/jobs.hpp"

#include <algorithm>
#include <cmath>
#include <exception>

namespace server {

using base::Json;

Jobs::Jobs(std::function<void(const Json&)> on_event) : on_event_(std::move(on_event)) {
  worker_ = std::thread([this] { work_for_ever(); });
}

Jobs::~Jobs() {
  {
    const std::lock_guard lock(mutex_);
    ending_ = true;
    for (auto& [id, job] : jobs_) job->stopped = true;
  }
  changed_.notify_all();
  worker_.join();
}

std::string Jobs::start(const std::string& kind, Work work) {
  const std::lock_guard lock(mutex_);
  if (waiting_.size() >= most_waiting) return "";
  auto job = std::make_shared<Job>();
  job->id = std::to_string(next_++);
  job->kind = kind;
  job->work = std::move(work);
  jobs_[job->id] = job;
  waiting_.push_back(job);
  kept_.push_back(job);
  if (kept_.size() > most_kept) {
    const auto oldest = std::find_if(kept_.begin(), kept_.end(), [](const auto& j) {
      return j->state != "waiting" && j->state != "running";
    });
    if (oldest != kept_.end()) jobs_.erase((*oldest)->id), kept_.erase(oldest);
  }
  changed_.notify_all();
  return job->id;
}

Json Jobs::show(const std::string& id) const {
  const std::lock_guard lock(mutex_);
  const auto found = jobs_.find(id);
  if (found == jobs_.end()) return nullptr;
  const Job& job = *found->second;
  return {{"id", job.id},         {"kind", job.kind},
          {"state", job.state},   {"progress", job.progress.load()},
          {"result", job.result}, {"why", job.why}};
}

void Jobs::stop(const std::string& id) {
  const std::lock_guard lock(mutex_);
  const auto found = jobs_.find(id);
  if (found == jobs_.end()) return;
  found->second->stopped = true;
  if (found->second->state == "waiting") {
    found->second->state = "stopped";
    std::erase(waiting_, found->second);
  }
}

void Jobs::work_for_ever() {
  for (;;) {
    std::shared_ptr<Job> job;
    {
      std::unique_lock lock(mutex_);
      changed_.wait(lock, [&] { return ending_ || !waiting_.empty(); });
      if (ending_) return;
      job = waiting_.front();
      waiting_.pop_front();
      job->state = "running";
    }
    const auto tell = [&] {
      on_event_({{"job", job->id}, {"state", job->state}, {"progress", job->progress.load()}});
    };
    std::atomic<int> told = 0;
    const KeepGoing keep_going = [&](double share) {
      job->progress = std::clamp(share, 0.0, 1.0);
      const int twentieth = static_cast<int>(std::floor(share * 20.0));
      int before = told.load();
      if (twentieth > before && told.compare_exchange_strong(before, twentieth))
        on_event_({{"job", job->id}, {"state", "running"}, {"progress", job->progress.load()}});
      return !job->stopped;
    };
    Json result;
    std::string state = "done", why;
    try {
      result = job->work(keep_going);
      if (job->stopped) state = "stopped", result = nullptr;
    } catch (const std::exception& e) {
      state = "failed", why = e.what();
    }
    {
      const std::lock_guard lock(mutex_);
      job->result = std::move(result);
      job->why = why;
      job->state = state;
      job->progress = state == "done" ? 1.0 : job->progress.load();
      job->work = nullptr;
    }
    tell();
  }
}

}  // namespace server

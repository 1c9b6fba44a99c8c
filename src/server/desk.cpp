// SPDX-License-Identifier: Apache-2.0
#include "server/desk.hpp"

#include <chrono>

#include <fmt/format.h>

#include "base/input_error.hpp"
#include "works/worklist.hpp"

namespace server {

using base::InputError;
using project::Project;

Desk::Desk(std::filesystem::path file, const std::string& held_by,
           std::function<void(const base::Json&)> on_event)
    : file_(std::move(file)), on_event_(std::move(on_event)) {
  in_use_.emplace(file_, held_by);
  if (std::filesystem::exists(file_)) {
    project_ = std::make_shared<const Project>(store::read_project(file_));
    stamp_ = store::stamp_of(file_);
    revision_ = 1;
  }
  planner_ = std::thread([this] { plan_for_ever(); });
}

Desk::~Desk() {
  {
    const std::lock_guard lock(mutex_);
    ending_ = true;
  }
  changed_.notify_all();
  planner_.join();
}

bool Desk::begun() const {
  const std::lock_guard lock(mutex_);
  return project_ != nullptr;
}

void Desk::begin(Project project) {
  const std::lock_guard writing(writing_);
  if (begun())
    throw InputError({file_.string(), 0, 0}, "a project that has begun", "an empty page",
                     "go on with it, or start Packhouse with another file name");
  store::write_project(project, file_);
  stamp_ = store::stamp_of(file_);
  put(std::make_shared<const Project>(std::move(project)));
}

Desk::State Desk::state() const {
  const std::lock_guard lock(mutex_);
  return {revision_, planned_.revision, project_, done_.empty() ? "" : done_.back().words,
          undone_.empty() ? "" : undone_.back().words};
}

/// Another program wrote the file (the command `sign`, a copy put back): its project is taken, and
/// what could be undone here speaks of another one.
void Desk::take_in_what_others_wrote() {
  if (store::stamp_of(file_) == stamp_) return;
  auto theirs = std::make_shared<const Project>(store::read_project(file_));
  stamp_ = store::stamp_of(file_);
  {
    const std::lock_guard lock(mutex_);
    if (*theirs == *project_) return;
    done_.clear(), undone_.clear();
  }
  put(std::move(theirs));
}

/// Now and then, so that the page shows it before somebody edits. Whatever is wrong with the file
/// will be said at the next edit.
void Desk::look_at_the_file() {
  const std::unique_lock writing(writing_, std::try_to_lock);
  if (!writing.owns_lock() || !begun()) return;
  try {
    take_in_what_others_wrote();
  } catch (const std::exception&) {
    return;
  }
}

std::uint64_t Desk::put(std::shared_ptr<const Project> after) {
  std::uint64_t revision = 0;
  {
    const std::lock_guard lock(mutex_);
    project_ = std::move(after);
    revision = ++revision_;
  }
  changed_.notify_all();
  tell({{"revision", revision}});
  return revision;
}

std::uint64_t Desk::change(const std::function<std::vector<project::Change>(const Project&)>& make,
                           const std::string& words, const std::string& key) {
  const std::lock_guard writing(writing_);
  if (!key.empty())
    if (const auto made = keys_.find(key); made != keys_.end()) return made->second;
  take_in_what_others_wrote();
  const auto before = state().project;
  std::vector<project::Change> changes = make(*before);
  auto after = std::make_shared<const Project>(project::with_changes(*before, changes));
  // A table that cannot be read would leave no plan at all: it is tried before it is kept.
  for (const project::Change& c : changes)
    if (c.place.kind == project::Place::Kind::series) {
      (void)what_if(*after);
      break;
    }
  store::update_project(*before, *after, file_);
  stamp_ = store::stamp_of(file_);
  {
    const std::lock_guard lock(mutex_);
    done_.push_back({std::move(changes), words});
    if (done_.size() > 500) done_.erase(done_.begin());
    undone_.clear();
  }
  const std::uint64_t revision = put(std::move(after));
  if (!key.empty()) {
    if (keys_.size() > 5000) keys_.clear();
    keys_[key] = revision;
  }
  return revision;
}

/// The last step of one stack is made or taken back, and goes onto the other.
std::uint64_t Desk::step(std::vector<Step>& from, std::vector<Step>& to, bool back,
                         const InputError& nothing) {
  const std::lock_guard writing(writing_);
  take_in_what_others_wrote();
  if (from.empty()) throw nothing;
  const auto before = state().project;
  auto changes = project::inverse(from.back().changes);
  if (!back) changes = project::inverse(std::move(changes));
  auto after = std::make_shared<const Project>(project::with_changes(*before, changes));
  store::update_project(*before, *after, file_);
  stamp_ = store::stamp_of(file_);
  {
    const std::lock_guard lock(mutex_);
    to.push_back(std::move(from.back()));
    from.pop_back();
  }
  return put(std::move(after));
}

std::uint64_t Desk::undo() {
  return step(done_, undone_, true,
              InputError({"undo", 0, 0}, "nothing to take back", "an edit made since the start",
                         "older states are in your backups"));
}

std::uint64_t Desk::redo() {
  return step(undone_, done_, false,
              InputError({"redo", 0, 0}, "nothing to make again", "an edit that was taken back",
                         "make the edit anew"));
}

std::uint64_t Desk::sign(const project::Signature& signature) {
  const Planned now = planned();
  const std::lock_guard writing(writing_);
  take_in_what_others_wrote();
  const auto before = state().project;
  if (!now.plan) throw InputError({"sign", 0, 0}, now.why, "a plan", "mend what it says first");
  Project after = *before;
  works::sign(after, *now.plan, signature);
  store::update_project(*before, after, file_);
  stamp_ = store::stamp_of(file_);
  return put(std::make_shared<const Project>(std::move(after)));
}

void Desk::when_planned(std::uint64_t revision, std::function<void(const Planned&)> then) {
  Planned now;
  {
    const std::lock_guard lock(mutex_);
    if (planned_.revision < revision || planned_.revision == 0) {
      waiting_.emplace_back(revision, std::move(then));
      return;
    }
    now = planned_;
  }
  then(now);
}

Planned Desk::planned() {
  std::unique_lock lock(mutex_);
  changed_.wait(lock, [&] { return ending_ || planned_.revision == revision_; });
  return planned_;
}

works::Plan Desk::what_if(const Project& project) {
  const std::lock_guard lock(trying_);
  return works::plan(project, tried_);
}

void Desk::plan_for_ever() {
  works::Recall recall;
  for (;;) {
    Planned next;
    {
      std::unique_lock lock(mutex_);
      const auto due = [&] { return ending_ || (project_ && planned_.revision != revision_); };
      while (!changed_.wait_for(lock, std::chrono::seconds(2), due)) {
        lock.unlock();
        look_at_the_file();
        lock.lock();
      }
      if (ending_) return;
      next.revision = revision_;
      next.project = project_;
    }
    try {
      next.plan = std::make_shared<const works::Plan>(works::plan(*next.project, recall));
    } catch (const InputError& e) {
      next.why = e.what();
    } catch (const std::exception& e) {
      fmt::print(stderr, "packhouse: planning: {}\n", e.what());
      next.why = "A fault of Packhouse's own; the terminal says more.";
    }
    std::vector<std::function<void(const Planned&)>> ready;
    {
      const std::lock_guard lock(mutex_);
      planned_ = next;
      std::erase_if(waiting_, [&](auto& w) {
        if (w.first > next.revision) return false;
        ready.push_back(std::move(w.second));
        return true;
      });
    }
    changed_.notify_all();
    for (const auto& then : ready) then(next);
    tell({{"planned", next.revision}});
  }
}

}  // namespace server

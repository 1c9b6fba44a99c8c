// SPDX-License-Identifier: Apache-2.0
#include "server/desk.hpp"

#include <chrono>

#include <fmt/format.h>

#include "base/input_error.hpp"
#include "store/backup.hpp"
#include "store/try_tables.hpp"
#include "works/worklist.hpp"

namespace server {

using base::InputError;
using project::Project;

Desk::Desk(std::filesystem::path file, const std::string& held_by,
           std::function<void(const base::Json&)> on_event, std::function<std::int64_t()> now_s)
    : file_(std::move(file)), on_event_(std::move(on_event)), now_s_(std::move(now_s)) {
  in_use_.emplace(file_, held_by);
  file_ = in_use_->file();
  store::clear_leftovers(file_);
  if (std::filesystem::exists(file_)) {
    (void)store::upgrade_project(file_);
    project_ = std::make_shared<const Project>(store::read_project(file_));
    stamp_ = store::stamp_of(file_);
    read_requests();
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
  in_use_->hold_the_file_itself();
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
  std::error_code none;
  if (!std::filesystem::exists(file_, none))
    throw InputError({file_.string(), 0, 0}, "no file there any more: it was moved or removed",
                     "the project where it was opened",
                     "put it back; or take a copy of the whole project here, and open that");
  auto theirs = std::make_shared<const Project>(store::read_project(file_));
  in_use_->hold_the_file_itself();
  (void)store::upgrade_project(file_);
  stamp_ = store::stamp_of(file_);
  read_requests();
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

void Desk::read_requests() {
  std::map<std::string, Made> made;
  for (const store::Request& r : store::requests_of(file_)) {
    const auto known = made_.find(r.key);
    made[r.key] = {r.sha256, known == made_.end() ? 0 : known->second.revision};
  }
  made_ = std::move(made);
}

std::optional<std::uint64_t> Desk::made_before(const Sent& sent) const {
  if (sent.key.empty()) return std::nullopt;
  const auto made = made_.find(sent.key);
  if (made == made_.end()) return std::nullopt;
  if (made->second.sha256 != sent.sha256) throw KeyUsed();
  return made->second.revision != 0 ? made->second.revision : state().revision;
}

bool Desk::was_made(const Sent& sent) {
  const std::lock_guard writing(writing_);
  return made_before(sent).has_value();
}

std::uint64_t Desk::keep(const Project& before, std::shared_ptr<const Project> after,
                         const Sent& sent, const std::function<void()>& with_it) {
  const store::Request request{sent.key, sent.sha256};
  store::update_project(before, *after, file_, sent.key.empty() ? nullptr : &request, stamp_);
  stamp_ = store::stamp_of(file_);
  {
    const std::lock_guard lock(mutex_);
    with_it();
  }
  const std::uint64_t revision = put(std::move(after));
  if (!sent.key.empty()) made_[sent.key] = {sent.sha256, revision};
  return revision;
}

/// Once a day, and before many things change at once. A copy that cannot be made is said; it keeps
/// nobody from going on.
void Desk::back_up(bool bulk) {
  if (!now_s_) return;
  try {
    if (bulk)
      (void)store::back_up(file_, store::backup_folder(file_), now_s_());
    else
      (void)store::back_up_daily(file_, now_s_());
  } catch (const InputError& e) {
    fmt::print(stderr, "packhouse: a backup could not be made\n{}\n", e.what());
  }
}

std::uint64_t Desk::change(const std::function<std::vector<project::Change>(const Project&)>& make,
                           const std::string& words, const Sent& sent) {
  constexpr std::size_t bulk = 20;
  const std::lock_guard writing(writing_);
  if (const auto made = made_before(sent)) return *made;
  take_in_what_others_wrote();
  const auto before = state().project;
  std::vector<project::Change> changes = make(*before);
  auto after = std::make_shared<const Project>(project::with_changes(*before, changes));
  // A table that cannot be read would leave no plan at all: it is tried before it is kept.
  for (const project::Change& c : changes)
    if (c.place.kind == project::Place::Kind::series) {
      store::try_every_table(*after);
      (void)what_if(*after);
      break;
    }
  back_up(changes.size() >= bulk);
  return keep(*before, std::move(after), sent, [&] {
    done_.push_back({std::move(changes), words});
    if (done_.size() > 500) done_.erase(done_.begin());
    undone_.clear();
  });
}

/// The last step of one stack is made or taken back, and goes onto the other.
std::uint64_t Desk::step(std::vector<Step>& from, std::vector<Step>& to, bool back,
                         const InputError& nothing, const Sent& sent) {
  const std::lock_guard writing(writing_);
  if (const auto made = made_before(sent)) return *made;
  take_in_what_others_wrote();
  if (from.empty()) throw nothing;
  const auto before = state().project;
  auto changes = project::inverse(from.back().changes);
  if (!back) changes = project::inverse(std::move(changes));
  auto after = std::make_shared<const Project>(project::with_changes(*before, changes));
  back_up(false);
  return keep(*before, std::move(after), sent, [&] {
    to.push_back(std::move(from.back()));
    from.pop_back();
  });
}

std::uint64_t Desk::undo(const Sent& sent) {
  return step(done_, undone_, true,
              InputError({"undo", 0, 0}, "nothing to take back", "an edit made since the start",
                         "older states are in your backups: packhouse restore FILE --list"),
              sent);
}

std::uint64_t Desk::redo(const Sent& sent) {
  return step(undone_, done_, false,
              InputError({"redo", 0, 0}, "nothing to make again", "an edit that was taken back",
                         "make the edit anew"),
              sent);
}

std::uint64_t Desk::sign(const project::Signature& signature, const Sent& sent) {
  const Planned now = planned();
  const std::lock_guard writing(writing_);
  if (const auto made = made_before(sent)) return *made;
  take_in_what_others_wrote();
  const auto before = state().project;
  if (!now.plan) throw InputError({"sign", 0, 0}, now.why, "a plan", "mend what it says first");
  auto after = std::make_shared<Project>(*before);
  // What was changed since that plan may hold the step, or free it.
  if (now.project == before)
    works::sign(*after, *now.plan, signature);
  else
    works::sign(*after, what_if(*before), signature);
  back_up(false);
  return keep(*before, std::move(after), sent, [] {});
}

void Desk::copy_to(const std::filesystem::path& copy) {
  const std::lock_guard writing(writing_);
  if (store::stamp_of(file_).node == stamp_.node && stamp_.node != 0)
    store::copy_project(file_, copy);
  else
    store::write_project(*state().project, copy);
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

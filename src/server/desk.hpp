// SPDX-License-Identifier: Apache-2.0
// The project that lies open: edits that are on disk before they are answered, undo and redo, and a
// plan that follows in the background.
#pragma once

#include <condition_variable>
#include <cstdint>
#include <filesystem>
#include <functional>
#include <map>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <thread>
#include <vector>

#include "base/input_error.hpp"
#include "project/edit.hpp"
#include "store/in_use.hpp"
#include "store/project_file.hpp"
#include "works/recall.hpp"

namespace server {

/// A project and what was worked out from it; both never change.
struct Planned {
  std::uint64_t revision = 0;
  std::shared_ptr<const project::Project> project;
  std::shared_ptr<const works::Plan> plan;  ///< null: it cannot be planned, `why` says it
  std::string why;
};

class Desk {
 public:
  /// Opens FILE, or waits for begin() where it is not there yet. `held_by` is said to others who
  /// want to write it. `on_event` is called from any thread.
  Desk(std::filesystem::path file, const std::string& held_by,
       std::function<void(const base::Json&)> on_event);
  ~Desk();
  Desk(const Desk&) = delete;
  Desk& operator=(const Desk&) = delete;

  [[nodiscard]] bool begun() const;
  /// Writes the first project of this file. Throws InputError where there is one already.
  void begin(project::Project project);

  struct State {
    std::uint64_t revision = 0, planned = 0;
    std::shared_ptr<const project::Project> project;
    std::string undo, redo;  ///< what would be taken back, made again, in words; empty: nothing
  };
  [[nodiscard]] State state() const;
  [[nodiscard]] const std::filesystem::path& file() const { return file_; }

  /// Makes the changes, on disk on return; the new revision. `words` name them in undo. The same
  /// `key` (of a page that sends again after a lost answer) makes them once. Throws Conflict,
  /// InputError.
  std::uint64_t change(
      const std::function<std::vector<project::Change>(const project::Project&)>& make,
      const std::string& words, const std::string& key = {});
  std::uint64_t undo();
  std::uint64_t redo();
  /// What was signed stays: no undo.
  std::uint64_t sign(const project::Signature& signature);

  /// Calls back, from the planning thread or at once, with the plan of that revision or a later
  /// one.
  void when_planned(std::uint64_t revision, std::function<void(const Planned&)> then);
  /// The latest plan; waits for the first one.
  [[nodiscard]] Planned planned();
  /// The plan of a project that is not kept.
  [[nodiscard]] works::Plan what_if(const project::Project& project);

 private:
  struct Step {
    std::vector<project::Change> changes;
    std::string words;
  };
  void take_in_what_others_wrote();
  void look_at_the_file();
  std::uint64_t step(std::vector<Step>& from, std::vector<Step>& to, bool back,
                     const base::InputError& nothing);
  std::uint64_t put(std::shared_ptr<const project::Project> after);
  void plan_for_ever();
  void tell(const base::Json& event) const { on_event_(event); }

  std::filesystem::path file_;
  std::function<void(const base::Json&)> on_event_;
  std::optional<store::InUse> in_use_;

  std::mutex writing_;  ///< one edit at a time, disk included
  mutable std::mutex mutex_;
  std::condition_variable changed_;
  std::shared_ptr<const project::Project> project_;
  std::uint64_t revision_ = 0;
  store::Stamp stamp_;
  std::vector<Step> done_, undone_;
  std::map<std::string, std::uint64_t> keys_;  ///< of edits that were made
  Planned planned_;
  std::vector<std::pair<std::uint64_t, std::function<void(const Planned&)>>> waiting_;
  bool ending_ = false;

  std::mutex trying_;
  works::Recall tried_;
  std::thread planner_;
};

}  // namespace server

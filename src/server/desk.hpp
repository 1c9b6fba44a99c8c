// SPDX-License-Identifier: Apache-2.0
// The project that lies open: edits that are on disk before they are answered, undo and redo, and a
// plan that follows in the background.
#pragma once

#include <condition_variable>
#include <cstdint>
#include <exception>
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

/// A key came again with something else behind it.
class KeyUsed : public std::exception {
 public:
  [[nodiscard]] const char* what() const noexcept override {
    return "this key came before with another content";
  }
};

class Desk {
 public:
  /// Opens FILE, or waits for begin() where it is not there yet. `held_by` is said to others who
  /// want to write it. `on_event` is called from any thread.
  /// `now_s`: seconds since 1970, for the names of backups; without it none are made by themselves.
  Desk(std::filesystem::path file, const std::string& held_by,
       std::function<void(const base::Json&)> on_event, std::function<std::int64_t()> now_s = {});
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

  /// What a page sends with a change, so that one sent again after a lost answer is made once, even
  /// where this program ended in between. Without a key: made each time it comes.
  struct Sent {
    std::string key;
    std::string sha256;  ///< of what came with it: the same key with something else is refused
    Sent(std::string k = {}, std::string hash = {}) : key(std::move(k)), sha256(std::move(hash)) {}
    Sent(const char* k) : key(k) {}
  };
  /// Makes the changes, on disk on return; the new revision. `words` name them in undo. Throws
  /// Conflict, KeyUsed, InputError.
  std::uint64_t change(
      const std::function<std::vector<project::Change>(const project::Project&)>& make,
      const std::string& words, const Sent& sent = {});
  std::uint64_t undo(const Sent& sent = {});
  std::uint64_t redo(const Sent& sent = {});
  /// What was signed stays: no undo.
  std::uint64_t sign(const project::Signature& signature, const Sent& sent = {});
  /// Whether this request was made before. Throws KeyUsed.
  [[nodiscard]] bool was_made(const Sent& sent);
  /// A whole copy as a new file, also where the project's own is gone from its place.
  void copy_to(const std::filesystem::path& copy);

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
                     const base::InputError& nothing, const Sent& sent);
  /// The revision that this request made, where it came before.
  [[nodiscard]] std::optional<std::uint64_t> made_before(const Sent& sent) const;
  /// On disk, and then what everybody sees.
  std::uint64_t keep(const project::Project& before, std::shared_ptr<const project::Project> after,
                     const Sent& sent, const std::function<void()>& with_it);
  void read_requests();
  void back_up(bool bulk);
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
  struct Made {
    std::string sha256;
    std::uint64_t revision = 0;  ///< 0: in an earlier run
  };
  std::map<std::string, Made> made_;  ///< by their keys, as the file keeps them
  std::function<std::int64_t()> now_s_;
  Planned planned_;
  std::vector<std::pair<std::uint64_t, std::function<void(const Planned&)>>> waiting_;
  bool ending_ = false;

  std::mutex trying_;
  works::Recall tried_;
  std::thread planner_;
};

}  // namespace server

// SPDX-License-Identifier: Apache-2.0
// Edits: what a person changes in a project, one thing at a time, with what stood there before, so
// that it can be taken back and so that two who change one thing are told of each other.
#pragma once

#include <exception>
#include <memory>
#include <string>
#include <vector>

#include "base/json.hpp"
#include "project/project.hpp"

namespace project {

/// One place of a project.
struct Place {
  enum class Kind {
    setting,  ///< name "cell.max_V"; value a number or a text
    cell,     ///< name its label; field "mass_kg", or empty: the whole cell with its "position"
    offer,    ///< name its number from 0; the whole offer with all its fields
    log,      ///< name the file's; bytes
    series,   ///< likewise; may be said as text
    photo     ///< likewise; never as text
  } kind = Kind::setting;
  std::string name, field = {};
  friend bool operator==(const Place&, const Place&) = default;
};

/// null: nothing stands there. Files carry their bytes beside; their value is {"bytes": n}.
struct Content {
  base::Json value = nullptr;
  std::shared_ptr<const std::string> bytes = {};
  friend bool operator==(const Content& a, const Content& b) {
    return a.value == b.value &&
           (a.bytes == b.bytes || (a.bytes && b.bytes && *a.bytes == *b.bytes));
  }
};

struct Change {
  Place place;
  Content before, after;
};

/// Somebody else changed the same thing: what stands there now is not what was to be replaced.
class Conflict : public std::exception {
 public:
  Conflict(Place place, base::Json mine, base::Json theirs);
  [[nodiscard]] const char* what() const noexcept override { return text_.c_str(); }
  [[nodiscard]] const Place& place() const { return place_; }
  [[nodiscard]] const base::Json& mine() const { return mine_; }
  [[nodiscard]] const base::Json& theirs() const { return theirs_; }

 private:
  Place place_;
  base::Json mine_, theirs_;
  std::string text_;
};

/// What stands at a place. Throws InputError where the place can be none (no such setting, field or
/// cell).
[[nodiscard]] Content content_at(const Project& project, const Place& place);

/// The project with all changes made, or none. Throws Conflict where something else stands than
/// `before` says; InputError for a value that its place does not take, and whatever `check` finds.
[[nodiscard]] Project with_changes(Project project, const std::vector<Change>& changes);

/// What takes the changes back: in the other order, before and after exchanged.
[[nodiscard]] std::vector<Change> inverse(std::vector<Change> changes);

/// {"what": "setting" | "cell" | "offer" | "log" | "series" | "photo", "name", "field", "before",
/// "after"}; `before` may be left out: then whatever stands there is replaced.
[[nodiscard]] std::vector<Change> read_changes(const Project& project, const base::Json& json);
[[nodiscard]] std::string_view name(Place::Kind kind);
/// "cell C07, mass_kg", for people.
[[nodiscard]] std::string in_words(const Place& place);

/// A cell, an offer as JSON, as edits carry them.
[[nodiscard]] base::Json to_json(const Cell& cell);
[[nodiscard]] base::Json to_json(const Offer& offer);
/// Everything a person told, for the page: given settings, cells, offers, files' names and sizes,
/// signatures.
[[nodiscard]] base::Json to_json(const Project& project);

}  // namespace project

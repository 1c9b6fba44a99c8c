// SPDX-License-Identifier: Apache-2.0
// Project: everything a person told us. What was not said is not stored; the settings know their
// usual values.
#pragma once

#include <array>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "project/settings.hpp"

namespace project {

/// One cell of the lot: readings at the bench and, where there is no log, measures made elsewhere.
struct Cell {
#define CELL_TEXT(member, ...) std::string member = {};
#define CELL_NUMBER(member, ...) std::optional<double> member = {};
#include "project/fields.def"
#undef CELL_TEXT
#undef CELL_NUMBER
  friend bool operator==(const Cell&, const Cell&) = default;
};

/// A seller's offer, or the purchase that was made. What describes the cells is 0 where they are of
/// the project's own kind.
struct Offer {
#define OFFER_TEXT(member, ...) std::string member = {};
#define OFFER_NUMBER(member, ...) double member = 0.0;
#define OFFER_WHOLE(member, ...) int member = 0;
#define OFFER_FLAG(member, ...) bool member = false;
#include "project/fields.def"
#undef OFFER_TEXT
#undef OFFER_NUMBER
#undef OFFER_WHOLE
#undef OFFER_FLAG
  friend bool operator==(const Offer&, const Offer&) = default;
};

/// A file kept byte for byte: a tester's log, or the house's load, solar or prices.
struct File {
  std::string name;  ///< without a folder
  std::string bytes;
  friend bool operator==(const File&, const File&) = default;
};

/// A step of a checklist that somebody signed: its id, with "@A" behind it where it is pack A's.
struct Signature {
  std::string what, by, on;
  std::optional<double> value = {};  ///< what was read, in the step's own unit
  std::string note = {};             ///< what opened; why it was signed over
  friend bool operator==(const Signature&, const Signature&) = default;
};

struct Project : Settings {
  /// Of an older or a newer file: settings that the catalogue does not know, "table.key". Kept,
  /// shown, written back.
  std::map<std::string, Value, std::less<>> unknown;
  std::vector<Cell> cells;
  std::vector<Offer> offers;
  std::vector<File> logs;
  std::vector<File> series;  ///< load.csv, solar.csv, prices.csv
  std::vector<File> photos;  ///< of cells, by photo_name
  std::vector<Signature> signatures;
  friend bool operator==(const Project&, const Project&) = default;
};

/// Takes a setting as a file has it: a former key under its present name, an unknown one or one of
/// another kind among the unknown, a value outside its range as it stands. Never throws: a file of
/// any age opens.
void take(Project& project, const std::string& path, const Value& value);

/// The tables that a project may keep beside its settings: the house's, the testers', the wires'.
inline constexpr std::array<std::string_view, 11> series_names = {
    "load.csv",     "tariff.csv", "solar.csv",   "prices.csv", "weather.epw", "weather.csv",
    "channels.csv", "runs.csv",   "devices.csv", "joints.csv", "sense.csv"};
/// A file of the project's series by its name, or null.
[[nodiscard]] const File* series_file(const Project& project, std::string_view name);

/// The names of a cell's photos: its label, what no file name takes written as %XX, "~" and a
/// number.
[[nodiscard]] std::string photo_name(std::string_view label, int number, std::string_view ending);
/// The label that such a name speaks of; empty where it is none.
[[nodiscard]] std::string photo_label(std::string_view file_name);

/// Checks what no single value shows: required settings, limits in order, labels that repeat, file
/// names, and that every table reads. Throws InputError.
void check(const Project& project);

}  // namespace project

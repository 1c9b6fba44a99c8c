// SPDX-License-Identifier: Apache-2.0
// Project: everything a person told us. What was not said is not stored; settings() knows the
// defaults.
#pragma once

#include <array>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "bench/reference.hpp"
#include "bench/uncertainty.hpp"
#include "cell/datasheet.hpp"
#include "layout/layout.hpp"
#include "logs/read_options.hpp"
#include "money/money.hpp"

namespace works {

/// One cell of the lot: readings at the bench and, where there is no log, measures made elsewhere.
struct Cell {
  std::string label, lot;
  std::optional<double> voltage_V, ac_resistance_mOhm, mass_kg, thickness_mm;
  std::string note;
  std::optional<double> capacity_Ah, u_Ah, resistance_mOhm, leak_mA;
  std::string made;  ///< when, as printed on it or said: "2025-03"; empty: not known
  friend bool operator==(const Cell&, const Cell&) = default;
};

/// A seller's offer, or the purchase that was made.
struct Offer {
  std::string name;
  double unit_price = 0.0;
  int quantity = 0;
  double freight = 0.0, insurance = 0.0, duty_percent = 0.0, vat_percent = 0.0, fees = 0.0;
  double rated_capacity_Ah = 0.0;
  bool chosen = false;
  /// Of its own kind, such as another chemistry; 0: as the project's cell and use.
  double nominal_V = 0.0, rated_cycles = 0.0, shelf_years = 0.0, round_trip_percent = 0.0,
         depth_percent = 0.0;
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

struct Project {
  using Value = std::variant<double, std::string>;
  std::map<std::string, Value, std::less<>> given;  ///< "table.key"; only what was said
  std::vector<Cell> cells;
  std::vector<Offer> offers;
  std::vector<File> logs;
  std::vector<File> series;  ///< load.csv, solar.csv, prices.csv
  std::vector<File> photos;  ///< of cells, by photo_name
  std::vector<Signature> signatures;

  /// What was said, or the default; the setting must exist and have one of the two.
  [[nodiscard]] double number(std::string_view table, std::string_view key) const;
  [[nodiscard]] std::string text(std::string_view table, std::string_view key) const;
  /// The same where neither may be there.
  [[nodiscard]] std::optional<double> maybe(std::string_view table, std::string_view key) const;
  [[nodiscard]] bool was_given(std::string_view table, std::string_view key) const;
  friend bool operator==(const Project&, const Project&) = default;
};

/// The tables that a project may keep beside its settings: the house's, the testers', the wires'.
inline constexpr std::array<std::string_view, 11> series_names = {
    "load.csv",     "tariff.csv", "solar.csv",   "prices.csv", "weather.epw", "weather.csv",
    "channels.csv", "runs.csv",   "devices.csv", "joints.csv", "sense.csv"};

/// The names of a cell's photos: its label, what no file name takes written as %XX, "~" and a
/// number.
[[nodiscard]] std::string photo_name(std::string_view label, int number, std::string_view ending);
/// The label that such a name speaks of; empty where it is none.
[[nodiscard]] std::string photo_label(std::string_view file_name);

/// Checks one value against its setting; throws InputError (without a place) that names the range.
[[nodiscard]] Project::Value checked(std::string_view table, std::string_view key,
                                     const Project::Value& value);
/// Checks what no single value shows: required settings, limits in order, labels that repeat, log
/// names.
void check(const Project& project);

// Typed views, one place where settings become quantities.
[[nodiscard]] cell::Datasheet datasheet(const Project& project);
[[nodiscard]] layout::Layout layout_of(const Project& project);
[[nodiscard]] layout::Limits limits(const Project& project);
[[nodiscard]] bench::Tester tester(const Project& project);
/// How its logs are to be read, where [logs] says so; every bad row is left out and counted. Throws
/// InputError for a column that is told wrongly.
[[nodiscard]] logs::ReadOptions read_options(const Project& project);
[[nodiscard]] bench::ReferenceConditions reference_conditions(const Project& project);
[[nodiscard]] money::Purchase purchase(const Offer& offer);

}  // namespace works

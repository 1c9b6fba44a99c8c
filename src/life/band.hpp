// SPDX-License-Identifier: Apache-2.0
// How cells will age, as a distribution: the published laws where they were fitted, and what is not
// known about them; narrowed by a bank's own record.
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "life/wear.hpp"

namespace life {

/// What is believed beforehand. Each is the builder's to change; `prior_table` says where it is
/// from. Spreads are standard deviations unless they are called ends.
struct Priors {
  double design_spread = 0.22;  ///< of the loss, between designs and makers, as a share
  double exponent_low = 0.48, exponent_high = 0.75;  ///< ends: loss goes with time to this power
  double activation_low = 17.0, activation_high = 40.0;  ///< ends, kJ/mol, of storage
  double temperature_spread_K = 2.3;  ///< of the cells' temperature about what is planned
  double field_weight = 0.30;         ///< that the bank ages as stores in the field did
  double field_rate = 2.0;            ///< points of capacity a year over eight years
  double field_spread = 0.7;          ///< of that rate
  double field_exponent_low = 0.70, field_exponent_high = 1.0;  ///< ends: beyond eight years
  double cell_spread = 0.12;  ///< of the loss among equal cells of a lot, as a share
  double wander = 0.007;      ///< of a year's capacity about any law, as a share of new
};
struct PriorRow {
  const char* key;
  const char* words;
  const char* unit;
  double value;
  const char* source;  ///< a reference, or "judgement"
};
[[nodiscard]] std::vector<PriorRow> prior_table(const Priors& priors);
/// Throws InputError where priors contradict themselves: an end above the other, a spread below
/// zero, a weight outside 0 to 1.
void check(const Priors& priors);

/// How the cells are kept and used; the same year after year.
struct Conditions {
  std::array<double, 12> cells_C = {};  ///< mean of each month
  double mean_charge = 0.5;             ///< 0…1
  double full_cycles_year = 90.0;       ///< of the capacity when new
  double depth = 0.6, c_rate = 0.2;
};

struct Interval {
  double low = 0.0, median = 0.0, high = 0.0;  ///< a tenth, a half, nine tenths lie below
};

/// One year's measured capacity of the bank.
struct CapacityRecord {
  double years = 1.0;    ///< since new
  double share = 1.0;    ///< of the capacity when new
  double spread = 0.01;  ///< standard uncertainty of that share
};

/// What a band speaks of: one mean cell, or the weakest of so many groups in series, each the mean
/// of so many cells in parallel.
struct Group {
  int series = 1, parallel = 1;
};

/// Many drawn lives of one bank, all from the same uniform numbers whatever the priors and the
/// conditions, so that a change moves the answer and not the noise. [Naumann2018] [Naumann2020]
/// [Schimpe2018] at 25 °C and 885 days, where they were fitted; the exponent of time, the
/// activation energy and the spreads of [Lam2025] and [Ma2022]; the field by judgement. A sixth of
/// the draws takes its power of time from beyond the ends, by up to half their distance on either
/// side. Outside the laws' range (below 10 or above 45 °C, above 1 C) the design's spread widens by
/// a tenth a 10 K and a tenth a C, as variances. Same answer on every machine and for any number of
/// threads.
class Band {
 public:
  Band(const Conditions& conditions, const Priors& priors, std::size_t draws = 4000,
       std::uint64_t seed = 1);
  [[nodiscard]] std::size_t draws() const { return weight_.size(); }
  /// Share of the capacity when new after so many years, of one draw; not below zero. The mean cell
  /// or the weakest group.
  [[nodiscard]] double capacity(std::size_t draw, double years, const Group& group = {}) const;
  /// The same for many years: `weakness` of the draw from `weaknesses`.
  [[nodiscard]] double capacity_at(std::size_t draw, double years, double weakness) const;
  /// By how much the loss of the weakest group exceeds the mean cell's, one factor a draw.
  [[nodiscard]] std::vector<double> weaknesses(const Group& group) const;
  /// Weighs the draws by what was measured (Bayes): normal errors, the record's spread and the
  /// wander. Where hardly a draw fits, the record's spread is widened until fifty carry the answer,
  /// and `words` says so; also where a record shows more than when new, or lies before the start.
  void update(std::span<const CapacityRecord> records, const Group& group);
  [[nodiscard]] const std::vector<std::string>& words() const { return words_; }
  /// By how much the record's spread had to be widened; 1: not at all.
  [[nodiscard]] double widened() const { return widened_; }
  [[nodiscard]] const std::vector<double>& weights() const { return weight_; }  ///< sum 1
  [[nodiscard]] Interval at(double years, const Group& group = {}) const;
  /// One interval a year from 0 to `years`.
  [[nodiscard]] std::vector<Interval> by_year(int years, const Group& group = {}) const;
  /// That the capacity is below a share after so many years.
  [[nodiscard]] double odds_below(double share, double years, const Group& group = {}) const;
  /// When it falls below a share of new, years; `furthest` where it does not before.
  [[nodiscard]] Interval years_until(double share, double furthest, const Group& group = {}) const;
  /// So many draws that stand for the weighted ones, evenly through the order in which they lie;
  /// the same for the same weights.
  [[nodiscard]] std::vector<std::size_t> pick(std::size_t count) const;

 private:
  struct Life {
    double loss;  ///< at the anchor
    double anchor_years, exponent;
    double cell;  ///< uniform, for the weakest
  };
  [[nodiscard]] double weakness(std::size_t draw, const Group& group) const;
  [[nodiscard]] Interval interval_of(std::vector<double> values) const;

  std::vector<Life> lives_;
  std::vector<double> weight_;
  double cell_spread_, wander_, widened_ = 1.0;
  std::vector<std::string> words_;
};

/// z with so much of a standard normal below it, 0 < p < 1; to 1e-12.
[[nodiscard]] double normal_quantile(double p);

}  // namespace life

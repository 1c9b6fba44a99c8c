// SPDX-License-Identifier: Apache-2.0
#include "life/band.hpp"

#include <cmath>

#include <gtest/gtest.h>

#include "base/input_error.hpp"
#include "base/small_random.hpp"
#include "base/statistics.hpp"

namespace {

using life::Band;
using life::CapacityRecord;
using life::Conditions;
using life::Interval;
using life::Priors;

/// 230 Ah cells at 18 °C, 62 % mean charge, 90 cycles a year.
Conditions shed() {
  Conditions c;
  c.cells_C.fill(18.0);
  c.mean_charge = 0.62, c.full_cycles_year = 90.0, c.depth = 0.6, c.c_rate = 0.2;
  return c;
}

// A reviewer's interval for that case, from the same evidence by other code: 10 years 77–90 (median
// 85), 20 years 59–84 (75), below 70 % within 20 years about 3 in 10; by the laboratory alone 80–90
// and 68–84.
TEST(Band, agrees_with_an_independent_one_within_three_points) {
  const Band band(shed(), {});
  const auto near = [](const Interval& i, double low, double median, double high) {
    EXPECT_NEAR(100.0 * i.low, low, 3.0);
    EXPECT_NEAR(100.0 * i.median, median, 3.0);
    EXPECT_NEAR(100.0 * i.high, high, 3.0);
  };
  near(band.at(10.0), 77.0, 85.0, 90.0);
  near(band.at(20.0), 59.0, 75.0, 84.0);
  EXPECT_NEAR(band.odds_below(0.70, 20.0), 0.30, 0.06);
  Priors laboratory;
  laboratory.field_weight = 0.0;
  const Band alone(shed(), laboratory);
  near(alone.at(10.0), 80.0, 85.0, 90.0);
  EXPECT_NEAR(100.0 * alone.at(20.0).low, 68.0, 3.5);
  EXPECT_NEAR(100.0 * alone.at(20.0).high, 84.0, 3.0);
}

TEST(Band, holds_both_laws_inside_and_widens_with_the_years) {
  const Conditions c = shed();
  const Band band(c, {});
  double last = 0.0;
  for (const double years : {2.0, 5.0, 10.0, 20.0}) {
    const Interval i = band.at(years);
    EXPECT_LT(i.low, i.median);
    EXPECT_LT(i.median, i.high);
    EXPECT_GT(i.high - i.low, last);
    last = i.high - i.low;
    for (const life::Law law : {life::Law::naumann, life::Law::schimpe}) {
      life::Wear wear(law);
      wear.add({.time = years * 365.25 * base::units::day,
                .temperature = base::Temperature::from_C(18.0),
                .mean_charge = c.mean_charge,
                .full_cycles = c.full_cycles_year * years,
                .depth = c.depth,
                .c_rate = c.c_rate});
      EXPECT_GT(1.0 - wear.loss(), i.low) << years;
      EXPECT_LT(1.0 - wear.loss(), i.high + 0.01) << years;
    }
  }
  EXPECT_EQ(band.at(0.0).low, 1.0);
}

TEST(Band, of_the_weakest_group_lies_below_the_mean_cells) {
  const Band band(shed(), {});
  EXPECT_LT(band.at(10.0, {16, 1}).median, band.at(10.0).median - 0.01);
  EXPECT_LT(band.at(10.0, {16, 1}).median, band.at(10.0, {16, 2}).median);
  EXPECT_LT(band.at(10.0, {32, 1}).median, band.at(10.0, {16, 1}).median);
  // The largest of sixteen normal spreads, on the mean: 1.766.
  double sum = 0.0;
  const auto weak = band.weaknesses({16, 1});
  for (const double w : weak) sum += std::log(w) / 0.12 / double(weak.size());
  EXPECT_NEAR(sum, -base::expected_minimum_of_normals(16), 0.01);
}

TEST(Band, widens_outside_the_laws_range) {
  Conditions cold = shed();
  cold.cells_C.fill(0.0);
  Conditions hot = shed();
  hot.cells_C.fill(55.0);
  const auto relative = [](const Conditions& c) {
    const Interval i = Band(c, {}).at(5.0);
    return std::log((1.0 - i.low) / (1.0 - i.high));
  };
  EXPECT_GT(relative(cold), relative(shed()) * 1.03);
  EXPECT_GT(relative(hot), relative(shed()) * 1.03);
}

TEST(Band, moves_with_a_slider_and_not_with_noise) {
  // The same uniform numbers: a degree more moves every draw down, and none up.
  Conditions warmer = shed();
  warmer.cells_C.fill(19.0);
  const Band a(shed(), {}), b(warmer, {});
  for (std::size_t i = 0; i < a.draws(); ++i) EXPECT_GE(a.capacity(i, 10.0), b.capacity(i, 10.0));
  EXPECT_GT(a.at(10.0).median, b.at(10.0).median);
  EXPECT_LT(a.at(10.0).median - b.at(10.0).median, 0.01);
  const Band again(shed(), {});
  EXPECT_EQ(a.at(20.0).low, again.at(20.0).low);
}

TEST(Band, narrows_with_a_record_and_says_what_is_odd_about_it) {
  Band band(shed(), {});
  const Interval before = band.at(15.0);
  const std::vector<CapacityRecord> good = {
      {1.0, 0.968, 0.008}, {2.0, 0.955, 0.008}, {3.0, 0.943, 0.008}, {4.0, 0.934, 0.008}};
  band.update(good, {});
  const Interval after = band.at(15.0);
  EXPECT_LT(after.high - after.low, 0.7 * (before.high - before.low));
  EXPECT_GT(after.median, before.median);
  EXPECT_TRUE(band.words().empty());
  band.update(std::vector<CapacityRecord>{{1.0, 1.06, 0.01}}, {});
  ASSERT_FALSE(band.words().empty());
  EXPECT_NE(band.words()[0].find("more than when new"), std::string::npos);
  band.update(std::vector<CapacityRecord>{{2.0, 0.50, 0.002}}, {});
  EXPECT_GT(band.widened(), 2.0);
  EXPECT_NE(band.words().back().find("hardly a life"), std::string::npos);
  band.update({}, {});
  EXPECT_EQ(band.at(15.0).low, before.low);
}

/// Share of 1,000 banks, each with five yearly records of 1 %, whose capacity after so many years
/// lies in the band's 80 %.
double coverage(const Priors& truth, double years) {
  constexpr std::size_t banks = 1000;
  Band band(shed(), {}, 2000), drawn(shed(), truth, banks, 77);
  base::SmallRandom random(5);
  const life::Group pack{16, 1};
  std::size_t in = 0;
  for (std::size_t k = 0; k < banks; ++k) {
    std::vector<CapacityRecord> record;
    for (int y = 1; y <= 5; ++y)
      record.push_back({double(y),
                        drawn.capacity(k, double(y), pack) + 0.01 * random.normal() +
                            truth.wander * random.normal(),
                        0.01});
    band.update(record, pack);
    const Interval i = band.at(years, pack);
    const double is = drawn.capacity(k, years, pack);
    in += is >= i.low && is <= i.high;
  }
  return double(in) / double(banks);
}

TEST(BandCoverage, of_banks_drawn_from_the_prior_is_75_to_85_percent) {
  for (const double years : {10.0, 20.0}) {
    const double in = coverage({}, years);
    EXPECT_GE(in, 0.75) << years;
    EXPECT_LE(in, 0.85) << years;
  }
}

TEST(BandCoverage, of_banks_from_outside_the_prior_is_60_percent_at_least) {
  Priors twice;
  twice.design_spread *= 2.0, twice.field_spread *= 2.0, twice.cell_spread *= 2.0;
  EXPECT_GE(coverage(twice, 15.0), 0.60);
  Priors steeper;
  steeper.exponent_low = 0.80, steeper.exponent_high = 0.90;
  EXPECT_GE(coverage(steeper, 15.0), 0.60);
}

TEST(Priors, that_contradict_themselves_are_refused) {
  Priors p;
  p.exponent_low = 0.8;
  EXPECT_THROW(life::check(p), base::InputError);
  p = {};
  p.field_weight = 1.2;
  EXPECT_THROW(life::check(p), base::InputError);
  p = {};
  p.cell_spread = -0.1;
  EXPECT_THROW(Band(shed(), p), base::InputError);
  EXPECT_EQ(life::prior_table({}).size(), 13U);
  for (const life::PriorRow& row : life::prior_table({}))
    EXPECT_GT(std::string(row.source).size(), 3U);
}

TEST(NormalQuantile, is_the_tables) {
  // Handbook values.
  EXPECT_NEAR(life::normal_quantile(0.975), 1.959963984540054, 1e-12);
  EXPECT_NEAR(life::normal_quantile(0.9), 1.281551565544600, 1e-12);
  EXPECT_NEAR(life::normal_quantile(0.001), -3.090232306167813, 1e-11);
  EXPECT_EQ(life::normal_quantile(0.5), 0.0);
}

}  // namespace

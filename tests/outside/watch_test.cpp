// SPDX-License-Identifier: Apache-2.0
// The watch's formulas and its reading of open records against published or independent figures.
#include <algorithm>
#include <stdexcept>

#include <gtest/gtest.h>

#include "tests/support/support.hpp"
#include "watch/sequential.hpp"

namespace {

// Run lengths of a one-sided cumulative sum: the ARL tables of NIST/SEMATECH e-Handbook 6.3.2.3.1
// print 930.9 at zero shift and 10.4 at one sigma for k 0.5, h 5; the others from the same chain.
TEST(CumulativeSum, runs_as_long_as_the_handbook_says) {
  EXPECT_NEAR(watch::cusum_run_length(0.5, 4.0, 0.0), 335.4, 0.4);
  EXPECT_NEAR(watch::cusum_run_length(0.5, 5.0, 0.0), 930.9, 1.0);
  EXPECT_NEAR(watch::cusum_run_length(0.5, 5.0, 1.0), 10.4, 0.05);
  EXPECT_NEAR(watch::cusum_run_length(0.25, 8.0, 0.5), 28.8, 0.1);
  EXPECT_NEAR(watch::cusum_run_length(0.5, 8.0, 3.0), 3.78, 0.01);
}

// Closed form of total least squares, worked with other software.
TEST(CapacityBetweenAnchors, minds_errors_on_both_sides) {
  const double x[] = {0.5, 0.6, 0.7, 0.4}, y[] = {114.0, 139.0, 160.0, 93.0};
  EXPECT_NEAR(watch::capacity_total_least_squares(x, y, 0.02, 1.0), 229.8544, 5e-4);
  // Where the charge is all but certain it is ordinary least squares.
  EXPECT_NEAR(watch::capacity_total_least_squares(x, y, 1e-6, 1.0), 229.8413, 5e-4);
}

TEST(FaultProbability, is_that_of_the_worked_example) {
  EXPECT_NEAR(watch::probability_outside(1.3, 0.1, 1.0, 0.25), 0.6915, 5e-5);
}

/// A bank whose shape the record has.
struct OpenRecord {
  support::Folder folder;
  std::string project;
  OpenRecord(int series, double capacity_Ah, double resistance_mOhm) {
    project = (folder / "bank.packhouse").string();
    const auto made = support::packhouse(
        "new " + project + " --name Test --capacity-Ah " + std::to_string(capacity_Ah) +
        " --resistance-mOhm " + std::to_string(resistance_mOhm) +
        " --power-W 100 --packs 1 --series " + std::to_string(series));
    EXPECT_EQ(made.code, 0) << made.err;
  }
  [[nodiscard]] support::Ran watch(const support::fs::path& record,
                                   const std::string& more = "") const {
    return support::packhouse("watch " + project + " --once '" + record.string() + "' --json " +
                              more);
  }
};

const base::Json& cell(const base::Json& answer, const std::string& label) {
  for (const base::Json& c : answer["cells"])
    if (c["label"].get<std::string>().starts_with(label)) return c;
  throw std::runtime_error("no cell " + label);
}

TEST(OpenRecords, one_charge_of_252_cells_names_the_two_that_failed_half_a_year_later) {
  const auto data = support::open_data("21-charge-252s");
  NEEDS_OPEN_DATA(data);
  const OpenRecord bank(16, 85.0, 1.5);
  const auto ran = bank.watch(data / "charge_252_30s.csv");
  ASSERT_EQ(ran.code, 0) << ran.err;
  const base::Json answer = ran.json();
  ASSERT_EQ(answer["cells"].size(), 252u);
  std::vector<std::string> noted;
  for (const base::Json& f : answer["findings"])
    if (f["id"] == "watch-cell-note") noted.push_back(f["what"].get<std::string>());
  ASSERT_EQ(noted.size(), 2u);
  for (const char* number : {"c112", "c116"}) {
    const base::Json& c = cell(answer, number);
    EXPECT_EQ(c["verdict"], "note");
    EXPECT_TRUE(c["kind"].is_null());
    EXPECT_GT(
        c["probabilities"]["drift"].get<double>() + c["probabilities"]["capacity"].get<double>(),
        0.9);
    EXPECT_EQ(c["next"]["hours"], 168.0);
    EXPECT_NE(c["sentence"].get<std::string>().find("small or leaking"), std::string::npos);
  }
  // Six kelvin colder than the rest, nothing worse.
  for (int k = 238; k <= 244; ++k)
    EXPECT_EQ(cell(answer, "c" + std::to_string(k))["verdict"], "cannot_tell") << k;
}

TEST(OpenRecords, a_record_written_on_change_is_averaged_by_holding) {
  const auto data = support::open_data("23-onchange-4s");
  NEEDS_OPEN_DATA(data);
  const OpenRecord bank(4, 10.0, 5.0);
  const auto ran = bank.watch(data / "voltage_on_change.csv");
  ASSERT_EQ(ran.code, 0) << ran.err;
  const base::Json answer = ran.json();
  EXPECT_NEAR(answer["means"]["voltage_V"].get<double>(), 13.2161, 1e-4);
}

TEST(OpenRecords, of_another_chemistry_are_refused_and_their_impossible_readings_counted) {
  const auto data = support::open_data("24-spikes-nmc-vehicle");
  NEEDS_OPEN_DATA(data);
  const OpenRecord bank(14, 150.0, 1.0);
  const auto ran = bank.watch(data / "vehicle2.csv");
  EXPECT_EQ(ran.code, 1) << ran.err;
  const base::Json answer = ran.json();
  std::size_t impossible = 0, repeated = 0;
  for (const base::Json& l : answer["rows_left_out"]) {
    if (l["why"].get<std::string>().find("no cell can") != std::string::npos)
      impossible = l["count"];
    if (l["why"] == "time repeated") repeated = l["count"];
  }
  EXPECT_EQ(impossible, 2u);
  EXPECT_EQ(repeated, 1u);
  EXPECT_EQ(answer["gaps"].size(), 196u);
  EXPECT_EQ(answer["findings"][0]["id"], "record-not-lfp");
  for (const base::Json& c : answer["cells"]) EXPECT_EQ(c["verdict"], "cannot_tell");
}

TEST(OpenRecords, a_parked_bank_has_its_gaps_named_and_no_charge_read_off_the_plateau) {
  const auto data = support::open_data("07-bank-storage-log");
  NEEDS_OPEN_DATA(data);
  const OpenRecord bank(4, 500.0, 0.5);
  const auto ran = bank.watch(data / "raw" / "bank12v_hourly_minmax.csv");
  ASSERT_EQ(ran.code, 0) << ran.err;
  const base::Json answer = ran.json();
  EXPECT_EQ(answer["rows"], 1742u);
  ASSERT_EQ(answer["gaps"].size(), 19u);
  std::size_t missing = 0;
  for (const base::Json& g : answer["gaps"]) missing += g["missing_readings"].get<std::size_t>();
  EXPECT_EQ(missing, 58u);
  EXPECT_EQ(answer["gaps"][0]["from"], "2025-10-31T11:00:00");
  EXPECT_FALSE(answer["means"].contains("state_of_charge"));
}

TEST(OpenRecords, one_discharge_at_one_current_does_not_tell_a_joint_from_a_lead) {
  const auto data = support::open_data("09-series16-built");
  NEEDS_OPEN_DATA(data);
  const OpenRecord bank(16, 1.1, 15.0);
  const auto noted = [&](const char* file) {
    const auto ran = bank.watch(data / file);
    EXPECT_EQ(ran.code, 0) << ran.err;
    std::vector<std::string> cells;
    const base::Json answer = ran.json();
    for (const base::Json& c : answer["cells"]) {
      if (c["verdict"] == "note") cells.push_back(c["label"].get<std::string>());
      EXPECT_TRUE(c["kind"].is_null());
    }
    return cells;
  };
  EXPECT_EQ(noted("A_all_cells_start_full.csv"), std::vector<std::string>{"cell05_V"});
  EXPECT_EQ(noted("B_cells_start_uneven.csv"), std::vector<std::string>{"cell11_V"});
  const auto c = noted("C_bad_joint_at_cell_6.csv");
  EXPECT_TRUE(std::find(c.begin(), c.end(), "cell06_V") != c.end());
}

}  // namespace

// SPDX-License-Identifier: Apache-2.0
// The bench and the matching on open measurement data. Reference figures were computed
// independently of Packhouse (numpy, exhaustive search) from the same files. [Aloisio2021]
// [Tao2024]
#include <gtest/gtest.h>

#include "bench/measure.hpp"
#include "logs/read_log.hpp"
#include "match/match.hpp"
#include "store/csv_table.hpp"
#include "tests/support/support.hpp"

namespace {

logs::Log log_of(const support::fs::path& path, bool leave_out = false) {
  auto result = logs::read_log(support::read(path),
                               {.columns = {}, .channel = "", .leave_out_bad_rows = leave_out});
  EXPECT_TRUE(std::holds_alternative<logs::Log>(result)) << path;
  return std::get<logs::Log>(std::move(result));
}

TEST(OpenLogs, give_the_charge_that_an_independent_integration_gives) {
  const auto data = support::open_data("01-lfp26650-lab");
  NEEDS_OPEN_DATA(data);
  struct Row {
    const char* file;
    double charged_Ah, discharged_Ah;
  };
  for (const Row& row : {Row{"cccv_1C", 2.423028, 0.0}, Row{"cccv_2C", 2.446510, 0.0},
                         Row{"cccv_3C", 2.456336, 0.0}, Row{"cccv_4C", 2.452247, 0.0},
                         Row{"udds_25C", 1.100592, 3.217908}, Row{"pulses", 15.0199, 16.2516}}) {
    const bench::Totals t = bench::totals(log_of(data / "csv" / (std::string(row.file) + ".csv")));
    EXPECT_NEAR(t.charged_Ah, row.charged_Ah, 0.001 * row.charged_Ah + 1e-5) << row.file;
    EXPECT_NEAR(t.discharged_Ah, row.discharged_Ah, 0.001 * row.discharged_Ah + 2e-5) << row.file;
  }
}

TEST(OpenLogs, read_the_same_in_ten_layouts) {
  const auto data = support::open_data("01-lfp26650-lab");
  NEEDS_OPEN_DATA(data);
  struct Row {
    const char* file;
    double net_Ah;
  };
  // L05 lost its total time and is rebuilt; L09 holds planted faults: both are compared with the
  // undamaged log.
  for (const Row& row :
       {Row{"L01_plain_comma_A.csv", -2.11731},
        Row{"L02_semicolon_decimalcomma_mA_latin1.csv", -2.11732},
        Row{"L03_tab_ms_discharge_positive.txt", -2.11718},
        Row{"L04_iso_timestamp_unsigned_state.csv", -2.11732},
        Row{"L05_steptime_resets_units_row.csv", -2.11731},
        Row{"L06_quoted_thousands_bom.csv", -2.11727}, Row{"L07_epoch_ms_scientific.tsv", -2.11731},
        Row{"L08_space_aligned_days.txt", -2.11718}, Row{"L09_dirty.csv", -2.11794},
        Row{"L10_us_ampm_local_no_ms.csv", -2.13858}}) {
    const bench::Totals t = bench::totals(log_of(data / "layouts" / row.file, true));
    EXPECT_NEAR(t.charged_Ah - t.discharged_Ah, row.net_Ah, 0.0003) << row.file;
  }
}

TEST(OpenLogs, report_the_twelve_planted_faults_and_the_gap) {
  const auto data = support::open_data("01-lfp26650-lab");
  NEEDS_OPEN_DATA(data);
  const logs::Log log = log_of(data / "layouts" / "L09_dirty.csv", true);
  EXPECT_EQ(log.rows_left_out(),
            11u);  // five sentinels, two NaN, two short rows, two written twice
  std::string said;
  for (const base::Finding& f : log.findings) said += f.id + ": " + f.what + "\n";
  EXPECT_NE(said.find("header-again: The header stands 1 more"), std::string::npos) << said;
  EXPECT_NE(said.find("row-twice: 2 rows"), std::string::npos) << said;
  EXPECT_NE(said.find("183.6 s"), std::string::npos) << said;
}

TEST(OpenLogs, show_the_resistance_that_the_pulses_show) {
  const auto data = support::open_data("01-lfp26650-lab");
  NEEDS_OPEN_DATA(data);
  // From one row to the next at 541 jumps above 5 A: median 7.607 mOhm, 10 to 90 % from 7.18
  // to 7.76.
  std::vector<double> values;
  for (const auto& s : bench::step_resistances(log_of(data / "csv" / "pulses.csv"), 0.0, 5.0))
    values.push_back(s.mOhm);
  EXPECT_NEAR(double(values.size()), 541.0, 3.0);
  std::nth_element(values.begin(), values.begin() + std::ptrdiff_t(values.size() / 2),
                   values.end());
  EXPECT_NEAR(values[values.size() / 2], 7.607, 0.02);
}

std::vector<match::Candidate> retired_cells(const support::fs::path& data) {
  std::vector<match::Candidate> cells;
  for (const works::Cell& c :
       store::read_candidates(support::read(data / "cells.csv"), "cells.csv"))
    cells.push_back({c.label, *c.capacity_Ah * base::units::Ah, 0.0, 0.0});
  return cells;
}

TEST(RetiredCells, are_matched_to_the_known_optimum_with_proof) {
  const auto data = support::open_data("02-retired-lfp-prismatic-35ah");
  NEEDS_OPEN_DATA(data);
  const auto cells = retired_cells(data);
  ASSERT_EQ(cells.size(), 56u);
  const auto pairs =
      match::assign(cells, {1, 16, 2},
                    match::Aim::even_packs);  // 61.3258 Ah by threshold search and maximum matching
  EXPECT_NEAR(pairs.smallest_pack.in(base::units::Ah), 61.3258, 1e-9);
  EXPECT_TRUE(pairs.proven_optimal);
  const auto singles =
      match::assign(cells, {1, 16, 1}, match::Aim::most_energy);  // the sixteenth best of 56
  EXPECT_NEAR(singles.bank_capacity.in(base::units::Ah), 30.9244, 1e-9);
  EXPECT_TRUE(singles.proven_optimal);
}

TEST(PlantedGroups, are_found_to_within_what_the_bound_allows) {
  const auto data = support::open_data("08-partition-bench");
  NEEDS_OPEN_DATA(data);
  // Lots made so that equal groups exist: the optimum of the smallest group is the printed sum.
  const store::CsvTable table(support::read(data / "planted_equal_groups.csv"), "planted");
  for (const auto& row : table.rows()) {
    std::vector<match::Candidate> cells;
    std::istringstream list(table.text(row, table.column({"cells_Ah"})));
    for (double c = 0.0; list >> c;)
      cells.push_back({std::to_string(cells.size()), c * base::units::Ah, 0.0, 0.0});
    const int series = static_cast<int>(*table.number(row, table.column({"groups_S"}))),
              parallel = static_cast<int>(*table.number(row, table.column({"per_group_P"})));
    const double planted = *table.number(row, table.column({"equal_group_sum_Ah"}));
    const auto a = match::assign(cells, {1, series, parallel}, match::Aim::even_packs);
    EXPECT_GE(a.upper_bound.in(base::units::Ah), planted - 1e-6)
        << table.text(row, table.column({"id"}));
    EXPECT_GE(a.smallest_pack.in(base::units::Ah), planted * 0.999)
        << table.text(row, table.column({"id"}));
    EXPECT_LE(a.smallest_pack, a.upper_bound);
  }
}

}  // namespace

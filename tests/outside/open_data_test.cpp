// SPDX-License-Identifier: Apache-2.0
// The bench and the matching on open measurement data. Reference figures were computed
// independently of Packhouse (numpy, exhaustive search) from the same files. [Aloisio2021]
// [Tao2024]
#include <gtest/gtest.h>

#include "bank/twin.hpp"
#include "base/csv_table.hpp"
#include "base/input_error.hpp"
#include "bench/measure.hpp"
#include "cell/rested_charge.hpp"
#include "logs/read_log.hpp"
#include "match/match.hpp"
#include "store/cell_table.hpp"
#include "tests/support/support.hpp"
#include "watch/verdict.hpp"

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

std::string refusal_of(const support::fs::path& path) {
  try {
    (void)logs::read_log(support::read(path));
  } catch (const base::InputError& e) {
    return e.found();
  }
  return "";
}

TEST(OpenLogs, of_a_running_bank_are_refused_in_words) {
  const auto data = support::open_data("24-spikes-nmc-vehicle");
  NEEDS_OPEN_DATA(data);
  EXPECT_NE(refusal_of(data / "vehicle2.csv").find("record of a bank"), std::string::npos);
  EXPECT_NE(refusal_of(support::open_data("23-onchange-4s") / "voltage_on_change.csv")
                .find("record of a bank"),
            std::string::npos);
  EXPECT_NE(refusal_of(support::open_data("09-series16-built") / "A_all_cells_start_full.csv")
                .find("16 cells"),
            std::string::npos);
  // One cell of another chemistry, told by where it stands.
  logs::ReadOptions one;
  one.columns = logs::named_columns({"voltage=c1_V"});
  try {
    (void)logs::read_log(support::read(data / "vehicle2.csv"), one);
    ADD_FAILURE() << "read as lithium iron phosphate";
  } catch (const base::InputError& e) {
    EXPECT_NE(e.found().find("another chemistry"), std::string::npos) << e.found();
  }
}

TEST(ChargeFromRest, holds_the_measured_cells_of_others_on_both_branches) {
  const auto lab = support::open_data("01-lfp26650-lab");
  NEEDS_OPEN_DATA(lab);
  const std::string bytes = support::read(lab / "csv" / "ocv_25C_table_5pct.csv");
  const base::CsvTable table(bytes, "ocv");
  std::size_t held = 0, points = 0;
  const auto try_one = [&](double s, double volts, cell::Before before) {
    const auto span = cell::charge_from_rest({.voltage = volts * base::units::V,
                                              .half_width = 2.0 * base::units::mV,
                                              .before = before,
                                              .rest_h = 12.0});
    ++points;
    held += span && span->low <= s + 1e-9 && s <= span->high + 1e-9;
  };
  for (const auto& row : table.rows()) {
    const double s = table.number(row, table.column({"soc"})).value();
    if (s < 0.02 || s > 0.98) continue;
    for (const auto& [column, before] : {std::pair{"v_discharge", cell::Before::discharged},
                                         std::pair{"v_charge", cell::Before::charged}})
      if (const auto volts = table.number(row, table.column({column}))) {
        try_one(s, *volts, before);
        try_one(s, *volts, cell::Before::unknown);
      }
  }
  EXPECT_GE(double(held), 0.95 * double(points)) << held << " of " << points;
  const auto other = support::open_data("04-ocv-lfp18650-c32");
  NEEDS_OPEN_DATA(other);
  const std::string curve = support::read(other / "ocv.csv");
  const base::CsvTable averaged(curve, "ocv");
  held = points = 0;
  for (const auto& row : averaged.rows())
    for (const auto before :
         {cell::Before::unknown, cell::Before::charged, cell::Before::discharged})
      try_one(averaged.number(row, averaged.column({"soc"})).value(),
              averaged.number(row, averaged.column({"ocv_V"})).value(), before);
  EXPECT_GE(double(held), 0.95 * double(points)) << held << " of " << points;
}

TEST(OpenLogs, report_the_twelve_planted_faults_and_the_gap) {
  const auto data = support::open_data("01-lfp26650-lab");
  NEEDS_OPEN_DATA(data);
  const logs::Log log = log_of(data / "layouts" / "L09_dirty.csv", true);
  EXPECT_EQ(log.rows_left_out(),
            11u);  // five sentinels, two NaN, two short rows, two written twice
  std::string said;
  for (const findings::Finding& f : log.findings)
    said += std::string(findings::word(f.id)) + ": " + f.what + "\n";
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
  for (const project::Cell& c :
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
  const base::CsvTable table(support::read(data / "planted_equal_groups.csv"), "planted");
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

/// Sixteen cells, each with its own measured curve at 4.4 A; nothing else is known of them.
bank::Setup sixteen_measured_cells(const support::fs::path& lot) {
  const std::string file = "discharge_curves_cycle10_4C_250pts.csv";
  const std::string bytes = support::read(lot / file);
  const base::CsvTable table(bytes, file);
  bank::Setup s;
  s.layout.packs = 1, s.layout.series = 16, s.layout.parallel = 1;
  s.layout.link = s.layout.joint = s.layout.pack_extra = s.layout.lead = {};
  s.rated_capacity = 1.1 * base::units::Ah;
  s.limits.bms.cell_low = s.limits.inverter.stop_per_cell = 1.0 * base::units::V;
  const std::size_t volts = table.must_have({"voltage_V"});
  for (int c = 1; c <= 16; ++c) {
    const std::size_t column =
        table.must_have({std::string("train-") + (c < 10 ? "0" : "") + std::to_string(c)});
    std::vector<std::pair<double, double>> points;  // charge given, voltage
    for (const auto& row : table.rows()) {
      const double Q = *table.number(row, column);
      if (points.empty() || Q > points.back().first + 1e-9)
        points.emplace_back(Q, *table.number(row, volts));
    }
    const double capacity = points.back().first;
    bank::OwnCurve curve;
    for (auto it = points.rbegin(); it != points.rend(); ++it) {
      curve.charge.push_back(1.0 - it->first / capacity);
      curve.volts.push_back(it->second);
    }
    cell::Model m = cell::Model::scaled(capacity * base::units::Ah);
    m.r0 = 1e-6 * base::units::mOhm, m.r1 = m.r2 = {}, m.hysteresis = {};
    s.cells.push_back(m);
    s.curve_of.push_back(c - 1);
    s.curves.push_back(std::move(curve));
    s.start_charge.push_back(1.0);
  }
  return s;
}

TEST(BuiltPack, ends_where_the_single_cells_curves_say) {
  const auto lot = support::open_data("03-lfp18650-lot124");
  const auto built = support::open_data("09-series16-built");
  NEEDS_OPEN_DATA(lot);
  NEEDS_OPEN_DATA(built);
  const base::Json cases = base::Json::parse(support::read(built / "reference.json"));
  ASSERT_EQ(cases.size(), 4u);
  for (const base::Json& one : cases) {
    bank::Setup s = sixteen_measured_cells(lot);
    for (const auto& [cell, Ah] : one["missing_charge_at_start_Ah"].items()) {
      const auto c = std::size_t(std::stoi(cell) - 1);
      s.start_charge[c] -= Ah.get<double>() / s.cells[c].capacity.in(base::units::Ah);
    }
    bank::Twin twin(s);
    twin.set_step(1.0 * base::units::s);
    // The log that was built beside it, five seconds a row.
    const std::string file = one["file"].get<std::string>();
    const std::string bytes = support::read(built / file);
    const base::CsvTable log(bytes, file);
    std::vector<std::vector<double>> off_mV(16);
    std::vector<double> current_A;
    int ended_by = -1;
    std::size_t row = 0;
    for (int second = 0; second < 1200 && ended_by < 0; ++second) {
      if (second % 5 == 0 && row < log.rows().size()) {
        if (twin.charge(0) > 0.2 && twin.charge(0) < 0.9) {
          current_A.push_back(4.4);
          for (int c = 0; c < 16; ++c)
            off_mV[std::size_t(c)].push_back(
                (*log.number(log.rows()[row], std::size_t(4 + c)) - twin.cell_V(c)) * 1e3);
        }
        ++row;
      }
      twin.step({bank::Demand::Kind::current, 4.4}, 25.0);
      for (int c = 0; c < 16; ++c)
        if (twin.cell_V(c) < one["cut_off_V"].get<double>()) ended_by = c;
    }
    EXPECT_EQ(ended_by + 1, one["first_cell_at_cut_off"].get<int>()) << file;
    EXPECT_NEAR(twin.book().out_As / 3600.0, one["delivered_Ah_until_cut_off"].get<double>(),
                0.006)  // a row of the log: 5 s at 4.4 A
        << file;
    // Readings that lie off: at one current nobody can say whether by resistance or by the meter.
    for (int c = 0; c < 16; ++c) {
      const std::string name = std::to_string(c + 1);
      const bool off =
          one["joint_extra_ohm"].contains(name) || one["sense_offset_V"].contains(name);
      const watch::OffVerdict v = watch::tell_apart(off_mV[std::size_t(c)], current_A, 8.0);
      EXPECT_EQ(v.what, off ? watch::OffReading::undecided : watch::OffReading::none)
          << file << " cell " << name << " " << v.offset_mV;
    }
  }
}

TEST(OffReadings, are_told_apart_where_the_current_changes) {
  std::vector<double> amps, joint, lead;
  for (int i = 0; i < 20; ++i) {
    amps.push_back(5.0 * i - 30.0);
    joint.push_back(-0.8 * amps.back());  // 0.8 mOhm reads low while discharging
    lead.push_back(35.0);
  }
  const auto a = watch::tell_apart(joint, amps, 5.0), b = watch::tell_apart(lead, amps, 5.0);
  EXPECT_EQ(a.what, watch::OffReading::ohmic);
  EXPECT_NEAR(a.resistance_mOhm, 0.8, 1e-9);
  EXPECT_EQ(b.what, watch::OffReading::steady);
  EXPECT_NEAR(b.offset_mV, 35.0, 1e-9);
}

}  // namespace

// SPDX-License-Identifier: Apache-2.0
// The house's year as people and scripts ask for it: the contract, what must add up, bad input.
#include <cmath>

#include <fmt/format.h>
#include <gtest/gtest.h>

#include "store/project_file.hpp"
#include "tests/support/support.hpp"

namespace {

using support::Folder;
using support::packhouse;
using support::Ran;

std::string house(const std::string& more = "", const std::string& tariff = "buy = 0.32\n") {
  return "[project]\nname = \"Test\"\n\n[cell]\nrated_capacity_Ah = 230\ndc_resistance_mOhm = 0.5\n\n"
         "[layout]\npacks = 1\nseries = 16\n\n[bus]\npower_W = 3000\n\n[site]\nlatitude_deg = 48\n"
         "longitude_deg = 8\nannual_kWh = 4000\nsolar_kW = 5\n" +
         more + "\n[tariff]\n" + tariff +
         "\n[[offer]]\nname = \"Lot\"\nunit_price = 60\nquantity = 17\nchosen = true\n";
}

Ran forecast(const Folder& folder, const std::string& words = "--json") {
  const Ran made = packhouse("import p p.packhouse", folder.path());
  if (made.code != 0) return made;
  return packhouse("forecast p.packhouse " + words, folder.path());
}

TEST(ForecastCommand, gives_years_and_money_that_add_up) {
  const Folder folder;
  std::filesystem::create_directories(folder / "p");
  support::write(folder / "p/project.toml", house());
  const Ran ran = forecast(folder, "--futures 100 --json");
  ASSERT_EQ(ran.code, 0) << ran.err;
  const base::Json j = ran.json();
  const auto& with = j["with"];
  const auto& without = j["without"];
  const double saving = without["cost"].get<double>() - with["cost"].get<double>();
  EXPECT_GT(saving, 0.0);
  EXPECT_NEAR(without["load_kWh"].get<double>(), 4000.0, 40.0);
  // Energy: sun and grid give what house, grid, bank and the bank's charge take.
  EXPECT_NEAR(without["solar_kWh"].get<double>() + without["import_kWh"].get<double>(),
              without["load_kWh"].get<double>() + without["export_kWh"].get<double>(), 1e-6);
  // The first year lived is the first year shown; the flows hold the savings and no more.
  const auto& years = j["years"]["harsher_law"];
  EXPECT_NEAR(years[0]["saving"].get<double>(), saving, 1e-9);
  const auto& flows = j["money"]["flows"];
  EXPECT_EQ(flows.size(), years.size() + 1);
  EXPECT_NEAR(flows[0].get<double>(), -j["money"]["capital"].get<double>(), 1e-9);
  double value = 0.0;
  for (std::size_t y = 0; y < flows.size(); ++y)
    value += flows[y].get<double>() / std::pow(1.03, double(y));
  EXPECT_NEAR(value, j["money"]["present_value"].get<double>(), 1e-6);
  for (std::size_t y = 1; y < years.size(); ++y)
    EXPECT_LT(years[y]["capacity"].get<double>(), years[y - 1]["capacity"].get<double>());
  // No rule beats who knew it all; larger banks never take more from the grid beyond the first.
  EXPECT_LE(j["foresight"]["share"].get<double>(), 1.0 + 1e-9);
  EXPECT_GT(j["foresight"]["share"].get<double>(), 0.5);
  EXPECT_EQ(j["foresight"]["rules"][0]["share"], j["foresight"]["share"]);
  EXPECT_EQ(j["bank_and_panels"].size(), 20u);
  // Among panels as they are, the planned bank: the same year again.
  EXPECT_NEAR(j["bank_and_panels"][7]["saving_year"].get<double>(), saving, 1e-9);
  EXPECT_EQ(j["wear"][0]["capacity_low"].get<double>(),
            packhouse("plan p.packhouse --json", folder.path())
                .json()["forecast"]["years"]
                .back()["low"]
                .get<double>());
  const auto& sizes = j["sizes"];
  for (std::size_t k = 2; k < sizes.size(); ++k)
    EXPECT_GE(sizes[k]["self_sufficiency"].get<double>(),
              sizes[k - 1]["self_sufficiency"].get<double>() - 1e-12);
  // A dearer kilowatt-hour makes the bank worth more.
  for (const auto& w : j["swings"])
    if (w["assumption"].get<std::string>().starts_with("price of a kWh bought")) {
      EXPECT_GT(w["value_higher"].get<double>(), w["value_lower"].get<double>());
    }
  EXPECT_LE(j["futures"]["present_value"]["tenth"].get<double>(),
            j["futures"]["present_value"]["nine_tenths"].get<double>());
  // The plan says the same.
  const base::Json plan = packhouse("plan p.packhouse --json", folder.path()).json();
  EXPECT_NEAR(plan["forecast"]["figures"]["present_value"]["value"].get<double>(), value, 1e-6);
  EXPECT_NEAR(plan["size"]["figures"]["saving_year"]["value"].get<double>(), saving, 1e-9);
  // Same input, same bytes.
  EXPECT_EQ(packhouse("forecast p.packhouse --futures 100 --json", folder.path()).out, ran.out);
  const Ran text = packhouse("forecast p.packhouse", folder.path());
  EXPECT_EQ(text.code, 0);
  EXPECT_NE(text.out.find("How large"), std::string::npos);
}

TEST(ForecastCommand, says_when_a_bank_does_not_pay_or_keeps_nothing) {
  const Folder folder;
  std::filesystem::create_directories(folder / "p");
  support::write(folder / "p/project.toml",
                 house("outage_hours = 12\noutage_W = 400\n", "buy = 0.11\nsell = 0.10\n"));
  const base::Json j = forecast(folder, "--futures 100 --json").json();
  std::string ids;
  for (const auto& f : j["findings"]) ids += f["id"].get<std::string>() + " ";
  EXPECT_NE(ids.find("never-pays"), std::string::npos) << ids;
  EXPECT_NE(ids.find("bank-beyond-knee"), std::string::npos) << ids;
  EXPECT_NE(ids.find("nothing-kept"), std::string::npos) << ids;
  EXPECT_TRUE(j["money"]["payback_years"].is_null());
  EXPECT_LT(j["money"]["present_value"].get<double>(), 0.0);
}

TEST(ForecastCommand, keeps_one_measure_through_all_its_tables) {
  const Folder folder;
  std::filesystem::create_directories(folder / "p");
  const auto ask = [&](const std::string& site, const std::string& tariff,
                       const std::string& more = "") {
    std::filesystem::remove(folder / "p.packhouse");
    support::write(folder / "p/project.toml", house(site, tariff) + more);
    const Ran ran = forecast(folder, "--futures 100 --json");
    EXPECT_EQ(ran.code, 0) << ran.err;
    return ran.json();
  };
  // A grid that takes nothing takes nothing without a bank either.
  base::Json j = ask("", "buy = 0.32\nexport_kW = 0\n");
  const double saving = j["without"]["cost"].get<double>() - j["with"]["cost"].get<double>();
  EXPECT_NEAR(j["years"]["harsher_law"][0]["saving"].get<double>(), saving, 1e-9);
  EXPECT_NEAR(j["sizes"][0]["saving_year"].get<double>(), 0.0, 1e-9);
  EXPECT_GT(j["without"]["curtailed_kWh"].get<double>(), 0.0);
  // Prices that rise raise what shifting saves: its thresholds rise with them.
  j = ask("", "buy = 0.32\nnight_buy = 0.10\n",
          "\n[dispatch]\nrule = \"shift\"\n\n[future]\nprice_growth_percent = 2\n");
  const auto& years = j["years"]["harsher_law"];
  for (std::size_t y = 1; y < 5; ++y)
    EXPECT_GT(years[y]["saving"].get<double>(), 0.97 * years[y - 1]["saving"].get<double>());
  // A bank that is never cycled is an answer.
  std::string dark = house();
  dark.replace(dark.find("solar_kW = 5"), 12, "solar_kW = 0");
  std::filesystem::remove(folder / "p.packhouse");
  support::write(folder / "p/project.toml", dark);
  const Ran none = forecast(folder, "--futures 100");
  EXPECT_EQ(none.code, 0) << none.err;
  EXPECT_NE(none.out.find("never-pays"), std::string::npos);
  // Without a grid: what is lost, and no money of a grid.
  j = ask("grid = \"no\"\n", "");
  EXPECT_GT(j["off_grid"]["load_lost_share"].get<double>(), 0.0);
  EXPECT_GE(j["off_grid"]["worst_share"].get<double>(),
            j["off_grid"]["load_lost_share"].get<double>());
  EXPECT_TRUE(j["money"]["present_value"].is_null());
  EXPECT_EQ(packhouse("forecast p.packhouse", folder.path()).code, 0);
  // Replacements count in the futures as in the flows; where none is planned they are drawn.
  const auto half = [&](const std::string& future) {
    j = ask("", "buy = 0.32\n", future);
    return j["futures"]["present_value"]["half"].get<double>();
  };
  const double cheap = half("\n[future]\nreplace_year = 8\nreplace_cost = 500\n");
  EXPECT_LT(half("\n[future]\nreplace_year = 8\nreplace_cost = 2000\n"), cheap - 1000.0);
  EXPECT_LT(half(""), cheap + 500.0);
  // The share that pays stands beside what was assumed, and what each risk takes.
  EXPECT_GT(j["futures"]["assumptions"].size(), 9U);
  EXPECT_EQ(j["futures"]["risks"].size(), 9U);
}

TEST(ForecastCommand, compares_tariffs_on_offer) {
  const Folder folder;
  std::filesystem::create_directories(folder / "p");
  support::write(folder / "p/project.toml", house());
  support::write(folder / "flat.csv", "price\n0.32\n");
  support::write(folder / "moving.csv", "price,from_h,to_h\n0.15,0,6\n0.30,6,17\n0.55,17,24\n");
  const base::Json j =
      forecast(folder, "--futures 100 --tariff flat.csv --tariff moving.csv --json").json();
  const auto& flat = j["tariffs"][0];
  const auto& moving = j["tariffs"][1];
  EXPECT_NEAR(flat["cost_without"].get<double>(), j["without"]["cost"].get<double>(), 1e-9);
  EXPECT_NEAR(flat["cost_by_rule"]["self-use"].get<double>(), j["with"]["cost"].get<double>(),
              1e-9);
  EXPECT_EQ(flat["best_kWh"], j["knee_kWh"]);
  // On one price no rule does better than self-use; where prices move, following them does.
  EXPECT_EQ(flat["cost_by_rule"]["shift"], flat["cost_by_rule"]["self-use"]);
  EXPECT_LT(moving["cost_by_rule"]["follow"].get<double>(),
            moving["cost_by_rule"]["self-use"].get<double>());
  support::write(folder / "gap.csv", "price,from_h,to_h\n0.3,6,22\n");
  const Ran gap = packhouse("forecast p.packhouse --tariff gap.csv", folder.path());
  EXPECT_EQ(gap.code, 2);
  EXPECT_NE(gap.err.find("gap.csv"), std::string::npos);
}

TEST(ForecastCommand, refuses_what_it_cannot_read) {
  const Folder folder;
  std::filesystem::create_directories(folder / "p");
  const auto refused = [&](const std::string& part) {
    const Ran ran = forecast(folder);
    EXPECT_EQ(ran.code, 2) << ran.out;
    EXPECT_NE(ran.err.find(part), std::string::npos) << ran.err;
  };
  support::write(folder / "p/project.toml", house("", ""));
  refused("It is not said what a kilowatt-hour costs");
  support::write(folder / "p/project.toml", house());
  std::string prices = "time,price\n";
  for (int h = 0; h < 48; ++h)
    prices += fmt::format("2025-01-{:02} {:02}:00,0.3\n", 1 + h / 24, h % 24);
  support::write(folder / "p/prices.csv", prices);
  std::filesystem::remove(folder / "p.packhouse");
  refused("prices.csv");
  std::filesystem::remove(folder / "p/prices.csv");
  const std::string bad = "time,load\n2025-01-01 00:00,0.4\n";
  support::write(folder / "p/load.csv", bad);
  std::filesystem::remove(folder / "p.packhouse");
  refused("load.csv");
  // In a file that came by another way it is still there, and the plan goes on without it.
  std::filesystem::remove(folder / "p/load.csv");
  ASSERT_EQ(packhouse("import p p.packhouse", folder.path()).code, 0);
  const project::Project before = store::read_project(folder / "p.packhouse");
  project::Project after = before;
  after.series.push_back({"load.csv", bad});
  store::update_project(before, after, folder / "p.packhouse");
  // The plan still works out what does not hang on it, and says stop.
  const Ran plan = packhouse("plan p.packhouse --json", folder.path());
  EXPECT_EQ(plan.code, 1);
  EXPECT_TRUE(plan.json()["size"]["figures"].contains("energy_kWh"));
  std::string far = house();
  far.replace(far.find("latitude_deg = 48"), 17, "latitude_deg = 98");
  support::write(folder / "p/project.toml", far);
  std::filesystem::remove(folder / "p.packhouse");
  refused("latitude_deg");
}

}  // namespace

// SPDX-License-Identifier: Apache-2.0
// Choosing and ordering: what a kilowatt-hour out costs over life, what would turn the choice, what
// falling short costs, until when a claim is open.
#include <cmath>

#include <gtest/gtest.h>

#include "tests/support/support.hpp"
#include "works/plan.hpp"

namespace {

project::Project bank() {
  project::Project p;
  p.about.name.say(std::string("test"));
  p.cell.rated_capacity.say(230.0);
  p.cell.dc_resistance.say(0.5);
  p.cell.mass.say(4.0);
  p.bus.power.say(3000.0);
  p.use.cycles_per_year.say(200.0);
  p.layout.packs.say(1.0);
  p.layout.series.say(16.0);
  p.offers.push_back({"lasting", 80.0, 17});
  project::Offer cheap{"short-lived", 60.0, 17};
  cheap.rated_cycles = 1500.0, cheap.shelf_years = 9.0, cheap.round_trip_percent = 80.0;
  p.offers.push_back(cheap);
  p.offers[0].chosen = true;
  return p;
}

TEST(Offers, are_compared_over_their_life_and_by_what_would_turn_it) {
  project::Project p = bank();
  const works::Plan plan = works::plan(p);
  // Cheapest landed and cheapest over its life are not the same here.
  ASSERT_EQ(plan.offers.size(), 2u);
  EXPECT_EQ(plan.offers[0].offer.name, "short-lived");
  EXPECT_GT(plan.offers[0].per_kWh_out.value, plan.offers[1].per_kWh_out.value);
  EXPECT_LT(plan.offers[0].life_years, plan.offers[1].life_years);
  EXPECT_EQ(works::find_figure(plan, "choose.least_per_kWh_out")->figure.value,
            plan.offers[1].per_kWh_out.value);
  // Ahead by so much, and each margin at half or double brackets it or stays on one side.
  EXPECT_NEAR(plan.margin, plan.offers[0].per_kWh_out.value - plan.offers[1].per_kWh_out.value,
              1e-12);
  ASSERT_EQ(plan.margins.size(), 6u);
  for (const works::Margin& m : plan.margins) {
    bool turned = false;
    for (const works::Turn& t : plan.turns)
      turned = turned || (t.what == m.what && t.factor >= 0.5 && t.factor <= 2.0);
    EXPECT_EQ(turned, m.low < 0.0 || m.high < 0.0) << m.what;
  }
  // At a turn the other one is cheapest, and a little before it is not.
  bool any = false;
  for (const works::Turn& t : plan.turns) {
    EXPECT_EQ(t.then, "short-lived");
    if (t.what != "yearly rate") continue;
    any = true;
    const double rate = p.use.rate_percent();
    const auto dearer = [&](double factor) {
      project::Project other = p;
      other.use.rate_percent.say(rate * factor);
      const works::Plan again = works::plan(other);
      return again.offers[0].per_kWh_out.value > again.offers[1].per_kWh_out.value;
    };
    EXPECT_FALSE(dearer(t.factor));
    EXPECT_TRUE(dearer(std::pow(t.factor, 0.9)));
  }
  if (!any) {
    for (const double factor : {1.0 / 3.0, 3.0}) {
      project::Project other = p;
      other.use.rate_percent.say(p.use.rate_percent() * factor);
      const works::Plan again = works::plan(other);
      EXPECT_GT(again.offers[0].per_kWh_out.value, again.offers[1].per_kWh_out.value);
    }
  }
}

TEST(Order, weighs_spares_against_what_falling_short_costs) {
  project::Project p = bank();
  const auto order = [&](double cost) {
    p.order.short_cost.say(cost);
    const works::Plan plan = works::plan(p);
    return works::find_figure(plan, "order.order_least_cost")->figure.value;
  };
  EXPECT_EQ(order(0.0), 16.0);
  EXPECT_GT(order(1000.0), 16.0);
  EXPECT_GE(order(1e6), order(1000.0));
  p.order.cells_per_package.say(4.0);
  p.order.package.say(2.0);
  const works::Plan plan = works::plan(p);
  EXPECT_EQ(works::find_figure(plan, "order.packages")->figure.value, 5.0);
  EXPECT_EQ(works::find_figure(plan, "order.package_kg")->figure.value, 18.0);
  EXPECT_NE(plan.order.sentence.find("UN 3480"), std::string::npos);
}

TEST(Claim, says_the_last_day) {
  project::Project p = bank();
  p.order.received.say(std::string("2026-02-20"));
  p.order.claim_days.say(10.0);
  const auto what = [&](findings::Id id) {
    for (const findings::Finding& f : works::plan(p).findings)
      if (f.id == id) return f.what;
    return std::string();
  };
  EXPECT_EQ(what(findings::Id::claim_ends), "The seller must hear of what is wrong by 2026-03-02.");
  p.order.received.say(std::string("2026-02-30"));
  EXPECT_EQ(what(findings::Id::no_day), "“2026-02-30” is no day.");
}

}  // namespace

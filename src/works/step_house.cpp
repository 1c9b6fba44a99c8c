// SPDX-License-Identifier: Apache-2.0
// The house's year within Size: what this bank does for it, and where the next kilowatt-hour stops
// to pay.
#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "base/input_error.hpp"
#include "works/steps.hpp"

namespace works::steps {
namespace {

using findings::Severity;

void say(Plan& plan, findings::Id id, Severity severity, std::string what, std::string where,
         std::string measured, std::string limit, std::string why, std::string remedy) {
  plan.findings.push_back({.id = id,
                           .severity = severity,
                           .what = std::move(what),
                           .where = std::move(where),
                           .measured = std::move(measured),
                           .limit = std::move(limit),
                           .why = std::move(why),
                           .remedy = std::move(remedy),
                           .basis = "docs/models/year.md"});
}

void judge_money(const Project& p, const HouseStudy& s, Plan& plan) {
  const std::string currency = p.about.currency();
  if (!s.priced) return;
  if (!s.payback_years)
    say(plan, findings::Id::never_pays, Severity::caution,
        "By this year, tariff and ageing the bank does not earn back what it costs.", "[tariff]",
        fmt::format("worth {:.0f} {} today after {} years", s.value, currency, s.served),
        fmt::format("0 {}", currency),
        "A bank may be wanted for other reasons; as an investment this one loses.",
        "Compare the sizes in packhouse forecast; a smaller bank or another tariff may pay.");
  if (s.knee_kWh < 0.9 * s.life.nominal_kWh)
    say(plan, findings::Id::bank_beyond_knee, Severity::caution,
        "The last kilowatt-hours of this bank do not pay for their own cells.", "[layout]",
        fmt::format("{:.1f} kWh", s.life.nominal_kWh), fmt::format("{:.0f} kWh", s.knee_kWh),
        "The sun fills a large bank rarely, and the house empties it rarely.",
        "Fewer cells, or keep them for an outage and say so with a reserve.");
}

void judge_offer(const Project& p, Plan& plan) {
  for (const OfferResult& r : plan.offers) {
    const Offer& o = r.offer;
    if (!o.chosen) continue;
    const double rated = p.cell.rated_capacity.in(base::units::Ah),
                 volts = p.cell.nominal.in(base::units::V);
    if ((o.rated_capacity_Ah > 0.0 && std::abs(o.rated_capacity_Ah - rated) > 0.02 * rated) ||
        (o.nominal_V > 0.0 && std::abs(o.nominal_V - volts) > 0.02 * volts) ||
        o.rated_cycles > 0.0 || o.shelf_years > 0.0)
      say(plan, findings::Id::offer_of_other_cells, Severity::caution,
          fmt::format("The chosen offer “{}” is of other cells than [cell] describes.", o.name),
          "[[offer]]", "", "",
          "Bank, year and forecast are played with [cell]; only its price counts.",
          "Describe its cells in [cell] and [layout], or choose the offer that they belong to.");
  }
}

void judge_outage(const Project& p, const HouseStudy& s, Plan& plan) {
  const auto hours = p.site.outage_hours();
  if (!hours || !p.site.outage_power.in(base::units::W)) return;
  if (s.store.reserve_kWh <= 0.0)
    say(plan, findings::Id::nothing_kept, Severity::caution,
        "An outage must be carried, but nothing is kept for it.", "[dispatch] reserve_percent",
        "0 %", fmt::format("{:g} h", *hours),
        "In winter the bank is empty most nights; an outage then finds nothing.",
        "Set reserve_percent to what the outage takes, with room for losses.");
  else if (s.outage.worst_h < *hours)
    say(plan, findings::Id::outage_too_long, Severity::caution,
        "What is kept does not carry the outage.", "[dispatch] reserve_percent",
        fmt::format("{:.1f} h", s.outage.worst_h), fmt::format("{:g} h", *hours),
        "The house is dark before the grid is back.", "Keep more, or carry less through it.");
}

/// Adds figures to the size step.
class Figures {
 public:
  explicit Figures(Plan& plan) : plan_(plan) {}
  void operator()(const char* key, std::string label, double value, std::string unit,
                  std::string basis) const {
    plan_.size.figures.push_back(
        {key,
         std::move(label),
         {.value = value, .unit = std::move(unit), .basis = std::move(basis)}});
  }

 private:
  Plan& plan_;
};

void judge_cold(const HouseStudy& s, Plan& plan) {
  if (s.cold_days == 0) return;
  say(plan, findings::Id::too_cold_to_charge, Severity::caution,
      "On some days the cells would be too cold to be charged.", "[place] follows_air",
      fmt::format("{} days a year", s.cold_days), "0 days",
      "Charging below the sheet's limit plates lithium; a BMS that does its work refuses it, and "
      "the sun of those days is not stored.",
      "A warmer place, or insulation with heating pads. The year already counts those days.");
}

void judge_off_grid(const Project& p, const HouseStudy& s, Plan& plan) {
  const Figures add(plan);
  const std::string basis = fmt::format(
      "{} years with their days of sun exchanged within the season, by energy; loads as they are",
      s.off_grid->years);
  const double lost = 100.0 * s.off_grid->energy_share, allowed = p.site.lost_percent();
  add("load_lost_percent", "of the load that goes unserved without a grid", lost, "%", basis);
  add("load_lost_worst_percent", "in the worst of those years", 100.0 * s.off_grid->worst_share,
      "%", basis);
  add("load_lost_time_percent", "of the time, some of it unserved", 100.0 * s.off_grid->time_share,
      "%", basis);
  add("off_grid_kWh", "bank that loses no more than is allowed", s.off_grid_kWh, "kWh", basis);
  plan.size.sentence += fmt::format(
      " Without a grid {:.1f} % of the load would go unserved, {:.1f} % in the worst of {} years.",
      lost, 100.0 * s.off_grid->worst_share, s.off_grid->years);
  if (lost > allowed)
    say(plan, findings::Id::load_lost, Severity::caution,
        "Without a grid, this bank and its sun leave too much of the load unserved.", "[site]",
        fmt::format("{:.1f} %", lost), fmt::format("{:g} %", allowed),
        "It happens in dull weeks, when nothing else gives.",
        s.off_grid_kWh >= 9.9 * s.life.nominal_kWh
            ? "More panels or a generator: no bank ten times as large would do."
            : fmt::format("A bank of {:.0f} kWh, more panels, or a generator for those weeks.",
                          s.off_grid_kWh));
}

void say_untold(const Project& p, Plan& plan) {
  const bool price = says_price(p) || !has_grid(p);
  say(plan, findings::Id::house_not_told, Severity::note,
      price ? "It is not said where the house stands, so its sun is not known."
            : "It is not said what a kilowatt-hour costs.",
      price ? "[site]" : "[tariff]", "",
      price ? "latitude_deg and longitude_deg in [site]"
            : "buy in [tariff], tariff.csv or prices.csv",
      "How large a bank is worth it, and whether it pays, is left out.",
      "Say it; see docs/howto/year.md.");
}

}  // namespace

void house(const Project& p, Plan& plan) {
  try {
    plan.house = house_study(p, plan);
  } catch (const base::InputError& e) {
    say(plan, findings::Id::series_unreadable, Severity::stop,
        fmt::format("The year at the house cannot be read: {}.", e.found()),
        e.place().line > 0 ? fmt::format("{}, line {}", e.place().file, e.place().line)
                           : e.place().file,
        "", e.expected(), "Without it no size, saving or payback is worked out.", e.remedy());
    return;
  }
  if (!plan.house) {
    if (p.site.annual_load.in(base::units::kWh) || series_file(p, "load.csv") != nullptr)
      say_untold(p, plan);
    return;
  }
  const HouseStudy& s = *plan.house;
  for (const findings::Finding& f : s.findings) plan.findings.push_back(f);
  const Figures add(plan);
  const std::string from = fmt::format("a year at the house by rule “{}”; load: {}; sun: {}",
                                       site::name(s.rules.kind), s.load_from, s.sun_from);
  judge_cold(s, plan);
  judge_offer(p, plan);
  if (s.off_grid) {
    judge_off_grid(p, s, plan);
    return;  // what a grid would have cost is not the question
  }
  const std::string currency = p.about.currency();
  add("self_sufficiency_percent", "of the load that does not come from the grid",
      100.0 * s.with_store.self_sufficiency(), "%",
      from + "; what the bank draws itself counts as load");
  add("self_sufficiency_without_percent", "the same without a bank",
      100.0 * s.without.self_sufficiency(), "%", from);
  const double saving = s.without.cost - s.with_store.cost;
  add("saving_year", "saved in the first year", saving, currency,
      from + "; prices: " + s.price_from);
  double next = 0.0;
  for (const site::SizePoint& point : s.sizes)
    if (point.nominal_kWh <= s.life.nominal_kWh) next = point.next_kWh_saving;
  add("next_kWh_saving_year", "what one more kilowatt-hour would save a year", next,
      currency + "/kWh", "difference of two years played with banks beside this size");
  if (s.priced)
    add("knee_kWh", "size that is worth most over its cells", s.knee_kWh, "kWh",
        fmt::format(
            "savings over {} years, faded and discounted, less {:.0f} {} a kilowatt-hour of "
            "cells, at its largest; other costs are taken as fixed; 0 where none pays",
            s.served, s.cells_per_kWh, currency));
  if (p.site.outage_power.in(base::units::W))
    add("outage_worst_h", "outage carried at its power, without sun", s.outage.worst_h, "h",
        s.store.reserve_kWh > 0.0 ? "from the reserve, through the discharge's loss"
                                  : "from a full bank: nothing is kept");
  plan.size.sentence += fmt::format(
      " At this house it saves {:.0f} {} in the first year and lifts what comes from the own roof "
      "from {:.0f} to {:.0f} % of the load.",
      saving, currency, 100.0 * s.without.self_sufficiency(),
      100.0 * s.with_store.self_sufficiency());
  judge_money(p, s, plan);
  judge_outage(p, s, plan);
}

}  // namespace works::steps

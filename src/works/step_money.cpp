// SPDX-License-Identifier: Apache-2.0
// Brief, Choose, Size and Order: what is asked for, what it costs, what the bank is, how many to
// buy.
#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "bank/figures.hpp"
#include "base/statistics.hpp"
#include "works/reckonings.hpp"
#include "works/steps.hpp"

namespace works::steps {
namespace {

namespace units = base::units;
using base::Figure;
using base::Json;
using findings::Severity;

Json bank_inputs(const Project& p, const Plan& plan) {
  const layout::Layout l = layout_of(p);
  return {{"packs", l.packs},
          {"series", l.series},
          {"parallel", l.parallel},
          {"capacity_Ah", cell_capacity(p, plan).value},
          {"cell_nominal_V", p.cell.nominal.in(units::V)},
          {"cell_min_V", p.cell.min.in(units::V)},
          {"cell_max_V", p.cell.max.in(units::V)},
          {"power_W", p.bus.power.in(units::W)}};
}

void write_brief(const Project& p, const Plan& plan, Step& step) {
  step = {.name = "brief", .question = "What must the bank do?", .sentence = "", .figures = {}};
  const double power = p.bus.power.in(units::W);
  step.figures.push_back(
      {"power_W", "continuous power at the bus", {.value = power, .unit = "W", .basis = "given"}});
  step.sentence = fmt::format("The bank must carry {:g} W at the bus", power);
  if (const auto annual = p.site.annual_load.in(units::kWh)) {
    step.figures.push_back(
        {"daily_kWh",
         "used on a mean day",
         {.value = *annual / 365.25, .unit = "kWh", .basis = "annual use over 365.25 days"}});
    step.sentence +=
        fmt::format(", in a house that uses {:.1f} kWh on a mean day", *annual / 365.25);
  }
  const auto hours = p.site.outage_hours(), outage = p.site.outage_power.in(units::W);
  if (hours && outage) {
    const double kWh = *hours * *outage / 1000.0;
    step.figures.push_back(
        {"outage_kWh",
         "to be kept for an outage",
         {.value = kWh, .unit = "kWh", .basis = "outage hours times outage power"}});
    const double energy =
        reckon("bank-figures", bank_inputs(p, plan), "energy_kWh").value * p.use.depth();
    step.sentence += fmt::format(
        ", and {:.1f} kWh through an outage of {:g} hours; what is usable is {:.1f} times that",
        kWh, *hours, energy / std::max(kWh, 1e-9));
  }
  step.sentence += ".";
}

void write_offers(const Project& p, Plan& plan) {
  plan.choose = {
      .name = "choose", .question = "Which cells, from whom?", .sentence = "", .figures = {}};
  const std::string currency = p.about.currency();
  const double good = 1.0 - p.order.reject_percent() / 100.0;
  for (const Offer& o : p.offers) {
    const Json inputs = {{"unit_price", o.unit_price},
                         {"quantity", o.quantity},
                         {"freight", o.freight},
                         {"insurance", o.insurance},
                         {"duty_percent", o.duty_percent},
                         {"vat_percent", o.vat_percent},
                         {"fees", o.fees}};
    OfferResult r;
    r.offer = o;
    r.total = reckon("landed-cost", inputs, "total");
    r.per_cell = reckon("landed-cost", inputs, "per_unit");
    const double rated =
        o.rated_capacity_Ah > 0.0 ? o.rated_capacity_Ah : p.cell.rated_capacity.in(units::Ah);
    const double volts = o.nominal_V > 0.0 ? o.nominal_V : p.cell.nominal.in(units::V);
    const double kWh = rated * volts / 1000.0 * o.quantity * good;
    r.total.unit = currency;
    r.per_cell.unit = currency;
    r.per_kWh = {.value = r.total.value / kWh,
                 .unit = currency + "/kWh",
                 .reckoning = "landed-cost",
                 .inputs = inputs,
                 .basis = fmt::format(
                     "total over {:.2f} kWh rated in cells expected to be good ({:g} % of them)",
                     kWh, good * 100.0)};
    plan.offers.push_back(std::move(r));
  }
  std::stable_sort(
      plan.offers.begin(), plan.offers.end(),
      [](const OfferResult& a, const OfferResult& b) { return a.per_kWh.value < b.per_kWh.value; });
  if (plan.offers.empty()) {
    plan.choose.sentence = "No offers written down.";
    return;
  }
  const OfferResult& best = plan.offers.front();
  const std::string price = fmt::format("{} {} for each kilowatt-hour in good cells, landed",
                                        base::show_value(best.per_kWh), currency);
  plan.choose.sentence =
      plan.offers.size() == 1
          ? fmt::format("The only offer, “{}”, costs {}.", best.offer.name, price)
          : fmt::format("Of {} offers “{}” is the cheapest: {}.", plan.offers.size(),
                        best.offer.name, price);
  for (const OfferResult& r : plan.offers) {
    if (!r.offer.chosen) continue;
    plan.choose.figures.push_back(
        {"landed_total", "landed, all in (" + r.offer.name + ")", r.total});
    plan.choose.figures.push_back({"landed_per_cell", "landed, a cell", r.per_cell});
    if (plan.arrangement) {
      const double usable =
          reckon("bank-figures", bank_inputs(p, plan), "energy_kWh").value * p.use.depth();
      plan.choose.figures.push_back(
          {"landed_per_usable_kWh",
           "landed, a usable kilowatt-hour of the matched bank",
           {.value = r.total.value / usable,
            .unit = currency + "/kWh",
            .reckoning = "landed-cost",
            .inputs = r.total.inputs,
            .basis = fmt::format("landed total over {:.2f} kWh: the matched bank at {:g} % depth",
                                 usable, p.use.depth() * 100.0)}});
    }
  }
}

void write_size(const Project& p, Plan& plan) {
  plan.size = {.name = "size", .question = "What is the bank?", .sentence = "", .figures = {}};
  const Json inputs = bank_inputs(p, plan);
  const layout::Layout l = layout_of(p);
  const auto add = [&](std::string_view output, std::string label) {
    plan.size.figures.push_back(
        {std::string(output), std::move(label), reckon("bank-figures", inputs, output)});
  };
  Figure energy = reckon("bank-figures", inputs, "energy_kWh");
  const Figure one = cell_capacity(p, plan);
  if (one.u) energy.u = energy.value * *one.u / one.value;
  energy.basis = "capacity: " + one.basis;
  plan.size.figures.push_back({"energy_kWh", "energy at nominal voltage", energy});
  const double depth = p.use.depth();
  plan.size.figures.push_back({"usable_kWh",
                               "usable at the chosen depth",
                               {.value = energy.value * depth,
                                .u = energy.u ? std::optional(*energy.u * depth) : std::nullopt,
                                .unit = "kWh",
                                .reckoning = "bank-figures",
                                .inputs = inputs,
                                .basis = fmt::format("energy times depth {:g}", depth)}});
  add("nominal_V", "nominal voltage");
  add("min_V", "all cells at their lower limit");
  add("max_V", "all cells at their upper limit");
  add("current_A", "current at design power");
  add("cell_current_A", "current of one cell");
  add("c_rate", "rate");
  plan.size.figures.back().figure.unit = "C";
  if (const auto mass = p.cell.mass.in(units::kg)) {
    plan.size.figures.push_back(
        {"cells_mass_kg",
         "mass of all cells",
         {.value = *mass * l.places(), .unit = "kg", .basis = "mass of one cell times places"}});
    plan.size.figures.push_back({"pack_mass_kg",
                                 "mass of the cells of one pack",
                                 {.value = *mass * l.places_in_pack(),
                                  .unit = "kg",
                                  .basis = "mass of one cell times places in a pack"}});
  }
  plan.size.sentence = fmt::format(
      "{} pack{} of {}S{}P: {} kWh at {:g} V, of which {} kWh are used each full cycle.", l.packs,
      l.packs == 1 ? "" : "s", l.series, l.parallel, base::show_value(energy),
      l.series * p.cell.nominal.in(units::V), base::significant(energy.value * depth, 3));
  const double rate = reckon("bank-figures", inputs, "c_rate").value;
  if (rate > p.cell.max_discharge_rate())
    plan.findings.push_back(
        {.id = findings::Id::rate_above_sheet,
         .severity = Severity::stop,
         .what = "The design power asks more of each cell than its sheet allows.",
         .where = "[bus] power_W",
         .measured = fmt::format("{:.2f} C", rate),
         .limit = fmt::format("{:g} C", p.cell.max_discharge_rate()),
         .why = "Cells overheat and age, and the BMS trips.",
         .remedy = "Less power, or more cells in parallel.",
         .basis = "the cell's sheet"});
}

/// The order at which cells and what falling short costs are least together.
void write_least_cost(const Project& p, Plan& plan) {
  const auto short_cost = p.order.short_cost();
  const auto chosen = std::find_if(plan.offers.begin(), plan.offers.end(),
                                   [](const OfferResult& r) { return r.offer.chosen; });
  if (!short_cost || chosen == plan.offers.end()) return;
  const int needed = layout_of(p).places();
  const double good = 1.0 - p.order.reject_percent() / 100.0;
  int best = needed;
  double least = 1e300;
  for (int n = needed; n <= 2 * needed + 20; ++n) {
    const double cost =
        n * chosen->per_cell.value + (1.0 - base::binomial_at_least(n, good, needed)) * *short_cost;
    if (cost < least) least = cost, best = n;
  }
  plan.order.figures.push_back(
      {"order_least_cost",
       "cells at which the order and the risk together cost least",
       {.value = double(best),
        .unit = "",
        .basis = fmt::format("least of cells times {:.2f} {} and odds of falling short times {:g}",
                             chosen->per_cell.value, p.about.currency(), *short_cost)}});
}

void write_order(const Project& p, Plan& plan) {
  const layout::Layout l = layout_of(p);
  const Json inputs = {{"needed", l.places()},
                       {"reject_percent", p.order.reject_percent()},
                       {"confidence_percent", p.order.confidence_percent()}};
  plan.order = {
      .name = "order", .question = "How many, with spares?", .sentence = "", .figures = {}};
  Figure order = reckon("spares", inputs, "order");
  const double odds = reckon("spares", inputs, "odds_percent").value;
  plan.order.sentence =
      fmt::format("{} places: order {:.0f} cells, and the odds are {:.1f} % that enough are good.",
                  l.places(), order.value, odds);
  plan.order.figures.push_back({"order", "cells to order", std::move(order)});
  plan.order.figures.push_back(
      {"odds_percent", "odds of having enough", reckon("spares", inputs, "odds_percent")});
  const double count = plan.order.figures.front().figure.value;
  const auto mass = p.cell.mass.in(units::kg);
  if (mass)
    plan.order.figures.push_back(
        {"mass_kg",
         "mass of the order",
         {.value = *mass * count, .unit = "kg", .basis = "mass of one cell times the order"}});
  write_least_cost(p, plan);
  if (const auto each = p.order.cells_per_package()) {
    plan.order.figures.push_back({"packages",
                                  "packages",
                                  {.value = std::ceil(count / *each),
                                   .unit = "",
                                   .basis = fmt::format("the order over {} cells each", *each)}});
    if (mass)
      plan.order.figures.push_back(
          {"package_kg",
           "mass of a full one",
           {.value = *mass * *each + p.order.package.in(units::kg),
            .unit = "kg",
            .basis = "cells in it and the empty package; above 25 kg two people lift [HSE-L23]"}});
  }
  const double cell_Wh = p.cell.rated_capacity.in(units::Ah)*p.cell.nominal.in(units::V);
  plan.order.figures.push_back(
      {"cell_Wh",
       "energy of one cell, for the papers",
       {.value = cell_Wh,
        .unit = "Wh",
        .basis = "rated capacity times nominal voltage; above 20 Wh a cell has no relief from the "
                 "rules for dangerous goods [ADR] special provision 188"}});
  if (cell_Wh > 20.0)
    plan.order.sentence +=
        " They travel as dangerous goods, UN 3480, class 9: ask for the UN 38.3 test summary, a "
        "safety data sheet, the approved packaging, and who the importer of record is.";
}

}  // namespace

void choose_and_size(const Project& project, Plan& plan) {
  write_brief(project, plan, plan.brief);
  write_offers(project, plan);
  write_size(project, plan);
  write_order(project, plan);
}

}  // namespace works::steps

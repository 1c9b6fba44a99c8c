// SPDX-License-Identifier: Apache-2.0
#include <cmath>

#include "works/house.hpp"

namespace works {
namespace {

using base::Json;

Json band_json(const site::Band& b) {
  return {{"tenth", b.low}, {"half", b.middle}, {"nine_tenths", b.high}};
}

Json outcome_json(const site::Outcome& o) {
  return {{"load_kWh", o.load_kWh},
          {"solar_kWh", o.solar_kWh},
          {"import_kWh", o.import_kWh},
          {"export_kWh", o.export_kWh},
          {"curtailed_kWh", o.curtailed_kWh},
          {"discharge_kWh", o.discharge_kWh},
          {"standby_kWh", o.standby_kWh},
          {"peak_import_kW", o.peak_import_kW},
          {"self_sufficiency", o.self_sufficiency()},
          {"self_consumption", o.self_consumption()},
          {"cost", o.cost}};
}

Json years_json(const std::vector<site::YearOfLife>& years, int horizon) {
  Json list = Json::array();
  for (const site::YearOfLife& y : years)
    if (y.year <= horizon)
      list.push_back({{"year", y.year},
                      {"capacity", y.capacity},
                      {"full_cycles", y.full_cycles},
                      {"depth", y.depth},
                      {"mean_charge", y.mean_charge},
                      {"import_kWh", y.import_kWh},
                      {"discharge_kWh", y.discharge_kWh},
                      {"self_sufficiency", y.self_sufficiency},
                      {"saving", y.saving()}});
  return list;
}

}  // namespace

Json series_json(const HouseStudy& study) {
  Json charge = Json::array();
  for (const double share : charge_by_hour(study))
    charge.push_back(std::round(share * 1000.0) / 1000.0);
  const auto curve = [](const std::vector<double>& falling) {
    Json json = Json::array();
    for (const double kW : falling) json.push_back(std::round(kW * 1000.0) / 1000.0);
    return json;
  };
  return {{"charge_by_hour", std::move(charge)},
          {"grid_without_kW", curve(grid_in_falling_order(study, false, 200))},
          {"grid_with_kW", curve(grid_in_falling_order(study, true, 200))},
          {"hours", double(study.year.steps()) * study.year.step_h}};
}

Json to_json(const Project& project, const HouseStudy& s, const HouseAnswers& a) {
  Json sizes = Json::array();
  for (const site::SizePoint& p : s.sizes)
    sizes.push_back({{"nominal_kWh", p.nominal_kWh},
                     {"self_sufficiency", p.outcome.self_sufficiency()},
                     {"saving_year", p.saving},
                     {"next_kWh_saving_year", p.next_kWh_saving}});
  Json capacity = Json::array(), saving = Json::array(), swings = Json::array();
  for (const site::Band& b : a.bands.capacity) capacity.push_back(band_json(b));
  for (const site::Band& b : a.bands.saving) saving.push_back(band_json(b));
  Json assumptions = Json::array(), risks = Json::array(), ageing = Json::array();
  for (const site::Band& b : a.bands.ageing) ageing.push_back(band_json(b));
  for (const site::Assumption& x : a.bands.assumptions)
    assumptions.push_back({{"what", x.what}, {"value", x.value}});
  for (const site::RiskTaken& r : a.bands.risks)
    risks.push_back({{"risk", site::words(r.risk)},
                     {"pays_alone", r.pays_alone},
                     {"pays_without", r.pays_without},
                     {"value_alone", r.value_alone},
                     {"value_without", r.value_without}});
  for (const Swing& w : a.swings)
    swings.push_back({{"assumption", w.what}, {"value_lower", w.low}, {"value_higher", w.high}});
  Json cases = Json::array(), ends = Json::array(), off_grid = nullptr;
  for (const WearCase& c : a.cases)
    cases.push_back({{"what", c.what},
                     {"capacity_low", c.low},
                     {"capacity_high", c.high},
                     {"saving_first_year", c.first_saving}});
  for (const PackEnd& e : a.ends)
    ends.push_back({{"pack", e.pack},
                    {"weakest", e.cells},
                    {"capacity_Ah", e.capacity_Ah},
                    {"years", e.years},
                    {"spare", e.spare},
                    {"years_with_spare", e.years_with_spare}});
  if (s.off_grid)
    off_grid = {{"load_lost_share", s.off_grid->energy_share},
                {"worst_share", s.off_grid->worst_share},
                {"time_share", s.off_grid->time_share},
                {"weather_years", s.off_grid->years},
                {"bank_kWh", s.off_grid_kWh}};
  Json tariffs = Json::array();
  for (const TariffResult& t : a.tariffs) {
    Json by_rule = Json::object();
    for (const auto& [name, cost] : t.rules) by_rule[name] = cost;
    tariffs.push_back({{"file", t.name},
                       {"cost_without", t.without},
                       {"cost_by_rule", std::move(by_rule)},
                       {"best_kWh", s.priced ? Json(t.best_kWh) : Json(nullptr)}});
  }
  const site::Bound& bound = a.foresight.bound;
  const bool solved = bound.status == site::Bound::Status::optimal;
  Json rules = Json::array(), panels = Json::array();
  for (const auto& [name, cost] : a.foresight.rules)
    rules.push_back({{"rule", name},
                     {"cost", cost},
                     {"share", solved ? Json(a.foresight.share(cost)) : Json(nullptr)}});
  for (const SolarPoint& p : a.panels)
    panels.push_back({{"solar_factor", p.solar_factor},
                      {"nominal_kWh", p.nominal_kWh},
                      {"self_sufficiency", p.self_sufficiency},
                      {"saving_year", p.saving}});
  return {{"currency", project.about.currency()},
          {"from", {{"load", s.load_from}, {"sun", s.sun_from}, {"prices", s.price_from}}},
          {"rule", project.dispatch.rule.code()},
          {"without", outcome_json(s.without)},
          {"with", outcome_json(s.with_store)},
          {"foresight",
           {{"solved", solved},
            {"rules", std::move(rules)},
            {"cost", solved ? Json(bound.cost) : Json(nullptr)},
            {"rule_cost", a.foresight.rule},
            {"share", solved ? Json(a.foresight.share()) : Json(nullptr)},
            {"iterations", bound.iterations}}},
          {"sizes", std::move(sizes)},
          {"bank_and_panels", std::move(panels)},
          {"tariffs", std::move(tariffs)},
          {"knee_kWh", s.priced ? Json(s.knee_kWh) : Json(nullptr)},
          {"outage", {{"worst_h", s.outage.worst_h}, {"median_h", s.outage.median_h}}},
          {"years",
           {{"harsher_law", years_json(s.harsh, s.life.years)},
            {"milder_law", years_json(s.mild, s.life.years)}}},
          {"money",
           {{"capital", s.capital},
            {"flows", s.flows},
            {"present_value", s.priced ? Json(s.value) : Json(nullptr)},
            {"payback_years", s.payback_years ? Json(*s.payback_years) : Json(nullptr)},
            {"internal_rate", s.internal_rate ? Json(*s.internal_rate) : Json(nullptr)},
            {"naive_payback_years", s.priced ? Json(s.naive_payback_years) : Json(nullptr)}}},
          {"futures",
           {{"capacity", std::move(capacity)},
            {"saving", std::move(saving)},
            {"present_value", band_json(a.bands.value)},
            {"share_that_pays", a.bands.pays},
            {"ageing", std::move(ageing)},
            {"odds_below_end", a.bands.odds_below_end},
            {"assumptions", std::move(assumptions)},
            {"risks", std::move(risks)}}},
          {"swings", std::move(swings)},
          {"wear", std::move(cases)},
          {"pack_ends", std::move(ends)},
          {"off_grid", std::move(off_grid)}};
}

}  // namespace works

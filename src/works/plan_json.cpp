// SPDX-License-Identifier: Apache-2.0
#include "match/assignment_json.hpp"
#include "works/plan.hpp"

namespace works {
namespace {

using base::Json;

Json step_json(const Step& step) {
  Json figures = Json::object();
  for (const Named& n : step.figures) {
    figures[n.key] = base::to_json(n.figure);
    figures[n.key]["label"] = n.label;
  }
  return {
      {"question", step.question}, {"sentence", step.sentence}, {"figures", std::move(figures)}};
}

Json maybe(const std::optional<base::Figure>& figure) {
  return figure ? base::to_json(*figure) : Json(nullptr);
}

Json cell_json(const CellResult& c) {
  Json json = {{"label", c.label},
               {"lot", c.lot},
               {"log", c.log},
               {"standing", c.standing == Standing::tested       ? "tested"
                            : c.standing == Standing::unreadable ? "unreadable"
                                                                 : "untested"},
               {"place", c.place},
               {"capacity_Ah", maybe(c.capacity_Ah)},
               {"energy_Wh", maybe(c.energy_Wh)},
               {"dc_resistance_mOhm", maybe(c.resistance_mOhm)},
               {"coulombic_efficiency", maybe(c.coulombic_efficiency)},
               {"energy_efficiency", maybe(c.energy_efficiency)}};
  json["verdict"] = c.judgement ? Json(bench::name(c.judgement->verdict)) : Json(nullptr);
  json["probability_conforming"] =
      c.judgement ? Json(c.judgement->probability_conforming) : Json(nullptr);
  return json;
}

}  // namespace

Json to_json(const Plan& plan) {
  Json json = Json::object();
  for (const Step* step : plan.steps()) json[step->name] = step_json(*step);
  Json offers = Json::array();
  for (const OfferResult& o : plan.offers)
    offers.push_back({{"name", o.offer.name},
                      {"chosen", o.offer.chosen},
                      {"total", base::to_json(o.total)},
                      {"per_cell", base::to_json(o.per_cell)},
                      {"per_kWh", base::to_json(o.per_kWh)}});
  json["choose"]["offers"] = std::move(offers);
  Json cells = Json::array();
  for (const CellResult& c : plan.cells) cells.push_back(cell_json(c));
  json["test"]["cells"] = std::move(cells);
  json["match"]["arrangement"] =
      plan.arrangement ? match::to_json(plan.arrangement->assignment, plan.arrangement->labels)
                       : Json(nullptr);
  json["wire"]["pack_currents_A"] = plan.pack_currents_A;
  Json settings = Json::array();
  for (const commission::Setting& s : plan.settings)
    settings.push_back({{"device", s.device},
                        {"name", s.name},
                        {"value", s.value},
                        {"per_cell", s.per_cell},
                        {"reason", s.reason},
                        {"basis", s.basis}});
  json["commission"]["settings"] = std::move(settings);
  Json years = Json::array();
  for (const YearForecast& y : plan.years)
    years.push_back({{"year", y.year}, {"low", y.low}, {"high", y.high}});
  json["forecast"]["years"] = std::move(years);
  json["findings"] = base::to_json(plan.findings);
  return json;
}

}  // namespace works

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
               {"reference_capacity_Ah", maybe(c.reference_capacity_Ah)},
               {"effective_capacity_Ah", maybe(c.effective_capacity_Ah)},
               {"channel", c.channel},
               {"capacity_before_Ah", maybe(c.capacity_before_Ah)}};
  json["coulombic_efficiency"] = maybe(c.coulombic_efficiency);
  json["energy_efficiency"] = maybe(c.energy_efficiency);
  json["temperature_C"] = maybe(c.temperature_C);
  json["set_aside_for"] = c.reason;
  json["left_out_of_log"] = c.left_out;
  Json budget = Json::array();
  for (const bench::BudgetLine& line : c.budget)
    budget.push_back({{"input", line.input},
                      {"u", line.u},
                      {"sensitivity", line.sensitivity},
                      {"contribution_Ah", line.contribution_Ah}});
  json["budget"] = std::move(budget);
  json["verdict"] = c.judgement ? Json(bench::name(c.judgement->verdict)) : Json(nullptr);
  json["probability_conforming"] =
      c.judgement ? Json(c.judgement->probability_conforming) : Json(nullptr);
  return json;
}

Json lot_json(const std::vector<LotResult>& lot) {
  Json all = Json::object();
  for (const LotResult& r : lot) {
    const bench::Distribution& d = r.distribution;
    Json json = {{"unit", r.quantity.unit},
                 {"count", d.count},
                 {"median", d.median},
                 {"mean", d.mean},
                 {"sd", d.sd},
                 {"mad", d.mad},
                 {"lowest", d.lowest},
                 {"highest", d.highest},
                 {"histogram",
                  {{"from", d.histogram.from},
                   {"width", d.histogram.width},
                   {"counts", d.histogram.counts}}},
                 {"outliers", nullptr},
                 {"limit", nullptr}};
    const auto labels = [&](const std::vector<std::size_t>& indices) {
      Json list = Json::array();
      for (const std::size_t i : indices) list.push_back(r.quantity.labels[i]);
      return list;
    };
    if (r.outliers)
      json["outliers"] = {{"grubbs", labels(r.outliers->by_grubbs)},
                          {"grubbs_statistic", r.outliers->grubbs_statistic},
                          {"grubbs_critical", r.outliers->grubbs_critical},
                          {"median_mad", labels(r.outliers->by_median)}};
    if (r.limit) {
      Json verdicts = Json::object();
      for (std::size_t k = 0; k < r.judgements.size(); ++k)
        verdicts[r.quantity.labels[k]] = bench::name(r.judgements[k].verdict);
      json["limit"] = {{"value", r.limit->value},
                       {"side", r.limit->side == bench::LimitSide::lower ? "lower" : "upper"},
                       {"verdicts", std::move(verdicts)}};
    }
    all[r.quantity.key] = std::move(json);
  }
  return all;
}

Json calibration_json(const std::optional<bench::Calibration>& c) {
  if (!c) return nullptr;
  Json channels = Json::array();
  for (const bench::Channel& channel : c->channels) {
    Json json = {
        {"channel", channel.name},
        {"gain_percent", {{"value", channel.gain_percent.value}, {"u", channel.gain_percent.u}}},
        {"offset_A", nullptr},
        {"runs", channel.runs},
        {"before_percent", channel.before_percent},
        {"after_percent", channel.after_percent}};
    if (channel.offset_A)
      json["offset_A"] = {{"value", channel.offset_A->value}, {"u", channel.offset_A->u}};
    channels.push_back(std::move(json));
  }
  return {{"reference_Ah", c->reference_Ah},
          {"trusted", c->trusted},
          {"spread_before_percent", c->spread_before_percent},
          {"spread_after_percent", c->spread_after_percent},
          {"repeatability_percent", c->repeatability_percent},
          {"channels", std::move(channels)}};
}

Json maybe(const std::optional<double>& x) { return x ? Json(*x) : Json(nullptr); }

Json runs_json(const wiring::CircuitResult& circuit) {
  Json runs = Json::array();
  for (const wiring::RunResult& r : circuit.runs) {
    Json checks = Json::array();
    for (const wiring::Check& c : r.checks)
      checks.push_back({{"check", c.name},
                        {"value", c.value},
                        {c.at_most ? "at_most" : "at_least", c.limit},
                        {"unit", c.unit},
                        {"passed", c.passed()}});
    runs.push_back({{"name", r.run.name},
                    {"from", wiring::name(r.run.from)},
                    {"to", wiring::name(r.run.to)},
                    {"length_m", r.run.length_m},
                    {"area_mm2", r.area_mm2},
                    {"awg", r.run.awg},
                    {"proposed", r.proposed},
                    {"decided_by", r.decided_by},
                    {"current_A", maybe(r.current_A)},
                    {"ampacity_A", r.ampacity_A},
                    {"drop_V", r.drop_V},
                    {"drop_percent", r.drop_percent},
                    {"loss_W", r.loss_W},
                    {"fault_high_A", r.fault.high_A},
                    {"fault_low_A", r.fault.low_A},
                    {"fed_by_packs", r.fault.packs_high},
                    {"protected_by", r.protected_by},
                    {"fuse_A", r.fuse_A},
                    {"opens_at_high_s", maybe(r.opens_high_s)},
                    {"opens_at_low_s", maybe(r.opens_low_s)},
                    {"checks", std::move(checks)}});
  }
  return runs;
}

Json devices_json(const wiring::Circuit& circuit) {
  Json devices = Json::array();
  for (const wiring::Device& d : circuit.devices)
    devices.push_back({{"name", d.name},
                       {"kind", wiring::name(d.kind)},
                       {"at", d.at},
                       {"rated_A", maybe(d.rated_A)},
                       {"rated_V_dc", maybe(d.rated_V)},
                       {"breaking_kA_dc", maybe(d.breaking_kA)},
                       {"curve", d.curve == wiring::FuseCurve::gg ? "gG" : ""},
                       {"polarised", d.polarised ? Json(*d.polarised) : Json(nullptr)}});
  return {{"given", circuit.devices_given}, {"devices", std::move(devices)}};
}

Json joints_json(const wiring::JointMap& map) {
  Json joints = Json::array();
  for (const wiring::Joint& j : map.joints)
    joints.push_back({{"joint", j.name},
                      {"expected_uOhm", j.expected_uOhm},
                      {"measured_uOhm", maybe(j.measured_uOhm)},
                      {"drop_mV", j.drop_mV},
                      {"heat_W", j.heat_W},
                      {"stands_out", j.stands_out}});
  return {{"measured", map.measured}, {"joints", std::move(joints)}};
}

Json sense_json(const std::vector<commission::SenseTable>& tables) {
  Json json = Json::array();
  for (const commission::SenseTable& t : tables) {
    Json pins = Json::array();
    for (const commission::SensePin& p : t.pins)
      pins.push_back({{"pin", p.pin},
                      {"expected_V", p.expected_V},
                      {"read_V", maybe(p.read_V)},
                      {"step_V", maybe(p.step_V)},
                      {"verdict", p.verdict}});
    json.push_back({{"pack", layout::pack_name(t.pack)},
                    {"complete", t.complete},
                    {"right", t.right},
                    {"pins", std::move(pins)}});
  }
  return json;
}

Json box_json(const std::optional<layout::Box>& box) {
  if (!box) return nullptr;
  namespace units = base::units;
  Json slots = Json::array();
  for (const layout::Slot& s : box->slots)
    slots.push_back({{"group", s.group},
                     {"member", s.member},
                     {"row", s.row},
                     {"x_mm", s.x.in(units::mm)},
                     {"y_mm", s.y.in(units::mm)},
                     {"positive_far", s.positive_far}});
  Json links = Json::array();
  for (const layout::Link& l : box->links)
    links.push_back({{"from_group", l.from_group}, {"across_rows", l.across_rows}});
  return {{"width_mm", box->width.in(units::mm)},
          {"depth_mm", box->depth.in(units::mm)},
          {"cell_thickness_mm", box->cell_thickness.in(units::mm)},
          {"cell_width_mm", box->cell_width.in(units::mm)},
          {"rows", box->rows},
          {"slots", std::move(slots)},
          {"links", std::move(links)}};
}

Json queue_json(const std::optional<bench::Queue>& q) {
  if (!q) return nullptr;
  Json slots = Json::array();
  for (const bench::QueueSlot& s : q->slots)
    slots.push_back({{"cell", s.label},
                     {"tester", s.tester},
                     {"start_h", s.start_h},
                     {"full_h", s.full_h},
                     {"discharge_h", s.discharge_h},
                     {"empty_h", s.empty_h},
                     {"end_h", s.end_h},
                     {"end_charge", s.end_charge},
                     {"charged_from", s.charged_from}});
  return {{"days", q->days},
          {"hours_a_cell", q->hours_a_cell},
          {"attended_h", q->attended_h},
          {"attended_at_h", q->attended_at_h},
          {"slots", std::move(slots)}};
}

}  // namespace

Json to_json(const Plan& plan) {
  Json json = Json::object();
  for (const Step* step : plan.steps()) json[step->name] = step_json(*step);
  Json offers = Json::array();
  for (const OfferResult& o : plan.offers)
    offers.push_back(
        {{"name", o.offer.name},
         {"chosen", o.offer.chosen},
         {"total", base::to_json(o.total)},
         {"per_cell", base::to_json(o.per_cell)},
         {"per_kWh", base::to_json(o.per_kWh)},
         {"per_kWh_out", o.life_years > 0.0 ? base::to_json(o.per_kWh_out) : Json(nullptr)},
         {"life_years", o.life_years}});
  json["choose"]["offers"] = std::move(offers);
  Json turns = Json::array();
  for (const Turn& t : plan.turns)
    turns.push_back({{"assumption", t.what}, {"factor", t.factor}, {"then_cheapest", t.then}});
  json["choose"]["turns"] = std::move(turns);
  Json margins = Json::array();
  for (const Margin& m : plan.margins)
    margins.push_back({{"assumption", m.what}, {"at_half", m.low}, {"at_double", m.high}});
  json["choose"]["margin"] = {{"now", plan.margin}, {"moved", std::move(margins)}};
  Json cells = Json::array();
  for (const CellResult& c : plan.cells) cells.push_back(cell_json(c));
  json["test"]["cells"] = std::move(cells);
  json["test"]["lot"] = lot_json(plan.lot);
  json["test"]["testers"] = calibration_json(plan.calibration);
  json["test"]["queue"] = queue_json(plan.queue);
  json["match"]["arrangement"] =
      plan.arrangement ? match::to_json(plan.arrangement->assignment, plan.arrangement->labels)
                       : Json(nullptr);
  json["match"]["box"] = box_json(plan.box);
  json["wire"]["pack_currents_A"] = plan.pack_currents_A;
  json["wire"]["runs"] = runs_json(plan.circuit);
  json["wire"]["circuit"] = devices_json(plan.circuit.circuit);
  json["wire"]["joint_map"] = joints_json(plan.joints);
  json["commission"]["sense"] = sense_json(plan.sense);
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
  Json sizes = Json::array(), flows = nullptr;
  if (plan.house) {
    for (const site::SizePoint& point : plan.house->sizes)
      sizes.push_back({{"nominal_kWh", point.nominal_kWh},
                       {"self_sufficiency", point.outcome.self_sufficiency()},
                       {"saving_year", point.saving},
                       {"next_kWh_saving_year", point.next_kWh_saving}});
    flows = plan.house->flows;
  }
  json["size"]["sizes"] = std::move(sizes);
  json["forecast"]["flows"] = std::move(flows);
  json["findings"] = findings::to_json(plan.findings);
  return json;
}

}  // namespace works

// SPDX-License-Identifier: Apache-2.0
#include "bench/measure.hpp"

namespace bench {
namespace {

using base::Json;

Json json_of(const std::optional<Measure>& m) {
  if (!m) return nullptr;
  return {{"value", m->value}, {"u", m->u}};
}
Json json_of(const std::optional<double>& x) { return x ? Json(*x) : Json(nullptr); }
Json json_of(const std::optional<DcResistance>& r) {
  if (!r) return nullptr;
  return {{"value", r->mOhm.value}, {"u", r->mOhm.u}, {"time_s", r->time_s}, {"steps", r->steps}};
}

Json phases_json(const std::vector<Phase>& phases) {
  Json array = Json::array();
  for (const Phase& p : phases)
    array.push_back({{"kind", name(p.kind)},
                     {"mode", name(p.mode)},
                     {"start_s", p.start_s},
                     {"end_s", p.end_s},
                     {"charge_Ah", p.charge_Ah},
                     {"energy_Wh", p.energy_Wh},
                     {"mean_current_A", p.mean_current_A},
                     {"start_V", p.start_V},
                     {"end_V", p.end_V}});
  return array;
}

Json runs_json(const std::vector<Run>& runs) {
  Json array = Json::array();
  for (const Run& r : runs)
    array.push_back({{"kind", name(r.kind)},
                     {"cycle", r.cycle},
                     {"whole", finished(r) || emptied(r)},
                     {"start_s", r.start_s},
                     {"end_s", r.end_s},
                     {"charge_Ah", r.charge_Ah},
                     {"energy_Wh", r.energy_Wh},
                     {"end_V", r.end_V},
                     {"interruptions", r.interruptions},
                     {"interrupted_s", r.interrupted_s}});
  return array;
}

Json rests_json(const std::vector<Rest>& rests) {
  Json array = Json::array();
  for (const Rest& r : rests)
    array.push_back({{"start_s", r.start_s},
                     {"rest_s", r.seconds},
                     {"voltage_V", r.end_V},
                     {"after", r.after ? Json(name(*r.after)) : Json(nullptr)},
                     {"state_of_charge", json_of(r.state_of_charge)}});
  return array;
}

Json measures_json(const logs::Log& log, const Measures& m) {
  Json json = {{"discharge_capacity_Ah", json_of(m.discharge_capacity_Ah)},
               {"charge_capacity_Ah", json_of(m.charge_capacity_Ah)},
               {"discharge_energy_Wh", json_of(m.discharge_energy_Wh)},
               {"charge_energy_Wh", json_of(m.charge_energy_Wh)},
               {"charged_Ah", m.totals.charged_Ah},
               {"discharged_Ah", m.totals.discharged_Ah},
               {"net_Ah", m.totals.charged_Ah - m.totals.discharged_Ah},
               {"charged_Wh", m.totals.charged_Wh},
               {"discharged_Wh", m.totals.discharged_Wh},
               {"counter_Ah", log.counter_Ah > 0.0 ? Json(log.counter_Ah) : Json(nullptr)},
               {"coulombic_efficiency", json_of(m.coulombic_efficiency)},
               {"energy_efficiency", json_of(m.energy_efficiency)},
               {"mean_discharge_V", json_of(m.mean_discharge_V)},
               {"mean_charge_V", json_of(m.mean_charge_V)},
               {"tail_charge_Ah", json_of(m.tail_charge_Ah)},
               {"dc_resistance_mOhm", nullptr},
               {"resistance_time_s", nullptr},
               {"dc_resistance_1s_mOhm", json_of(m.resistance_1s)},
               {"dc_resistance_10s_mOhm", json_of(m.resistance)},
               {"dc_resistance_30s_mOhm", json_of(m.resistance_30s)},
               {"mean_temperature_C", json_of(m.mean_temperature_C)},
               {"lead_drop_mV", json_of(m.lead_drop_mV)},
               {"rest_drift_mV_per_day", nullptr},
               {"self_discharge_percent_month", json_of(m.self_discharge_percent_month)},
               {"reference_capacity_Ah", nullptr},
               {"discharge_capacity_bounds_Ah", nullptr},
               {"discharge_capacity_likely_Ah", nullptr},
               {"leads_mOhm", json_of(m.leads_mOhm)},
               {"conditions", nullptr}};
  if (m.capacity_bounds_Ah) json["discharge_capacity_bounds_Ah"] = *m.capacity_bounds_Ah;
  if (m.likely_capacity_Ah) json["discharge_capacity_likely_Ah"] = *m.likely_capacity_Ah;
  if (m.resistance) {
    json["dc_resistance_mOhm"] = {{"value", m.resistance->mOhm.value}, {"u", m.resistance->mOhm.u}};
    json["resistance_time_s"] = m.resistance->time_s;
  }
  if (m.rest_drift)
    json["rest_drift_mV_per_day"] = {{"value", m.rest_drift->mV_per_day},
                                     {"u", m.rest_drift->u_mV_per_day},
                                     {"days", m.rest_drift->days}};
  if (m.reference)
    json["reference_capacity_Ah"] = {{"value", m.reference->capacity_Ah.value},
                                     {"u", m.reference->capacity_Ah.u},
                                     {"from_end_Ah", m.reference->from_end_Ah},
                                     {"from_temperature_Ah", m.reference->from_temperature_Ah}};
  if (m.conditions)
    json["conditions"] = {
        {"current_A", m.conditions->current_A}, {"rate_per_h", m.conditions->rate_per_h},
        {"end_V", m.conditions->end_V},         {"full_V", m.conditions->full_V},
        {"tail_A", m.conditions->tail_A},       {"rest_h", m.conditions->rest_h}};
  Json peaks = Json::array(), budget = Json::array();
  for (const IncrementalPeak& p : m.peaks)
    peaks.push_back({{"voltage_V", p.voltage_V}, {"per_V", p.per_V}});
  json["incremental_capacity_peaks"] = m.peaks.empty() ? Json(nullptr) : std::move(peaks);
  for (const BudgetLine& line : m.capacity_budget)
    budget.push_back({{"input", line.input},
                      {"u", line.u},
                      {"sensitivity", line.sensitivity},
                      {"contribution_Ah", line.contribution_Ah}});
  json["capacity_budget"] = m.capacity_budget.empty() ? Json(nullptr) : std::move(budget);
  return json;
}

}  // namespace

Json to_json(const logs::Log& log, const Report& report) {
  Json columns = Json::array(), left_out = Json::array();
  for (const logs::Column& c : log.columns)
    columns.push_back(
        {{"meaning", c.meaning}, {"header", c.header}, {"unit", c.unit}, {"scale", c.scale}});
  for (const logs::LeftOut& l : log.left_out)
    left_out.push_back({{"reason", l.reason}, {"count", l.count}, {"lines", l.lines}});
  return {{"rows", log.rows_used()},
          {"rows_rejected", log.rows_left_out()},
          {"columns", std::move(columns)},
          {"left_out", std::move(left_out)},
          {"phases", phases_json(report.phases)},
          {"runs", runs_json(report.runs)},
          {"open_circuit", rests_json(report.rests)},
          {"measures", measures_json(log, report.measures)},
          {"findings", findings::to_json(report.findings)}};
}

}  // namespace bench

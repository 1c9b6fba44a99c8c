// SPDX-License-Identifier: Apache-2.0
#include "life/reckonings.hpp"

#include "base/input_error.hpp"
#include "life/ageing.hpp"

namespace life {
namespace {

namespace units = base::units;
using base::Answer;
using base::Arguments;
using InputKind = base::InputSpec::Kind;

constexpr std::string_view small_cells =
    "The law was fitted on 2 to 3 Ah cylindrical cells; large prismatic cells may age faster or "
    "slower. "
    "Take several laws as a band, never one as the truth.";

Answer run_calendar_loss(const Arguments& in) {
  const CalendarLaw law =
      in.text("law") == "naumann-2018" ? CalendarLaw::naumann_2018 : CalendarLaw::schimpe_2018;
  const auto temperature = base::Temperature::from_C(in.number("temperature_C"));
  const base::Seconds time = in.number("days") * units::day;
  Answer answer{{{"capacity_loss_percent",
                  calendar_loss(law, temperature, in.number("state_of_charge"), time) * 100.0}}};
  if (!fitted(law, temperature, time))
    answer.cautions.emplace_back(
        "Outside the range in which the law was fitted (0 to 60 °C, 885 days): extrapolated.");
  return answer;
}

Answer run_cycle_loss(const Arguments& in) {
  const CycleLaw law = in.text("law") == "naumann-2020" ? CycleLaw::naumann_2020
                       : in.text("law") == "wang-2011"  ? CycleLaw::wang_2011
                                                        : CycleLaw::schimpe_2018;
  Cycling cycling{.c_rate = in.number("c_rate"),
                  .depth = in.number("depth"),
                  .full_cycles = in.number("full_cycles"),
                  .mean_charge = in.number("state_of_charge")};
  if (in.has("temperature_C"))
    cycling.temperature = base::Temperature::from_C(in.number("temperature_C"));
  if (law != CycleLaw::naumann_2020 && !cycling.temperature)
    throw base::InputError({}, in.text("law") + " without temperature_C",
                           "a temperature: this law depends on it",
                           "add for example temperature=25C");
  Answer answer{{{"capacity_loss_percent", cycle_loss(law, cycling) * 100.0}}};
  if (!fitted(law, cycling))
    answer.cautions.emplace_back(
        "Outside the range of rate or temperature in which the law was fitted: extrapolated.");
  if (cycle_loss(law, cycling) > 1.0)
    answer.cautions.emplace_back(
        "More than the whole capacity: so far out the law no longer says anything.");
  return answer;
}

Answer run_cycle_count(const Arguments& in) {
  Answer answer;
  double equivalent = 0.0;
  answer.outputs["cycles"] = base::Json::array();
  for (const CountedCycle& c : count_cycles(in.list("values"))) {
    answer.outputs["cycles"].push_back({c.range, c.mean, c.count});
    equivalent += c.range * c.count;
  }
  answer.outputs["range_sum"] = equivalent;
  return answer;
}

}  // namespace

std::vector<base::Reckoning> reckonings() {
  const base::InputSpec charge = {.key = "state_of_charge",
                                  .suffix = "",
                                  .unit = "",
                                  .text = "state of charge, 0 to 1",
                                  .min = 0.0,
                                  .max = 1.0,
                                  .fallback = "0.5"};
  return {
      {.name = "calendar-loss",
       .title = "Capacity lost by storage",
       .inputs =
           {{.key = "law",
             .suffix = "",
             .unit = "",
             .text = "published law",
             .kind = InputKind::choice,
             .fallback = "naumann-2018",
             .choices = {"naumann-2018", "schimpe-2018"}},
            {.key = "temperature_C",
             .suffix = "C",
             .unit = "C",
             .text = "mean cell temperature",
             .min = -20,
             .max = 70,
             .fallback = "25"},
            charge,
            {.key = "days", .suffix = "", .unit = "days", .text = "days", .min = 0, .max = 36525}},
       .outputs = {{"capacity_loss_percent", "%", "of the capacity when new"}},
       .formula = "naumann-2018: kT · kS · √t;  schimpe-2018: k(T, Ua) · √t",
       .source = "[Naumann2018], [Schimpe2018] with [Safari2011], as transcribed",
       .validity = "fitted 0 to 60 °C over 885 days; a forecast over years extrapolates the square "
                   "root of time",
       .cautions = {small_cells},
       .run = run_calendar_loss,
       .example = "law=naumann-2018 temperature=25C state_of_charge=0.5 days=365.25"},
      {.name = "cycle-loss",
       .title = "Capacity lost by cycling",
       .inputs = {{.key = "law",
                   .suffix = "",
                   .unit = "",
                   .text = "published law",
                   .kind = InputKind::choice,
                   .fallback = "naumann-2020",
                   .choices = {"naumann-2020", "wang-2011", "schimpe-2018"}},
                  {.key = "c_rate",
                   .suffix = "",
                   .unit = "",
                   .text = "rate of charge and discharge, 1/h",
                   .min = 0.01,
                   .max = 20},
                  {.key = "depth",
                   .suffix = "",
                   .unit = "",
                   .text = "depth of the cycle, 0 to 1",
                   .min = 0.01,
                   .max = 1},
                  {.key = "full_cycles",
                   .suffix = "",
                   .unit = "",
                   .text = "equivalent full cycles",
                   .min = 0,
                   .max = 1e5},
                  {.key = "temperature_C",
                   .suffix = "C",
                   .unit = "C",
                   .text = "cell temperature (not for naumann-2020)",
                   .min = -20,
                   .max = 70,
                   .optional = true},
                  charge},
       .outputs = {{"capacity_loss_percent", "%", "of the capacity when new"}},
       .formula =
           "naumann-2020: kC · kD · √N;  wang-2011: B · exp[(−31700 + 370.3 C)/(R T)] · Ah^0.55;  "
           "schimpe-2018: film growth + plating + plating at high charge",
       .source = "[Naumann2020], [Wang2011], [Schimpe2018], as transcribed",
       .validity = "naumann-2020 0.2 to 1 C; wang-2011 0.5 to 10 C and storage is included; add "
                   "calendar-loss to the others",
       .cautions = {small_cells},
       .run = run_cycle_loss,
       .example = "law=naumann-2020 c_rate=0.5 depth=1 full_cycles=1000"},
      {.name = "cycle-count",
       .title = "Cycles in a history, by rainflow counting",
       .inputs = {{.key = "values",
                   .suffix = "",
                   .unit = "",
                   .text = "the history",
                   .min = -1e12,
                   .max = 1e12,
                   .kind = InputKind::list}},
       .outputs = {{"cycles", "", "range, mean and count of each"},
                   {"range_sum", "",
                    "sum of count · range; for a state of charge, equivalent full cycles"}},
       .formula = "rainflow: X newest range, Y the one before; X ≥ Y closes Y",
       .source = "[ASTM-E1049] 5.4.4",
       .validity = "the history as it stands; a repeating one is closed first by the caller",
       .cautions = {},
       .run = run_cycle_count,
       .example = "values=-2,1,-3,5,-1,3,-4,4,-2"},
  };
}

}  // namespace life

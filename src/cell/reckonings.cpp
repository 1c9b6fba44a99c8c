// SPDX-License-Identifier: Apache-2.0
#include "cell/reckonings.hpp"

#include "base/figure.hpp"
#include "cell/chemistry.hpp"

namespace cell {
namespace {

namespace units = base::units;
using base::Answer;
using base::Arguments;
using InputKind = base::InputSpec::Kind;

Answer run_open_circuit_voltage(const Arguments& in) {
  return {{{"voltage_V", open_circuit_voltage(in.number("state_of_charge")).in(units::V)}}};
}

Answer run_charge_from_rest(const Arguments& in) {
  const auto span =
      charge_from_rest(in.number("voltage_V") * units::V, in.number("half_width_mV") * units::mV);
  if (!span)
    return {{{"lowest", nullptr}, {"highest", nullptr}},
            {"No state of charge of a rested LFP cell gives this voltage: check the meter and the "
             "cell."}};
  Answer answer{{{"lowest", span->low}, {"highest", span->high}}};
  if (span->high - span->low > 0.05)
    answer.cautions.emplace_back(
        "This reading lies on the flat part: it cannot tell the charge, nor compare cells. "
        "Equal voltage is not equal charge.");
  return answer;
}

Answer run_cell_heat(const Arguments& in) {
  const Heat h = heat(in.number("current_A") * units::A, in.number("resistance_mOhm") * units::mOhm,
                      in.number("entropic_mV_K") * units::mV_per_K,
                      base::Temperature::from_C(in.number("temperature_C")));
  return {{{"joule_W", h.joule.in(units::W)}, {"reversible_W", h.reversible.in(units::W)}}};
}

}  // namespace

std::vector<base::Reckoning> reckonings() {
  return {
      {.name = "open-circuit-voltage",
       .title = "Rested voltage of a cell at a state of charge",
       .inputs = {{.key = "chemistry",
                   .suffix = "",
                   .unit = "",
                   .text = "chemistry of the cell",
                   .kind = InputKind::choice,
                   .fallback = "lfp",
                   .choices = {"lfp"}},
                  {.key = "state_of_charge",
                   .suffix = "",
                   .unit = "",
                   .text = "state of charge, 0 to 1",
                   .min = 0.0,
                   .max = 1.0}},
       .outputs = {{"voltage_V", "V", "open-circuit voltage, mean of both branches, 25 °C"}},
       .formula = "straight lines between the points of a measured table",
       .source = "[Sunil2025] pseudo open-circuit voltage at C/32, 600 points thinned to 38",
       .validity =
           "LFP against graphite near 25 °C; other cells differ by 10–25 mV on the flat part",
       .cautions = {"Do not read charge off the flat part of this curve: see charge-from-rest."},
       .run = run_open_circuit_voltage,
       .example = "state_of_charge=0.5"},
      {.name = "charge-from-rest",
       .title = "What a rested voltage says of the charge, and what it does not",
       .inputs = {{.key = "voltage_V",
                   .suffix = "V",
                   .unit = "V",
                   .text = "voltage after a long rest",
                   .min = 1.0,
                   .max = 4.0},
                  {.key = "half_width_mV",
                   .suffix = "mV",
                   .unit = "mV",
                   .text = "how far it may be off: meter, rest, hysteresis",
                   .min = 0.0,
                   .max = 200.0,
                   .fallback = "5"}},
       .outputs = {{"lowest", "", "lowest state of charge that fits"},
                   {"highest", "", "highest state of charge that fits"}},
       .formula = "all s with |OCV(s) − U| ≤ half width",
       .source = "[Sunil2025] table of open-circuit-voltage",
       .validity =
           "rested LFP cells near 25 °C; with ± 5 mV a reading at half charge allows 39 to 62 %",
       .cautions = {},
       .run = run_charge_from_rest,
       .example = "voltage=3.299V half_width=5mV"},
      {.name = "cell-heat",
       .title = "Heat that a cell gives off while it carries a current",
       .inputs = {{.key = "current_A",
                   .suffix = "A",
                   .unit = "A",
                   .text = "current, discharge positive",
                   .min = -5000.0,
                   .max = 5000.0},
                  {.key = "resistance_mOhm",
                   .suffix = "mOhm",
                   .unit = "mOhm",
                   .text = "DC resistance for the length of the load",
                   .min = 0.0,
                   .max = 1000.0},
                  {.key = "entropic_mV_K",
                   .suffix = "mV_K",
                   .unit = "mV/K",
                   .text = "entropic coefficient dU/dT at the state of charge",
                   .min = -2.0,
                   .max = 2.0,
                   .fallback = "0"},
                  {.key = "temperature_C",
                   .suffix = "C",
                   .unit = "C",
                   .text = "cell temperature",
                   .min = -40.0,
                   .max = 80.0,
                   .fallback = "25"}},
       .outputs = {{"joule_W", "W", "heat of the resistance"},
                   {"reversible_W", "W", "reversible heat; positive warms, negative cools"}},
       .formula = "joule = I² R;  reversible = −I T dU/dT",
       .source = "[Bernardi1985] two-term energy balance",
       .validity = "any cell; the resistance must suit the length of the load",
       .cautions = {"Use a DC resistance here: a 1 kHz value understates the heat."},
       .run = run_cell_heat,
       .example = "current=115A resistance=0.5mOhm entropic=-0.30 temperature=25C"},
  };
}

}  // namespace cell

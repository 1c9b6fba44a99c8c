// SPDX-License-Identifier: Apache-2.0
#include "bank/reckonings.hpp"

#include "bank/figures.hpp"
#include "base/input_error.hpp"

namespace bank {
namespace {

namespace units = base::units;
using base::Answer;
using base::Arguments;
using base::InputSpec;
using InputKind = base::InputSpec::Kind;

Answer run_bank_figures(const Arguments& in) {
  if (in.number("cell_min_V") >= in.number("cell_max_V"))
    throw base::InputError({}, "cell_min_V not below cell_max_V",
                           "the lower limit below the upper one",
                           "take both from the cell's sheet, for example 2.5 and 3.65");
  const Figures f =
      figures(in.whole("packs"), in.whole("series"), in.whole("parallel"),
              in.number("capacity_Ah") * units::Ah, in.number("cell_nominal_V") * units::V,
              in.number("cell_min_V") * units::V, in.number("cell_max_V") * units::V,
              in.number("power_W") * units::W);
  return {{{"nominal_V", f.nominal.in(units::V)},
           {"min_V", f.min.in(units::V)},
           {"max_V", f.max.in(units::V)},
           {"energy_kWh", f.energy.in(units::kWh)},
           {"current_A", f.current.in(units::A)},
           {"cell_current_A", f.cell_current.in(units::A)},
           {"c_rate", f.c_rate}}};
}

InputSpec count(std::string_view key, std::string_view text) {
  return {.key = key,
          .suffix = "",
          .unit = "",
          .text = text,
          .min = 1,
          .max = 1000,
          .kind = InputKind::whole,
          .fallback = "1"};
}

InputSpec volts(std::string_view key, std::string_view text, std::string_view fallback) {
  return {.key = key,
          .suffix = "V",
          .unit = "V",
          .text = text,
          .min = 0.5,
          .max = 10,
          .fallback = fallback};
}

}  // namespace

std::vector<base::Reckoning> reckonings() {
  return {
      {.name = "bank-figures",
       .title = "Voltages, energy and currents of a bank",
       .inputs = {count("packs", "packs in parallel"),
                  count("series", "groups in series in a pack"),
                  count("parallel", "cells in parallel in a group"),
                  {.key = "capacity_Ah",
                   .suffix = "Ah",
                   .unit = "Ah",
                   .text = "capacity of one cell",
                   .min = 0.01,
                   .max = 10000,
                   .fallback = "100"},
                  volts("cell_nominal_V", "nominal voltage of a cell", "3.2"),
                  volts("cell_min_V", "lower limit of a cell", "2.5"),
                  volts("cell_max_V", "upper limit of a cell", "3.65"),
                  {.key = "power_W",
                   .suffix = "W",
                   .unit = "W",
                   .text = "continuous power at the bus",
                   .min = 0.0,
                   .max = 1e7,
                   .fallback = "0"}},
       .outputs = {{"nominal_V", "V", "nominal bus voltage"},
                   {"min_V", "V", "all cells at their lower limit"},
                   {"max_V", "V", "all cells at their upper limit"},
                   {"energy_kWh", "kWh", "nominal voltage times capacity"},
                   {"current_A", "A", "of the bank, at nominal voltage"},
                   {"cell_current_A", "A", "of one cell"},
                   {"c_rate", "1/h", "cell current over capacity"}},
       .formula = "U = S · u;  E = U · C · K · P;  I = power / U;  i = I / (K · P);  rate = i / C",
       .source = "definitions; rate [IEC62620] 3",
       .validity = "equal sharing; near empty the current is higher than at nominal voltage",
       .cautions = {},
       .run = run_bank_figures,
       .example = "packs=2 series=16 parallel=1 capacity=230Ah power=5kW"},
  };
}

}  // namespace bank

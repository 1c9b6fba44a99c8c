// SPDX-License-Identifier: Apache-2.0
#include "commission/reckonings.hpp"

#include "commission/balance.hpp"

namespace commission {
namespace {

namespace units = base::units;
using Kind = base::InputSpec::Kind;

base::Answer run_top_balance_time(const base::Arguments& in) {
  const base::Seconds time =
      top_balance_time(in.whole("cells"), in.number("capacity_Ah") * units::Ah,
                       in.number("missing_percent") / 100.0, in.number("supply_A") * units::A);
  base::Answer answer{{{"hours", time.in(units::h)}}};
  if (time.in(units::h) > 24.0)
    answer.cautions.emplace_back(
        "Days rather than hours: charge in series under the BMS first, and balance in parallel "
        "only "
        "the last few percent.");
  return answer;
}

}  // namespace

std::vector<base::Reckoning> reckonings() {
  return {
      {.name = "top-balance-time",
       .title = "Hours to fill cells in parallel from one supply",
       .inputs = {{.key = "cells",
                   .suffix = "",
                   .unit = "",
                   .text = "cells in parallel",
                   .min = 1,
                   .max = 10000,
                   .kind = Kind::whole},
                  {.key = "capacity_Ah",
                   .suffix = "Ah",
                   .unit = "Ah",
                   .text = "capacity of one",
                   .min = 0.01,
                   .max = 10000},
                  {.key = "missing_percent",
                   .suffix = "percent",
                   .unit = "%",
                   .text = "charge missing from full",
                   .min = 0,
                   .max = 100},
                  {.key = "supply_A",
                   .suffix = "A",
                   .unit = "A",
                   .text = "current of the supply",
                   .min = 0.01,
                   .max = 10000}},
       .outputs = {{"hours", "h", "at the full current"}},
       .formula = "t = n · C · missing / I",
       .source = "charge over current, by definition",
       .validity = "the supply holds its current; the slow end and the drop in its leads add a "
                   "fifth to a half (common practice, no source)",
       .cautions =
           {"Do not leave the last hours alone: after a long flat wait the voltage climbs at once.",
            "Set the supply open circuit, with a meter, before it touches a cell."},
       .run = run_top_balance_time,
       .example = "cells=16 capacity=230Ah missing=70 supply=10A"},
  };
}

}  // namespace commission

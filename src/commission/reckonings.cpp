// SPDX-License-Identifier: Apache-2.0
#include "commission/reckonings.hpp"

#include <fmt/format.h>

#include "base/input_error.hpp"
#include "commission/balance.hpp"
#include "commission/storage.hpp"

namespace commission {
namespace {

namespace units = base::units;
using InputKind = base::InputSpec::Kind;

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

base::Answer run_lay_up(const base::Arguments& in) {
  const double from = in.number("from_percent"), to = in.number("to_percent");
  if (from < to)
    throw base::InputError({}, fmt::format("from {:g} % to {:g} %", from, to), "from above to",
                           "exchange the two");
  const double days =
      time_to_charge(from / 100.0, to / 100.0, in.number("capacity_Ah") * units::Ah,
                     in.number("drain_mA") * 1e-3 * units::A, in.number("leak_percent") / 100.0)
          .si() /
      86400.0;
  base::Answer answer{{{"days", days}, {"months", days / 30.44}}};
  if (days < 60.0) answer.cautions.emplace_back("Flat in one missed month: unplug what stays on.");
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
                   .kind = InputKind::whole},
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
      {.name = "lay-up",
       .title = "How long a store may be left alone",
       .inputs = {{.key = "capacity_Ah",
                   .suffix = "Ah",
                   .unit = "Ah",
                   .text = "of a pack",
                   .min = 0.01,
                   .max = 100000},
                  {.key = "from_percent",
                   .suffix = "percent",
                   .unit = "%",
                   .text = "charge that it is left at",
                   .min = 0,
                   .max = 100,
                   .fallback = "50"},
                  {.key = "to_percent",
                   .suffix = "percent",
                   .unit = "%",
                   .text = "charge at which it must be charged again",
                   .min = 0,
                   .max = 100,
                   .fallback = "20"},
                  {.key = "drain_mA",
                   .suffix = "mA",
                   .unit = "mA",
                   .text = "what stays on draws",
                   .min = 0,
                   .max = 1e5,
                   .fallback = "20"},
                  {.key = "leak_percent",
                   .suffix = "percent",
                   .unit = "%",
                   .text = "self-discharge a month",
                   .min = 0.001,
                   .max = 50,
                   .fallback = "2"}},
       .outputs = {{"days", "days", "until then"}, {"months", "months", "the same"}},
       .formula = "t = (from − to) / (drain / C + leak / month)",
       .source = "charge over current, by definition",
       .validity = "self-discharge as assumed; a cell of the lot may lose far more",
       .cautions = {"A cell found below 1.5 V is never charged again."},
       .run = run_lay_up,
       .example = "capacity=230Ah from=50 to=0 drain=20mA leak=0.001"},
  };
}

}  // namespace commission

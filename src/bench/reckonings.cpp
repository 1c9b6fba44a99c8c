// SPDX-License-Identifier: Apache-2.0
#include "bench/reckonings.hpp"

#include <fmt/format.h>

#include "base/input_error.hpp"
#include "base/statistics.hpp"
#include "bench/uncertainty.hpp"

namespace bench {
namespace {

namespace units = base::units;
using base::Answer;
using base::Arguments;
using base::number_input;
using InputKind = base::InputSpec::Kind;

Answer run_capacity_uncertainty(const Arguments& in) {
  const Capacity c = capacity_with_uncertainty(
      {.current = in.number("current_A") * units::A,
       .time = in.number("hours") * units::h,
       .temperature = base::Temperature::from_C(in.number("temperature_C")),
       .gain_percent = in.number("gain_percent"),
       .offset_A = in.number("offset_A"),
       .clock_ppm = in.number("clock_ppm"),
       .temperature_halfwidth_K = in.number("temperature_halfwidth_K"),
       .coefficient_percent_K = in.number("coefficient_percent_K"),
       .coefficient_halfwidth_percent_K = in.number("coefficient_halfwidth_percent_K"),
       .cutoff_mV = in.number("cutoff_mV"),
       .cutoff_slope_Ah_V = in.number("cutoff_slope_Ah_V"),
       .repeatability_Ah = in.number("repeatability_Ah")});
  Answer answer{{{"capacity_Ah", c.at_25C.in(units::Ah)},
                 {"u_Ah", c.u.in(units::Ah)},
                 {"U95_Ah", c.expanded.in(units::Ah)}}};
  for (const BudgetLine& line : c.budget)
    answer.outputs["budget_Ah"][std::string(line.input)] = line.contribution_Ah;
  return answer;
}

Answer run_guard_band(const Arguments& in) {
  const Judgement j = judge(in.number("value"), in.number("u"), in.number("limit"),
                            in.text("side") == "lower" ? LimitSide::lower : LimitSide::upper,
                            in.number("risk_percent") / 100.0);
  return {{{"verdict", name(j.verdict)}, {"probability_conforming", j.probability_conforming}}};
}

Answer run_outliers(const Arguments& in) {
  const std::vector<double>& values = in.list("values");
  if (values.size() < 3)
    throw base::InputError({}, fmt::format("{} values", values.size()), "three values or more",
                           "give the whole lot's readings, comma-separated");
  const base::Side side = in.text("side") == "two"   ? base::Side::two
                          : in.text("side") == "max" ? base::Side::max
                                                     : base::Side::min;
  const bool grubbs = in.text("test") == "grubbs";
  const base::OutlierTest test =
      grubbs ? base::grubbs(values, side, in.number("alpha")) : base::modified_z(values, side);
  Answer answer;
  answer.outputs["outliers"] = base::Json::array();
  for (const std::size_t i : test.outliers) answer.outputs["outliers"].push_back(values[i]);
  if (std::isfinite(test.statistic))
    answer.outputs["statistic"] = test.statistic;
  else
    answer.outputs["statistic"] = nullptr;
  answer.outputs["critical"] = test.critical;
  if (!std::isfinite(test.statistic))
    answer.cautions.emplace_back(
        "More than half the values are equal: every other one stands out.");
  if (grubbs && values.size() < 7)
    answer.cautions.emplace_back("With fewer than seven values the test finds little.");
  return answer;
}

}  // namespace

std::vector<base::Reckoning> reckonings() {
  return {
      {.name = "capacity-uncertainty",
       .title = "Capacity by integrating current, and how sure it is",
       .inputs =
           {number_input("current_A", "A", "A", "mean current shown", 0.001, 5000, std::nullopt),
            number_input("hours", "", "h", "hours until the cut-off", 0.001, 10000, std::nullopt),
            number_input("gain_percent", "percent", "%", "half-width of the current's gain", 0, 20,
                         "0.5"),
            number_input("offset_A", "A", "A", "half-width of the current's offset", 0, 100,
                         "0.10"),
            number_input("clock_ppm", "ppm", "ppm", "half-width of the clock's rate", 0, 1e5, "50"),
            number_input("temperature_C", "C", "C", "cell temperature", -40, 80, "23"),
            number_input("temperature_halfwidth_K", "K", "K", "half-width of that temperature", 0,
                         30, "2"),
            number_input("coefficient_percent_K", "percent_K", "%/K",
                         "change of capacity with temperature", -5, 5, "0.1"),
            number_input("coefficient_halfwidth_percent_K", "percent_K", "%/K",
                         "half-width of that change", 0, 5, "0.05"),
            number_input("cutoff_mV", "mV", "mV", "half-width of the cut-off voltage", 0, 500, "5"),
            number_input("cutoff_slope_Ah_V", "Ah_V", "Ah/V", "charge per volt at the cut-off", 0,
                         1e4, "11.6"),
            number_input("repeatability_Ah", "Ah", "Ah", "standard deviation of the test repeated",
                         0, 1e4, "0.300")},
       .outputs = {{"capacity_Ah", "Ah", "brought to 25 °C"},
                   {"u_Ah", "Ah", "combined standard uncertainty"},
                   {"U95_Ah", "Ah", "expanded, k = 2"},
                   {"budget_Ah", "Ah", "what each input contributes"}},
       .formula = "Q = I t [1 + a (25 − T)];  u² = Σ (∂Q/∂x · u(x))²;  half-widths are "
                  "rectangular, u = a/√3",
       .source = "[JCGM100] 4.3.7, 5.1.2, 6.2.1",
       .validity = "constant current; the temperature coefficient holds from 10 to 30 °C",
       .cautions = {"Differences between cells on one tester are surer than each by itself: gain, "
                    "offset and clock cancel."},
       .run = run_capacity_uncertainty,
       .example = "current=46.10A hours=5.030"},
      {.name = "guard-band",
       .title = "Accept, reject or undecided",
       .inputs = {number_input("value", "", "", "measured value", -1e12, 1e12, std::nullopt),
                  number_input("u", "", "", "its standard uncertainty", 0, 1e12, std::nullopt),
                  number_input("limit", "", "", "the limit", -1e12, 1e12, std::nullopt),
                  {.key = "side",
                   .suffix = "",
                   .unit = "",
                   .text = "which side is wrong: below a lower limit, above an upper",
                   .kind = InputKind::choice,
                   .fallback = "lower",
                   .choices = {"lower", "upper"}},
                  number_input("risk_percent", "percent", "%", "risk of a wrong verdict", 0.0001,
                               49.99, "5")},
       .outputs = {{"verdict", "", "accept, reject or undecided"},
                   {"probability_conforming", "", "chance that the true value conforms"}},
       .formula = "p = Φ((value − limit)/u);  accept p ≥ 1 − risk;  reject p ≤ risk",
       .source = "[JCGM106] 7.2 and 8.3",
       .validity = "normally distributed measurement",
       .cautions = {},
       .run = run_guard_band,
       .example = "value=231.2 u=0.8 limit=230 side=lower risk=5"},
      {.name = "outliers",
       .title = "Values that do not belong to the lot",
       .inputs = {{.key = "values",
                   .suffix = "",
                   .unit = "",
                   .text = "the lot's readings",
                   .min = -1e12,
                   .max = 1e12,
                   .kind = InputKind::list},
                  {.key = "test",
                   .suffix = "",
                   .unit = "",
                   .text = "grubbs finds one, mad finds several",
                   .kind = InputKind::choice,
                   .fallback = "mad",
                   .choices = {"grubbs", "mad"}},
                  {.key = "side",
                   .suffix = "",
                   .unit = "",
                   .text = "which side counts",
                   .kind = InputKind::choice,
                   .fallback = "two",
                   .choices = {"two", "max", "min"}},
                  number_input("alpha", "", "", "chance of a false alarm (grubbs)", 1e-6, 0.5,
                               "0.05")},
       .outputs = {{"outliers", "", "values that stand out"},
                   {"statistic", "", "of the most extreme value"},
                   {"critical", "", "limit it is held against"}},
       .formula = "grubbs: G = max|x − mean|/s against (n−1)/√n √(t²/(n−2+t²));  mad: M = 0.6745 "
                  "(x − median)/MAD against 3.5",
       .source = "[NIST-EDA] 1.3.5.17",
       .validity = "grubbs: normal values, one outlier; mad: up to half of them",
       .cautions = {},
       .run = run_outliers,
       .example =
           "values=199.31,199.53,200.19,200.82,201.92,201.95,202.18,245.57 test=grubbs side=max"},
  };
}

}  // namespace bench

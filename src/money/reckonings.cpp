// SPDX-License-Identifier: Apache-2.0
#include "money/reckonings.hpp"

#include "base/input_error.hpp"
#include "money/money.hpp"

namespace money {
namespace {

namespace units = base::units;
using base::Answer;
using base::Arguments;
using base::InputSpec;
using InputKind = base::InputSpec::Kind;

InputSpec amount(std::string_view key, std::string_view text,
                 std::optional<std::string_view> fallback) {
  return base::number_input(key, "", "", text, 0.0, 1e13, fallback);
}

InputSpec percent(std::string_view key, std::string_view text, double min, double max,
                  std::optional<std::string_view> fallback) {
  return base::number_input(key, "percent", "%", text, min, max, fallback);
}

InputSpec flows_spec() {
  return {.key = "flows",
          .suffix = "",
          .unit = "",
          .text = "flows of money, year 0 first, spending negative",
          .min = -1e13,
          .max = 1e13,
          .kind = InputKind::list};
}

Answer run_landed_cost(const Arguments& in) {
  const Landed landed = landed_cost({.unit_price = in.number("unit_price") * units::money,
                                     .quantity = in.whole("quantity"),
                                     .freight = in.number("freight") * units::money,
                                     .insurance = in.number("insurance") * units::money,
                                     .duty_share = in.number("duty_percent") / 100.0,
                                     .vat_share = in.number("vat_percent") / 100.0,
                                     .fees = in.number("fees") * units::money});
  return {{{"total", landed.total.in(units::money)},
           {"per_unit", landed.per_unit.in(units::money)},
           {"customs_value", landed.customs_value.in(units::money)},
           {"duty", landed.duty.in(units::money)},
           {"vat", landed.vat.in(units::money)}}};
}

Answer run_present_value(const Arguments& in) {
  return {{{"present_value", present_value(in.number("rate_percent") / 100.0, in.list("flows"))}}};
}

Answer run_internal_rate(const Arguments& in) {
  const auto rate = internal_rate(in.list("flows"));
  Answer answer;
  if (rate)
    answer.outputs["rate_percent"] = *rate * 100.0;
  else
    answer.outputs["rate_percent"] = nullptr;
  if (!rate)
    answer.cautions.emplace_back("No rate between −99 % and 10000 % makes these flows worth zero.");
  if (sign_changes(in.list("flows")) > 1)
    answer.cautions.emplace_back(
        "The flows change sign more than once, so several rates may solve them; this is "
        "the one nearest to zero.");
  return answer;
}

Answer run_storage_cost(const Arguments& in) {
  const Levelised cost =
      storage_cost({.capital = in.number("capital"),
                    .usable_kWh = in.number("usable_kWh"),
                    .full_cycles_per_year = in.number("full_cycles_per_year"),
                    .years = in.whole("years"),
                    .rate = in.number("rate_percent") / 100.0,
                    .round_trip = in.number("round_trip_percent") / 100.0,
                    .energy_price = in.number("energy_price"),
                    .upkeep_per_year = in.number("upkeep_per_year"),
                    .fade_per_year = in.number("fade_percent_per_year") / 100.0});
  return {{{"per_kWh", cost.total()},
           {"capital_per_kWh", cost.capital},
           {"upkeep_per_kWh", cost.upkeep},
           {"charging_per_kWh", cost.charging}}};
}

Answer run_lifetime_cost(const Arguments& in) {
  const LifetimeCostResult cost =
      lifetime_cost({.investment = in.number("investment"),
                     .upkeep_year = in.number("upkeep_per_year"),
                     .energy_price = in.number("energy_price"),
                     .end_value = in.number("end_value"),
                     .usable_kWh = in.number("usable_kWh"),
                     .depth = in.number("depth"),
                     .round_trip = in.number("round_trip_percent") / 100.0,
                     .cycles_year = in.number("cycles_year"),
                     .rated_cycles = in.number("rated_cycles"),
                     .shelf_years = in.number("shelf_years"),
                     .end_share = in.number("end_percent") / 100.0,
                     .rate = in.number("rate_percent") / 100.0});
  return {{{"per_kWh", cost.total()},
           {"investment_per_kWh", cost.investment},
           {"upkeep_per_kWh", cost.upkeep},
           {"charging_per_kWh", cost.charging},
           {"years", cost.years}}};
}

Answer run_spares(const Arguments& in) {
  const Order order = spares(in.whole("needed"), in.number("reject_percent") / 100.0,
                             in.number("confidence_percent") / 100.0);
  return {{{"order", order.order}, {"odds_percent", order.odds * 100.0}}};
}

}  // namespace

std::vector<base::Reckoning> reckonings() {
  return {
      {.name = "landed-cost",
       .title = "What a purchase costs at your door",
       .inputs = {amount("unit_price", "price of one", std::nullopt),
                  {.key = "quantity",
                   .suffix = "",
                   .unit = "",
                   .text = "how many",
                   .min = 1,
                   .max = 1e6,
                   .kind = InputKind::whole,
                   .fallback = "1"},
                  amount("freight", "freight to the border", "0"),
                  amount("insurance", "insurance to the border", "0"),
                  percent("duty_percent", "customs duty", 0, 500, "0"),
                  percent("vat_percent", "value-added tax on import", 0, 100, "0"),
                  amount("fees", "broker, bank and last mile, after tax", "0")},
       .outputs = {{"total", "", "all in"},
                   {"per_unit", "", "all in, for one"},
                   {"customs_value", "", "goods, freight and insurance"},
                   {"duty", "", "customs duty"},
                   {"vat", "", "value-added tax"}},
       .formula = "value = price · n + freight + insurance;  duty = d · value;  VAT = v · (value + "
                  "duty);  "
                  "total = value + duty + VAT + fees",
       .source = "[WCO-Valuation] customs value with freight and insurance; order of duty and VAT "
                 "as in [EU-VAT] "
                 "art. 85–86",
       .validity = "places that levy duty on the value delivered to the border; some levy it on "
                   "the goods alone",
       .cautions = {"Rates change and anti-dumping duties are extra: ask the customs office before "
                    "you order."},
       .run = run_landed_cost,
       .example = "unit_price=1000 quantity=1 freight=100 insurance=50 duty=20 vat=18"},
      {.name = "present-value",
       .title = "What a row of yearly flows is worth now",
       .inputs = {percent("rate_percent", "yearly rate", -99, 1000, std::nullopt), flows_spec()},
       .outputs = {{"present_value", "", "sum of the discounted flows"}},
       .formula = "Σ flow_t / (1 + r)^t, t from 0",
       .source = "[NIST-HB135] present value",
       .validity = "a rate above −100 %",
       .cautions = {},
       .run = run_present_value,
       .example = "rate=5 flows=-1000,200,200,200,200,200,200,200,200,200,200"},
      {.name = "internal-rate",
       .title = "The rate at which a row of flows is worth nothing",
       .inputs = {flows_spec()},
       .outputs = {{"rate_percent", "%", "internal rate of return, a year"}},
       .formula = "r with Σ flow_t / (1 + r)^t = 0",
       .source = "[NIST-HB135] internal rate of return",
       .validity = "flows that change sign once have one answer",
       .cautions = {},
       .run = run_internal_rate,
       .example = "flows=-100,39,59,55,20"},
      {.name = "storage-cost",
       .title = "Levelised cost of a kilowatt-hour out of the store",
       .inputs = {amount("capital", "spent at the start", std::nullopt),
                  {.key = "usable_kWh",
                   .suffix = "kWh",
                   .unit = "kWh",
                   .text = "delivered by one full cycle, new",
                   .min = 1e-3,
                   .max = 1e12},
                  {.key = "full_cycles_per_year",
                   .suffix = "",
                   .unit = "",
                   .text = "full cycles a year",
                   .min = 0.1,
                   .max = 5000},
                  {.key = "years",
                   .suffix = "",
                   .unit = "",
                   .text = "years of use",
                   .min = 1,
                   .max = 100,
                   .kind = InputKind::whole},
                  percent("rate_percent", "real yearly rate", -50, 100, "3"),
                  percent("round_trip_percent", "energy out over energy in", 1, 100, "92"),
                  amount("energy_price", "price of a kWh charged", "0"),
                  amount("upkeep_per_year", "upkeep a year", "0"),
                  {.key = "fade_percent_per_year",
                   .suffix = "",
                   .unit = "%",
                   .text = "capacity lost each year",
                   .min = 0,
                   .max = 50,
                   .fallback = "0"}},
       .outputs = {{"per_kWh", "", "whole cost of one kWh delivered"},
                   {"capital_per_kWh", "", "of it: what was spent at the start"},
                   {"upkeep_per_kWh", "", "of it: upkeep"},
                   {"charging_per_kWh", "", "of it: energy bought to charge"}},
       .formula = "(capital + Σ upkeep/(1+r)^n) / Σ E_n/(1+r)^n + price/η,  E_n = E · cycles · "
                  "(1−f)^(n−1)",
       .source = "[Pawel2014] levelised cost of stored energy; [Schmidt2019] the same with fade",
       .validity = "capital now, flows at each year's end, first year unfaded",
       .cautions =
           {"Years rather than rated cycles end most home banks: choose the years with care."},
       .run = run_storage_cost,
       .example =
           "capital=3000 usable=10kWh full_cycles_per_year=250 years=15 rate=3 energy_price=0.08"},
      {.name = "lifetime-cost",
       .title = "Cost of a kilowatt-hour out until cycles and shelf life have worn the cells",
       .inputs = {amount("investment", "spent at the start", std::nullopt),
                  base::number_input("usable_kWh", "kWh", "kWh", "capacity when new", 1e-3, 1e12),
                  base::number_input("depth", "", "", "depth of a cycle", 0.01, 1, "0.8"),
                  percent("round_trip_percent", "energy out over energy in", 1, 100, "92"),
                  base::number_input("cycles_year", "", "", "such cycles a year", 0.01, 5000),
                  base::number_input("rated_cycles", "", "",
                                     "cycles that wear it to its end, by the sheet", 1, 1e6),
                  base::number_input("shelf_years", "", "", "years that wear it to its end unused",
                                     0.1, 300),
                  percent("end_percent", "of the capacity when new, at its end", 1, 99, "70"),
                  percent("rate_percent", "real yearly rate", -50, 300, "3"),
                  amount("energy_price", "price of a kWh charged", "0"),
                  amount("upkeep_per_year", "upkeep a year", "0"),
                  amount("end_value", "what it is worth at its end", "0")},
       .outputs = {{"per_kWh", "", "whole cost of one kWh delivered"},
                   {"investment_per_kWh", "", "of it: what was spent at the start"},
                   {"upkeep_per_kWh", "", "of it: upkeep"},
                   {"charging_per_kWh", "", "of it: energy bought to charge"},
                   {"years", "", "until it is worn"}},
       .formula = "N = ln(end)/(ln(1−td) + cycles·ln(1−cd)),  cd = 1 − end^(1/rated cycles),  td = "
                  "1 − end^(1/shelf years);  cost = (investment + Σ upkeep/(1+r)^n + Σ "
                  "charging/(1+r)^n − end value/(1+r)^(N+1)) / Σ E_n/(1+r)^n",
       .source = "[Schmidt2019] levelised cost of storage",
       .validity = "both wears add in their logarithms, an assumption; the last year counts by its "
                   "part",
       .cautions = {"A rated number of cycles assumes that nothing else wears the cell first."},
       .run = run_lifetime_cost,
       .example = "investment=2000 usable=10kWh cycles_year=250 rated_cycles=6000 shelf_years=20"},
      {.name = "spares",
       .title = "How many to order so that enough are good",
       .inputs = {{.key = "needed",
                   .suffix = "",
                   .unit = "",
                   .text = "good ones needed",
                   .min = 1,
                   .max = 100000,
                   .kind = InputKind::whole},
                  percent("reject_percent", "chance that one is not good enough", 0, 90,
                          std::nullopt),
                  percent("confidence_percent", "odds you want", 1, 99.9999, "95")},
       .outputs = {{"order", "", "how many to order"},
                   {"odds_percent", "%", "odds that they suffice"}},
       .formula = "smallest N with P(Binomial(N, 1 − reject) ≥ needed) ≥ confidence",
       .source = "[NIST-EDA] binomial distribution, 1.3.6.6.18",
       .validity = "cells that fail independently; one lot often fails together, so treat the odds "
                   "as hopeful",
       .cautions = {},
       .run = run_spares,
       .example = "needed=32 reject=3 confidence=95"},
  };
}

}  // namespace money

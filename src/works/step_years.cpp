// SPDX-License-Identifier: Apache-2.0
// Forecast and Watch: how it will age and what it will have cost; what to look for.
#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "life/ageing.hpp"
#include "works/reckonings.hpp"
#include "works/steps.hpp"

namespace works::steps {
namespace {

namespace units = base::units;
using base::Figure;
using base::Json;

double loss_at(const Use& u, double year, bool naumann) {
  const auto temperature = base::Temperature::from_C(u.temperature_C);
  const life::Cycling cycling{.c_rate = u.c_rate,
                              .depth = u.depth,
                              .full_cycles = u.cycles_a_year * year,
                              .temperature = temperature,
                              .mean_charge = u.mean_charge};
  const base::Seconds time = 365.25 * year * units::day;
  return naumann ? life::calendar_loss(life::CalendarLaw::naumann_2018, temperature, u.mean_charge,
                                       time) +
                       life::cycle_loss(life::CycleLaw::naumann_2020, cycling)
                 : life::calendar_loss(life::CalendarLaw::schimpe_2018, temperature, u.mean_charge,
                                       time) +
                       life::cycle_loss(life::CycleLaw::schimpe_2018, cycling);
}

double year_below(const std::vector<YearForecast>& years, double share,
                  double YearForecast::*which) {
  for (const YearForecast& y : years)
    if (y.*which < share) return y.year;
  return 0;
}

/// What the years at the house are worth; the simple figure stands beside the real one.
void write_money(const Project& p, const HouseStudy& s, Step& step) {
  if (!s.priced || s.flows.size() < 2) return;
  const std::string currency = p.about.currency();
  Json flows = Json::array();
  for (const double f : s.flows) flows.push_back(f);
  const Json inputs = {{"rate_percent", p.use.rate_percent()}, {"flows", flows}};
  Figure worth = reckon("present-value", inputs, "present_value");
  worth.unit = currency;
  worth.basis = fmt::format(
      "the chosen offer, landed, and what the bank costs beside its cells; then what it saves in each of {} years, "
      "by the harsher law, less upkeep",
      s.served);
  step.figures.push_back({"present_value", "worth today, all in", std::move(worth)});
  if (s.payback_years)
    step.figures.push_back({"payback_years",
                            "earned back after, discounted",
                            {.value = *s.payback_years,
                             .unit = "a",
                             .basis = "when the discounted flows add up to nothing"}});
  if (s.internal_rate) {
    Figure rate = reckon("internal-rate", Json{{"flows", flows}}, "rate_percent");
    rate.basis = "the rate at which the same flows are worth nothing";
    step.figures.push_back({"internal_rate_percent", "internal rate", std::move(rate)});
  }
  step.figures.push_back(
      {"naive_payback_years",
       "the same as a sales sheet would say",
       {.value = s.naive_payback_years,
        .unit = "a",
        .basis = "a full cycle every day at the dearest price, without losses, fading, interest or "
                 "a night when it stays empty; beside the real one, not instead of it"}});
}

}  // namespace

Use use_of(const Project& p, const Plan& plan) {
  if (plan.house) {
    const site::YearOfLife& first = plan.house->harsh.front();
    return {.cycles_a_year = first.full_cycles,
            .depth = std::clamp(first.depth, 0.01, 1.0),
            .mean_charge = std::clamp(first.mean_charge, 0.0, 1.0),
            .c_rate = std::max(0.05, first.c_rate),
            .temperature_C = p.use.temperature.in_C(),
            .from_house = true};
  }
  return {.cycles_a_year = p.use.cycles_per_year(),
          .depth = p.use.depth(),
          .mean_charge = p.use.mean_charge(),
          .c_rate = p.use.c_rate(),
          .temperature_C = p.use.temperature.in_C()};
}

YearForecast forecast_at(const Use& use, double year) {
  const double a = std::max(0.0, 1.0 - loss_at(use, year, true)),
               b = std::max(0.0, 1.0 - loss_at(use, year, false));
  return {year, std::min(a, b), std::max(a, b)};
}

void forecast_and_watch(const Project& p, Plan& plan) {
  const Use use = use_of(p, plan);
  const int horizon = p.use.years();
  // Monthly at first, where the square root of time bends.
  for (int month = 0; month <= 12 * horizon; month += month < 24 ? 1 : 12) {
    const double year = month / 12.0;
    if (!plan.house) plan.years.push_back(forecast_at(use, year));
  }
  if (plan.house)
    for (std::size_t i = 0; i < plan.house->harsh.size(); ++i) {
      const double a = plan.house->harsh[i].capacity, b = plan.house->mild[i].capacity;
      plan.years.push_back({double(i), std::min(a, b), std::max(a, b)});
    }
  Step& step = plan.forecast;
  step = {.name = "forecast",
          .question = "How will it age, and what will it have cost?",
          .sentence = "",
          .figures = {}};
  const double end = p.use.end_percent() / 100.0;
  const Json calendar = {{"law", "naumann-2018"},
                         {"temperature_C", use.temperature_C},
                         {"state_of_charge", use.mean_charge},
                         {"days", 3652.5}};
  const Json cycles = {{"law", "naumann-2020"},
                       {"c_rate", use.c_rate},
                       {"depth", use.depth},
                       {"full_cycles", use.cycles_a_year * 10.0}};
  step.figures.push_back({"calendar_loss_10a_percent", "lost by storage in ten years",
                          reckon("calendar-loss", calendar, "capacity_loss_percent")});
  step.figures.push_back({"cycle_loss_10a_percent", "lost by cycling in ten years",
                          reckon("cycle-loss", cycles, "capacity_loss_percent")});
  const YearForecast& last = plan.years.back();
  step.figures.push_back(
      {"capacity_end_low_percent",
       fmt::format("left after {} years, harsher law", horizon),
       {.value = last.low * 100.0,
        .unit = "%",
        .basis = plan.house ? "Naumann 2018 and 2020, added, at the house year by year"
                            : "Naumann 2018 and 2020, added"}});
  step.figures.push_back(
      {"capacity_end_high_percent",
       fmt::format("left after {} years, milder law", horizon),
       {.value = last.high * 100.0,
        .unit = "%",
        .basis = plan.house ? "Schimpe 2018, at the house year by year" : "Schimpe 2018"}});
  const double early = year_below(plan.years, end, &YearForecast::low),
               late = year_below(plan.years, end, &YearForecast::high);
  const double usable = find_figure(plan, "size.usable_kWh")->figure.value;
  double capital = p.use.other_capital();
  bool priced = false;
  for (const OfferResult& o : plan.offers)
    if (o.offer.chosen) capital += o.total.value, priced = true;
  if (priced && usable > 0.0 && use.cycles_a_year >= 1.0) {
    const double fade = (1.0 - 0.5 * (last.low + last.high)) / horizon * 100.0;
    // Full cycles of the whole energy are as many cycles of the usable part as depth asks for.
    const Json cost = {{"capital", capital},
                       {"usable_kWh", usable},
                       {"full_cycles_per_year", use.cycles_a_year / p.use.depth()},
                       {"years", horizon},
                       {"rate_percent", p.use.rate_percent()},
                       {"round_trip_percent", p.use.round_trip_percent()},
                       {"energy_price", p.use.energy_price()},
                       {"upkeep_per_year", p.use.upkeep_per_year()},
                       {"fade_percent_per_year", fade}};
    Figure f = reckon("storage-cost", cost, "per_kWh");
    f.unit = p.about.currency() + "/kWh";
    f.basis =
        "capital: the chosen offer, landed, and what the bank costs beside its cells; fade: mean "
        "of both laws";
    step.figures.push_back(
        {"cost_per_kWh", "cost of a kilowatt-hour out of it, over its life", std::move(f)});
  }
  if (plan.house) write_money(p, *plan.house, step);
  step.sentence = fmt::format(
      "By two laws fitted on small cells over two and a half years, {:.0f} to {:.0f} % of the capacity would be left after {} years; read it as a band",
      std::floor(last.low * 100.0), std::ceil(last.high * 100.0), horizon);
  if (early > 0 && late > 0)
    step.sentence += fmt::format(". It would fall below {:.0f} % between year {} and year {}.",
                                 end * 100.0, early, late);
  else if (early > 0)
    step.sentence += fmt::format(". By the harsher one it would fall below {:.0f} % in year {}.",
                                 end * 100.0, early);
  else
    step.sentence += fmt::format(". By neither would it fall below {:.0f} %.", end * 100.0);
  if (plan.house && plan.house->priced)
    step.sentence +=
        plan.house->payback_years
            ? fmt::format(" It has earned back its {:.0f} {} after {:.1f} years, discounted.",
                          plan.house->capital, p.about.currency(), *plan.house->payback_years)
            : fmt::format(" It does not earn back its {:.0f} {} within them.", plan.house->capital,
                          p.about.currency());
  const auto temperature = base::Temperature::from_C(use.temperature_C);
  const life::Cycling cycling{.c_rate = use.c_rate,
                              .depth = use.depth,
                              .full_cycles = 1.0,
                              .temperature = temperature,
                              .mean_charge = use.mean_charge};
  if (!life::fitted(life::CycleLaw::naumann_2020, cycling) ||
      !life::fitted(life::CycleLaw::schimpe_2018, cycling) || use.temperature_C < 0.0 ||
      use.temperature_C > 60.0)
    plan.findings.push_back(
        {.id = findings::Id::outside_fitted_range,
         .severity = findings::Severity::note,
         .what = "The cells are used outside the range in which an ageing law was fitted.",
         .where = "forecast",
         .measured = fmt::format("{:.2f} C, {:g} °C", use.c_rate, use.temperature_C),
         .limit = "0.2 to 1 C [Naumann2020]; up to 1 C, 0 to 55 °C [Schimpe2018]",
         .why = "Slow cycling is usually kinder than the law says, cold and heat are not.",
         .remedy = "Read the part that cycling takes as uncertain; the bank's own record decides.",
         .basis = "[Naumann2020], [Schimpe2018]"});
  plan.findings.push_back(
      {.id = findings::Id::forecast_extrapolates,
       .severity = findings::Severity::note,
       .what = "The ageing laws were fitted on small cells over at most 885 days.",
       .where = "forecast",
       .measured = fmt::format("{} years", horizon),
       .limit = "885 days",
       .why = "A forecast over years extrapolates; large prismatic cells may differ.",
       .remedy =
           "Read the forecast as a band, and hold it against the bank's own capacity every year.",
       .basis = "[Naumann2018], [Naumann2020], [Schimpe2018]"});

  plan.watch = {
      .name = "watch", .question = "Is it doing what it should?", .sentence = "", .figures = {}};
  const base::Figure capacity = cell_capacity(p, plan);
  const double balancer_A = p.balancer.current.in(units::A);
  plan.watch.figures.push_back(
      {"correctable_Ah_week",
       "drift that the balancer can mend in a week",
       {.value = balancer_A * 7.0,
        .unit = "Ah",
        .basis =
            "balancing current times an hour a day above its start (common practice, no source)"}});
  plan.watch.figures.push_back({"gauge_drift_percent_day",
                                "what 0.1 A of offset does to a charge gauge in a day",
                                {.value = 0.1 * 24.0 / capacity.value * 100.0,
                                 .unit = "%",
                                 .basis = "0.1 A over 24 h, over the capacity of a cell"}});
  double first_year = 1.0;
  for (const YearForecast& y : plan.years) first_year = y.year <= 1.0 ? y.low : first_year;
  const int year_1_low = static_cast<int>(std::floor(first_year * 100.0));
  plan.watch.sentence = fmt::format(
      "Write down the first year's capacity, resistance and spread at full: after one year less "
      "than {} % of the capacity would be news. Judge balance only near "
      "full or empty; on the flat part equal voltage is not equal charge.",
      year_1_low);
}

}  // namespace works::steps

// SPDX-License-Identifier: Apache-2.0
#include "book/house_pages.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "base/figure.hpp"
#include "drawing/plot.hpp"

namespace book {
namespace {

using drawing::Anchor;
using drawing::Drawing;
using drawing::Point;
using drawing::Tone;
using works::HouseStudy;

constexpr double width_mm = drawing::Plot{}.width_mm;
constexpr int futures_in_book = 1000;

/// Mean charge of the bank by week and hour: dark where it is full.
Drawing charge_map(const HouseStudy& s) {
  const std::vector<double> charge = works::charge_by_hour(s);
  constexpr std::size_t weeks = 52, hours = 24;
  std::vector<double> sum(weeks * hours, 0.0), count(weeks * hours, 0.0);
  for (std::size_t i = 0; i < charge.size(); ++i) {
    const std::size_t week = i / hours / 7;
    if (week >= weeks) break;
    sum[week * hours + i % hours] += charge[i], count[week * hours + i % hours] += 1.0;
  }
  Drawing d;
  d.width_mm = width_mm;
  d.height_mm = 52.0;
  d.title = "The bank's charge by week and hour of the day";
  const double left = 11.0, top = 5.0, wide = (width_mm - left - 30.0) / double(weeks),
               high = 38.0 / double(hours);
  d.write({left - 9.0, top - 2.0}, "hour", 2.6, Tone::quiet);
  for (std::size_t w = 0; w < weeks; ++w)
    for (std::size_t h = 0; h < hours; ++h) {
      const double share = sum[w * hours + h] / std::max(1.0, count[w * hours + h]);
      const double strength = std::round(std::clamp(share, 0.0, 1.0) * 8.0) / 8.0;
      if (strength <= 0.0) continue;
      // Midnight below, as every axis grows upwards.
      const Point a{left + double(w) * wide, top + double(hours - 1 - h) * high},
          b{a.x_mm + wide, a.y_mm + high};
      d.add_stroke({{a, {b.x_mm, a.y_mm}, b, {a.x_mm, b.y_mm}},
                    Tone::none,
                    0.0,
                    Tone::copper,
                    true,
                    0.0,
                    strength});
    }
  const double bottom = top + double(hours) * high;
  d.line({left, bottom}, {left + double(weeks) * wide, bottom}, Tone::quiet, 0.2);
  for (const int h : {0, 6, 12, 18, 24})
    d.write({left - 1.5, bottom - h * high + 0.9}, fmt::format("{}", h), 2.5, Tone::quiet,
            Anchor::end);
  constexpr const char* months[] = {"Jan", "Apr", "Jul", "Oct"};
  for (int q = 0; q < 4; ++q)
    d.write({left + double(q) * 13.0 * wide, bottom + 4.2}, months[q], 2.5, Tone::quiet);
  const double x = left + double(weeks) * wide + 3.0;
  for (int k = 0; k <= 4; ++k) {
    const double y = bottom - 6.0 - 6.0 * k;
    if (k > 0)
      d.add_stroke({{{x, y}, {x + 4.0, y}, {x + 4.0, y + 4.0}, {x, y + 4.0}},
                    Tone::none,
                    0.0,
                    Tone::copper,
                    true,
                    0.0,
                    0.25 * k});
    d.box({x, y}, 4.0, 4.0, Tone::rule, 0.15);
    d.write({x + 5.5, y + 3.0}, fmt::format("{} %", 25 * k), 2.5, Tone::quiet);
  }
  return d;
}

/// Power from and to the grid in falling order, with the bank and without.
Drawing duration(const HouseStudy& s) {
  drawing::Plot plot =
      drawing::page_plot("Import and export in falling order", "hours of the year", "kW");
  const double step_h = std::max<double>(1.0, double(s.year.steps() / 200)) * s.year.step_h,
               hours = double(s.year.steps()) * s.year.step_h;
  const auto line = [&](bool with_bank) {
    std::vector<Point> points;
    for (const double kW : works::grid_in_falling_order(s, with_bank, 200))
      points.push_back({std::min(hours, double(points.size()) * step_h), kW});
    points.back().x_mm = hours;
    return points;
  };
  drawing::Series without{line(false), "without", Tone::quiet, 0.3, 1.2},
      with{line(true), "with the bank", Tone::brick, 0.4, 0.0};
  plot.series = {without, with};
  plot.x_high = hours;
  plot.y_low = std::floor(std::min(without.values.back().y_mm, with.values.back().y_mm) - 0.2);
  plot.y_high = std::ceil(std::max(without.values.front().y_mm, with.values.front().y_mm) + 0.2);
  return drawing::draw(plot);
}

Drawing frontier(const HouseStudy& s, const std::string& currency) {
  drawing::Plot plot = drawing::page_plot("What the next kilowatt-hour saves a year, by size",
                                          "kWh", currency + "/kWh a year");
  drawing::Series next{{}, "the next kWh", Tone::brick, 0.4, 0.0};
  for (std::size_t i = 0; i + 1 < s.sizes.size(); ++i)
    next.values.push_back({s.sizes[i].nominal_kWh, s.sizes[i].next_kWh_saving});
  plot.series = {next};
  plot.x_high = std::max(1.0, s.sizes.back().nominal_kWh);
  double high = 0.0, low = 0.0;
  for (const Point& p : next.values) high = std::max(high, p.y_mm), low = std::min(low, p.y_mm);
  plot.y_low = low;
  plot.y_high = std::max(1.0, high * 1.08);
  Drawing d = drawing::draw(plot);
  // The bank itself, as a mark on the axis.
  const double left = 11.0, wide = plot.width_mm - 11.0 - 30.0;
  const auto mark = [&](double kWh, const std::string& words, Tone tone, bool before) {
    const double x = left + wide * std::min(1.0, kWh / plot.x_high);
    d.line({x, 5.0}, {x, plot.height_mm - 10.0}, tone, 0.25, 1.2);
    d.write({before ? x - 1.2 : x + 1.2, 8.0}, words, 2.5, tone,
            before ? Anchor::end : Anchor::start);
  };
  mark(s.life.nominal_kWh, fmt::format("this bank, {:.1f} kWh", s.life.nominal_kWh), Tone::ink,
       s.life.nominal_kWh < s.knee_kWh);
  if (s.priced && s.knee_kWh > 0.0)
    mark(s.knee_kWh, fmt::format("worth most: {:.0f} kWh", s.knee_kWh), Tone::copper,
         s.life.nominal_kWh >= s.knee_kWh);
  return d;
}

Drawing sufficiency(const HouseStudy& s) {
  drawing::Plot plot =
      drawing::page_plot("Of the load that does not come from the grid, by size", "kWh", "%");
  drawing::Series line{{}, "", Tone::ink, 0.4, 0.0};
  for (const site::SizePoint& p : s.sizes)
    line.values.push_back({p.nominal_kWh, 100.0 * p.outcome.self_sufficiency()});
  plot.series = {line};
  plot.x_high = std::max(1.0, s.sizes.back().nominal_kWh);
  plot.y_high = 100.0;
  return drawing::draw(plot);
}

Drawing cash(const HouseStudy& s, double rate, const std::string& currency) {
  drawing::Plot plot = drawing::page_plot("Spent and saved so far, discounted", "years", currency);
  drawing::Series line{{}, "harsher law", Tone::brick, 0.4, 0.0};
  double sum = 0.0, low = 0.0, high = 0.0;
  for (std::size_t y = 0; y < s.flows.size(); ++y) {
    sum += s.flows[y] / std::pow(1.0 + rate, double(y));
    line.values.push_back({double(y), sum});
    low = std::min(low, sum), high = std::max(high, sum);
  }
  plot.series = {line};
  plot.x_high = std::max(1.0, double(s.flows.size() - 1));
  const double room = std::max(1.0, 0.08 * (high - low));
  plot.y_low = low - room, plot.y_high = high + room;
  plot.y_mark = 0.0;
  plot.mark_label = "earned back";
  return drawing::draw(plot);
}

Drawing savings_band(const site::FutureBands& bands, const std::string& currency) {
  drawing::Plot plot = drawing::page_plot("What it saves in each year, over many futures", "year",
                                          currency + " a year");
  drawing::Series middle{{}, "half", Tone::ink, 0.4, 0.0};
  double high = 1.0, low = 0.0;
  for (std::size_t y = 0; y < bands.saving.size(); ++y) {
    const site::Band& b = bands.saving[y];
    plot.band_low.push_back({double(y + 1), b.low});
    plot.band_high.push_back({double(y + 1), b.high});
    middle.values.push_back({double(y + 1), b.middle});
    high = std::max(high, b.high), low = std::min(low, b.low);
  }
  plot.series = {middle};
  plot.x_low = 1.0, plot.x_high = std::max(2.0, double(bands.saving.size()));
  plot.y_low = low, plot.y_high = high * 1.1;
  return drawing::draw(plot);
}

Drawing swings_drawing(const std::vector<works::Swing>& swings, double value,
                       const std::string& currency) {
  drawing::Bars bars;
  bars.width_mm = width_mm;
  bars.title = "What the value hangs on";
  bars.unit = "worth today, " + currency;
  bars.now = value;
  for (const works::Swing& w : swings) bars.bars.push_back({w.what, w.low, w.high});
  return drawing::draw(bars);
}

std::string whole(double x) { return fmt::format("{:.0f}", x + 0.0); }

Table year_table(const HouseStudy& s, const std::string& currency) {
  Table t{{{"the first year", false, 2.0}, {"without", true}, {"with the bank", true}, {"unit"}},
          {}};
  for (const works::YearLine& line : works::year_lines(s, currency))
    t.rows.push_back({line.what, line.without ? base::fixed(*line.without, line.decimals) : "",
                      base::fixed(line.with, line.decimals), line.unit});
  return t;
}

}  // namespace

std::optional<Section> house_pages(const project::Project& project, const works::Plan& plan) {
  if (!plan.house) return std::nullopt;
  const HouseStudy& s = *plan.house;
  const std::string currency = project.about.currency();
  Section section{"The house and its years", {}, true};
  auto& blocks = section.blocks;
  blocks.push_back(Paragraph{
      s.off_grid
          ? fmt::format("Without a grid {:.1f} % of the load would go unserved, {:.1f} % in the "
                        "worst of {} years of weather.",
                        100.0 * s.off_grid->energy_share, 100.0 * s.off_grid->worst_share,
                        s.off_grid->years)
          : fmt::format("In its first year the bank saves {:.0f} {}: {:.0f} instead of {:.0f} % of "
                        "what the house uses comes from its own roof.",
                        s.without.cost - s.with_store.cost, currency,
                        100.0 * s.with_store.self_sufficiency(),
                        100.0 * s.without.self_sufficiency()),
      true, false});
  blocks.push_back(Paragraph{fmt::format("Load: {}. Sun: {}. Prices: {}. Reckoned, not measured.",
                                         s.load_from, s.sun_from, s.price_from),
                             false, true});
  blocks.push_back(year_table(s, currency));
  const works::Foresight best = s.off_grid ? works::Foresight{} : works::foresight(s);
  if (best.bound.status == site::Bound::Status::optimal)
    blocks.push_back(Paragraph{
        fmt::format(
            "In hourly means: who had known the whole year would have paid {:.0f} {}, the rule "
            "“{}” pays {:.0f}. It gets {:.0f} % of the best saving.",
            best.bound.cost, currency, project.dispatch.rule.words(), best.rule,
            100.0 * best.share()),
        false, false});
  blocks.push_back(
      Plate{{charge_map(s)}, "How full the bank is, by week and hour: the mean of seven days.", 1});
  // Its powers are worked back from the charge, which takes losses that grow with them alone.
  if (!s.off_grid && s.store.charging.k2 == 0.0 && s.store.charging.k0 == 0.0)
    blocks.push_back(Plate{{duration(s)},
                           "From the grid above the line of 0 kW, to the grid below it, in falling "
                           "order.",
                           1});
  blocks.push_back(Heading{"How large"});
  if (!s.off_grid)
    blocks.push_back(Plate{{frontier(s, currency)},
                           s.priced
                               ? fmt::format("What one more kilowatt-hour saves a year. Cells cost "
                                             "{:.0f} {} for each; all else is taken as fixed.",
                                             s.cells_per_kWh, currency)
                               : std::string("What one more kilowatt-hour saves a year."),
                           1});
  blocks.push_back(Plate{{sufficiency(s)},
                         s.store.reserve_kWh > 0.0
                             ? "What is kept for an outage comes first and saves nothing. Then it "
                               "rises quickly, and hardly more where winter has no sun to store."
                             : "It rises quickly, then hardly: winter has too little sun to store.",
                         1});
  if (s.priced && s.flows.size() > 1) {
    blocks.push_back(Heading{"What it is worth"});
    const double rate = project.use.rate_percent() / 100.0;
    blocks.push_back(Plate{
        {cash(s, rate, currency)},
        fmt::format("What is spent at the start and saved since, discounted at {:g} % a year.",
                    100.0 * rate),
        1});
    const site::FutureBands bands = works::futures(project, s, futures_in_book);
    blocks.push_back(Plate{
        {savings_band(bands, currency)},
        fmt::format("{} futures with other weather, prices, loads and ageing: eight in ten lie "
                    "in the area. {:.0f} % of them pay; worth today {:.0f} to {:.0f} {}.",
                    futures_in_book, 100.0 * bands.pays, bands.value.low, bands.value.high,
                    currency),
        1});
    blocks.push_back(Plate{
        {swings_drawing(works::tornado(project, s), s.value, currency)},
        "What the value hangs on: each assumption lower (copper) and higher (dark) by what stands there.",
        1});
  }
  blocks.push_back(Heading{"What ages it"});
  Table wear{{{fmt::format("after {} years", s.life.years), false, 2.0}, {"capacity, %", true}},
             {}};
  if (!s.off_grid) wear.columns.push_back({"saved in the first, " + currency, true});
  for (const works::WearCase& c : works::wear_cases(s)) {
    wear.rows.push_back({c.what, fmt::format("{:.0f} to {:.0f}", 100.0 * c.low, 100.0 * c.high)});
    if (!s.off_grid) wear.rows.back().push_back(whole(c.first_saving));
  }
  blocks.push_back(std::move(wear));
  const auto ends = works::pack_ends(project, plan);
  if (!ends.empty()) {
    Table table{{{"pack"},
                 {"its weakest", false, 2.0},
                 {"Ah", true},
                 {"years", true},
                 {"with the best spare", false, 1.5}},
                {}};
    for (const works::PackEnd& e : ends)
      table.rows.push_back(
          {e.pack, e.cells, fmt::format("{:.1f}", e.capacity_Ah), works::years_text(e.years),
           e.spare.empty() ? std::string("none is better")
                           : e.spare + ": " + works::years_text(e.years_with_spare)});
    blocks.push_back(std::move(table));
    blocks.push_back(Paragraph{
        "Years until a pack's smallest group is too small, by the mean of both laws: far beyond the range in which they "
        "were fitted.",
        false, true});
  }
  return section;
}

}  // namespace book

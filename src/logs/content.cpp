// SPDX-License-Identifier: Apache-2.0
#include "logs/content.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <set>

#include "base/encoding.hpp"
#include "base/number.hpp"
#include "base/statistics.hpp"
#include "logs/clock.hpp"
#include "logs/flow_words.hpp"
#include "logs/pairs.hpp"

namespace logs {
namespace {

constexpr double nan = std::numeric_limits<double>::quiet_NaN();
constexpr double most_of = 0.5;  // of the filled fields decide what a column holds
constexpr double lowest_V = 0.5, highest_V = 4.6;  // what a cell's voltage may be in a log
constexpr double lowest_usual_V = 2.0, highest_usual_V = 4.3;
constexpr double least_jump = 0.05;  // of the range: smaller steps are those of a sum or a warmth
constexpr double first_day_number = 29221.0, last_day_number = 65000.0;  // 1980 to 2077

struct Counts {
  std::size_t filled = 0, numbers = 0, clocks = 0, dates = 0, stamps = 0, flows = 0;
};

void count(std::string_view field, double value, Counts& c) {
  ++c.filled;
  if (parse_date_and_clock(field)) {
    ++c.stamps;
  } else if (parse_date(field)) {
    ++c.dates;
    if (!std::isnan(value)) ++c.numbers;
  } else if (!std::isnan(value)) {
    ++c.numbers;
  } else if (parse_clock(field, true)) {
    ++c.clocks;
  } else if (flow_of(field) != Flow::unknown) {
    ++c.flows;
  }
}

Holds holds_of(const Counts& c) {
  const auto mostly = [&](std::size_t n) {
    return double(n) >= most_of * double(c.filled) && n > 0;
  };
  if (c.filled == 0) return Holds::nothing;
  if (mostly(c.stamps)) return Holds::stamps;
  if (mostly(c.dates)) return Holds::dates;
  if (mostly(c.numbers)) return Holds::numbers;
  if (mostly(c.clocks)) return Holds::clocks;
  if (2 * c.flows >= c.filled) return Holds::flows;
  return Holds::words;
}

void describe(ColumnContent& c) {
  std::vector<double> known;
  for (const double v : c.values)
    if (!std::isnan(v)) known.push_back(v);
  if (known.empty()) return;
  c.least = *std::min_element(known.begin(), known.end());
  c.most = *std::max_element(known.begin(), known.end());
  c.middle = base::median(known);
  c.whole = std::all_of(known.begin(), known.end(), [](double v) { return v == std::floor(v); });
  const double range = std::max(c.most - c.least, 1e-12);
  std::size_t up = 0;
  for (std::size_t k = 1; k < known.size(); ++k) {
    const double step = known[k] - known[k - 1];
    up += step > 0.0;
    c.falls += step < 0.0;
    // A sum that starts again makes no jump.
    if (std::abs(known[k]) <= 0.02 * std::max(std::abs(c.most), std::abs(c.least))) continue;
    c.jump = std::max(c.jump, std::abs(step) / range);
  }
  c.rises = known.size() > 1 ? double(up) / double(known.size() - 1) : 0.0;
}

/// Share of the steps that are all alike.
double evenness(const ColumnContent& c) {
  std::vector<double> steps;
  for (std::size_t k = 1; k < c.values.size(); ++k)
    if (const double step = c.values[k] - c.values[k - 1]; !std::isnan(step)) steps.push_back(step);
  const double usual = steps.empty() ? 0.0 : base::median(steps);
  if (usual == 0.0) return 0.0;
  const auto alike = std::count_if(steps.begin(), steps.end(), [&](double step) {
    return std::abs(step - usual) <= 0.002 * std::abs(usual) + 1e-12;
  });
  return double(alike) / double(steps.size());
}

/// Counts rows and nothing else: 1, 2, 3, …
bool counts_rows(const ColumnContent& c, std::size_t stride) {
  if (!c.whole || c.falls > 0) return false;
  for (std::size_t k = 1; k < c.values.size(); ++k)
    if (c.values[k] - c.values[k - 1] != double(stride)) return false;
  return true;
}

/// A number of a step or a cycle: whole, few of them.
bool numbers_steps(const ColumnContent& c) {
  if (!c.whole) return false;
  std::set<double> seen;
  for (const double v : c.values)
    if (!std::isnan(v)) seen.insert(v);
  return seen.size() <= 30 && seen.size() * 10 < c.values.size() && c.least >= 0.0 &&
         c.most <= 1000.0 && 2 * c.falls <= seen.size();
}

bool a_cells_voltage(const ColumnContent& c) {
  if (c.holds != Holds::numbers || (c.whole && c.most < 100.0)) return false;
  for (const double scale : {1.0, 1e-3}) {
    std::size_t inside = 0, known = 0;
    for (const double v : c.values) {
      if (std::isnan(v)) continue;
      ++known;
      inside += v * scale > lowest_V && v * scale < highest_V;
    }
    if (known > 0 && inside * 100 >= known * 97 && c.middle * scale > lowest_usual_V &&
        c.middle * scale < highest_usual_V)
      return true;
  }
  return false;
}

/// How steadily the voltage answers this column's steps: 0 not at all … 1 always with one ohm.
double answered(const ColumnContent& current, const ColumnContent& voltage) {
  double top = 0.0;
  for (const double i : current.values)
    if (!std::isnan(i)) top = std::max(top, std::abs(i));
  std::vector<double> ohms;
  for (std::size_t k = 1; k < current.values.size() && k < voltage.values.size(); ++k) {
    const double di = current.values[k] - current.values[k - 1],
                 dv = voltage.values[k] - voltage.values[k - 1];
    if (std::isnan(di) || std::isnan(dv) || std::abs(di) < 0.2 * top) continue;
    ohms.push_back(std::abs(dv / di));
  }
  if (ohms.empty()) return 0.0;
  const double ohm = base::median(ohms);
  return ohm > 0.0 ? 1.0 / (1.0 + base::median_absolute_deviation(ohms) / ohm) : 0.0;
}

/// True where `p` is `i` times the voltage: a power beside its current.
bool power_of(const ColumnContent& p, const ColumnContent& i, const ColumnContent& v) {
  std::vector<double> ratios;
  for (std::size_t k = 0; k < p.values.size(); ++k) {
    const double product = i.values[k] * v.values[k];
    if (std::isnan(product) || std::isnan(p.values[k]) || std::abs(product) < 0.02) continue;
    ratios.push_back(std::abs(p.values[k] / product));
  }
  if (ratios.size() < 4) return false;
  const double middle = base::median(ratios);
  const double digits = std::log10(std::max(middle, 1e-12));
  return base::median_absolute_deviation(ratios) < 0.01 * middle &&
         std::abs(digits - std::round(digits)) < 0.02;
}

/// True where some other column sums this one up over the time, as a tester's counter does: its
/// steps are in one proportion to this column's size (or to that times the voltage).
bool summed_up(const std::vector<ColumnContent>& all, std::size_t i, const ColumnContent& time,
               const ColumnContent* volts) {
  const ColumnContent& amps = all[i];
  for (std::size_t c = 0; c < all.size(); ++c) {
    const ColumnContent& sum = all[c];
    if (c == i || &sum == &time || &sum == volts || sum.holds != Holds::numbers) continue;
    if (sum.counts || sum.rises < 0.2 || sum.most <= 0.0) continue;
    std::vector<double> plain, with_volts;
    for (std::size_t k = 1; k < sum.values.size(); ++k) {
      const double ds = sum.values[k] - sum.values[k - 1], dt = time.values[k] - time.values[k - 1];
      const double size = 0.5 * (std::abs(amps.values[k]) + std::abs(amps.values[k - 1]));
      if (!(ds > 0.0) || !(dt > 0.0) || !(size > 0.0)) continue;
      plain.push_back(ds / dt / size);
      if (volts != nullptr) with_volts.push_back(plain.back() / volts->values[k]);
    }
    for (const std::vector<double>& ratios : {plain, with_volts}) {
      if (ratios.size() < 10) continue;
      // Steps that are all alike are in proportion to anything that hardly moves: the proportion
      // must be one that units give.
      const double middle = base::median(ratios);
      double digits = 1.0;
      for (const double hour : {3600.0, 60.0, 1.0})
        if (middle > 0.0) {
          const double d = std::log10(middle * hour);
          digits = std::min(digits, std::abs(d - std::round(d)));
        }
      if (base::median_absolute_deviation(ratios) < 0.02 * middle && digits < 0.01) return true;
    }
  }
  return false;
}

bool ups_and_downs(const ColumnContent& c) { return c.falls > 0 && c.rises > 0.0; }

std::vector<std::size_t> times_among(const std::vector<ColumnContent>& contents,
                                     const std::vector<bool>& taken) {
  std::vector<std::size_t> stamps, clocks, rising, counting;
  for (std::size_t c = 0; c < contents.size(); ++c) {
    if (taken[c]) continue;
    const ColumnContent& x = contents[c];
    if (x.holds == Holds::stamps) stamps.push_back(c);
    if (x.holds == Holds::clocks) clocks.push_back(c);
    if (!could_mean(x, Meaning::time) || x.holds != Holds::numbers) continue;
    (x.counts ? counting : rising).push_back(c);
  }
  // A time rises at nearly every row; a sum of charge stands still while the cell rests. And it
  // rises by steps that are alike, which a sum does not while the current tapers, nor a voltage.
  const auto keep_best = [&](const auto& score) {
    double best = -1e9;
    for (const std::size_t c : rising) best = std::max(best, score(contents[c]));
    std::erase_if(rising, [&](std::size_t c) { return score(contents[c]) < best - 0.02; });
  };
  keep_best([](const ColumnContent& c) { return c.rises - double(c.falls); });
  if (rising.size() > 1) keep_best([](const ColumnContent& c) { return evenness(c); });
  std::vector<std::size_t> all = rising;
  if (all.empty()) all = stamps;
  if (all.empty()) all = clocks;
  if (all.empty() && !counting.empty()) all = {counting.front()};  // a row a second: all one
  return all;
}

}  // namespace

std::vector<ColumnContent> contents_of(const Layout& layout) {
  const std::vector<std::vector<std::string>>& rows = layout.sample;
  const std::size_t columns = std::max(layout.headers.size(), layout.first_row.size());
  std::vector<ColumnContent> result(columns);
  for (std::size_t c = 0; c < columns; ++c) {
    ColumnContent& content = result[c];
    Counts counts;
    for (const std::vector<std::string>& row : rows) {
      const std::string_view field = c < row.size() ? std::string_view(row[c]) : std::string_view();
      double value = parse_reading(field, layout.marks).value_or(nan);
      content.values.push_back(value);
      if (std::isnan(value))  // a number by the other marks is a number all the same
        value =
            parse_reading(field, layout.marks.decimal == '.' ? Marks{',', '.'} : Marks{'.', ','})
                .value_or(nan);
      if (!no_value(field)) count(field, value, counts);
    }
    content.holds = holds_of(counts);
    content.filled = rows.empty() ? 0.0 : double(counts.filled) / double(rows.size());
    if (content.holds != Holds::numbers) continue;
    describe(content);
    content.counts = counts_rows(content, layout.sample_stride);
  }
  return result;
}

bool take_turns(const ColumnContent& a, const ColumnContent& b) {
  if (a.holds != Holds::numbers || b.holds != Holds::numbers || a.least < 0.0 || b.least < 0.0)
    return false;
  for (std::size_t k = 0; k < a.values.size(); ++k)
    if (a.values[k] > 0.01 * a.most && b.values[k] > 0.01 * b.most) return false;
  return a.most > 0.0 && b.most > 0.0;
}

bool could_mean(const ColumnContent& c, Meaning meaning) {
  switch (meaning) {
    case Meaning::time:
    case Meaning::step_time:
      if (c.holds == Holds::clocks || c.holds == Holds::stamps || c.holds == Holds::dates)
        return true;
      // A few falls are clocks that start again; more are no time.
      return c.holds == Holds::numbers &&
             (c.values.size() < 4 ||
              (c.rises >= 0.02 && double(c.falls) <= 0.2 * double(c.values.size())));
    case Meaning::date:
      return c.holds == Holds::dates || c.holds == Holds::stamps ||
             (c.holds == Holds::numbers && days_as_numbers(c) != NumberForm::none);
    case Meaning::voltage:
    case Meaning::current:
    case Meaning::capacity:
    case Meaning::energy:
    case Meaning::power:
      return c.holds == Holds::numbers || c.holds == Holds::nothing;
    case Meaning::temperature:
      return c.holds == Holds::nothing ||
             (c.holds == Holds::numbers && !(c.most > 2000.0 && c.falls == 0 && c.rises > 0.9));
    case Meaning::state:
      return c.holds == Holds::flows || c.holds == Holds::words || c.holds == Holds::numbers;
    default:
      return true;
  }
}

NumberForm days_as_numbers(const ColumnContent& c) {
  if (c.holds != Holds::numbers || c.falls > 0) return NumberForm::none;
  if (c.whole && c.least >= 19900101.0 && c.most <= 20991231.0) {
    const auto day = static_cast<long>(c.middle);
    const long month = day / 100 % 100, of_month = day % 100;
    if (month >= 1 && month <= 12 && of_month >= 1 && of_month <= 31) return NumberForm::ymd;
  }
  if (c.whole && c.least > first_day_number && c.most < last_day_number && c.most - c.least < 400.0)
    return NumberForm::day_number;
  return NumberForm::none;
}

NumberForm clock_as_numbers(const ColumnContent& c) {
  if (c.holds != Holds::numbers) return NumberForm::none;
  if (c.least >= 0.0 && c.most < 1.0 && c.most > c.least && c.rises > 0.5)
    return NumberForm::day_fraction;
  if (!c.whole || c.least < 0.0 || c.most > 235959.0 || c.rises < 0.5) return NumberForm::none;
  for (const double v : c.values) {
    if (std::isnan(v)) continue;
    const auto clock = static_cast<long>(v);
    if (clock % 100 > 59 || clock / 100 % 100 > 59) return NumberForm::none;
  }
  return NumberForm::hms;
}

ByContent roles_by_content(const std::vector<ColumnContent>& contents,
                           const std::vector<bool>& taken, std::optional<std::size_t> voltage,
                           std::optional<std::size_t> time) {
  ByContent found;
  const auto free = [&](std::size_t c) {
    return !taken[c] && (!voltage || *voltage != c) && (!time || *time != c) &&
           contents[c].holds == Holds::numbers;
  };
  if (!time) found.time = times_among(contents, taken);
  const auto is_time = [&](std::size_t c) {
    return std::find(found.time.begin(), found.time.end(), c) != found.time.end();
  };
  if (!voltage)
    for (std::size_t c = 0; c < contents.size(); ++c)
      if (free(c) && !is_time(c) && a_cells_voltage(contents[c]) &&
          (ups_and_downs(contents[c]) || contents[c].most > contents[c].least))
        found.voltage.push_back(c);
  const std::optional<std::size_t> clock = time ? time
                                           : found.time.size() == 1
                                               ? std::optional(found.time.front())
                                               : std::nullopt;
  const auto is_current = [&](std::size_t c, const ColumnContent* v) {
    return clock && contents[*clock].holds == Holds::numbers &&
           summed_up(contents, c, contents[*clock], v);
  };
  if (found.voltage.size() > 1)  // a current in the window of a cell's voltage
    std::erase_if(found.voltage, [&](std::size_t c) { return is_current(c, nullptr); });
  const std::size_t volts = voltage ? *voltage : found.voltage.empty() ? 0 : found.voltage.front();
  if (!voltage && found.voltage.empty()) return found;
  std::vector<std::size_t> steady;  // might be a current that never changes
  for (std::size_t c = 0; c < contents.size(); ++c) {
    if (!free(c) || is_time(c) || (!voltage && c == volts)) continue;
    const ColumnContent& x = contents[c];
    if (x.most == x.least) {
      if (x.most != 0.0) steady.push_back(c);
      continue;
    }
    if (x.counts || numbers_steps(x)) continue;
    if (x.jump < least_jump) {
      if (ups_and_downs(x) && x.rises < 0.8) steady.push_back(c);
      continue;
    }
    found.current.push_back(c);
  }
  for (std::size_t c = 0; c < contents.size(); ++c)
    if (free(c) && !is_time(c) && c != volts && !contents[c].counts &&
        is_current(c, &contents[volts])) {
      found.current = {c};
      return found;
    }
  // The power goes where its current is there too; of the rest those that the voltage answers.
  if (found.current.size() > 1)
    std::erase_if(found.current, [&](std::size_t p) {
      return std::any_of(found.current.begin(), found.current.end(), [&](std::size_t i) {
        return i != p && power_of(contents[p], contents[i], contents[volts]) &&
               std::abs(contents[p].most) + std::abs(contents[p].least) >
                   std::abs(contents[i].most) + std::abs(contents[i].least);
      });
    });
  if (found.current.empty()) found.current = steady;
  std::stable_sort(found.current.begin(), found.current.end(), [&](std::size_t a, std::size_t b) {
    return answered(contents[a], contents[volts]) > answered(contents[b], contents[volts]) + 0.05;
  });
  if (found.current.size() > 1) {
    const double best = answered(contents[found.current.front()], contents[volts]);
    std::erase_if(found.current, [&](std::size_t c) {
      return answered(contents[c], contents[volts]) < 0.5 * best;
    });
  }
  // A current in the window of a cell's voltage: the voltage is the one that answers.
  if (!voltage && found.voltage.size() == 2 && found.current.empty()) {
    const std::size_t a = found.voltage[0], b = found.voltage[1];
    const bool swap = contents[a].jump > contents[b].jump;
    found.current = {swap ? a : b};
    found.voltage = {swap ? b : a};
  }
  return found;
}

}  // namespace logs

// SPDX-License-Identifier: Apache-2.0
#include "site/dispatch.hpp"

#include <algorithm>
#include <cmath>

#include "base/check.hpp"
#include "site/look_ahead.hpp"

namespace site {
namespace {

/// Share of the last month's peak that a plan takes as paid from a month's first hour on.
constexpr double usual_peak = 0.6;

double least(double a, double b) { return a < b ? a : b; }
double most(double a, double b) { return a > b ? a : b; }

/// A store's losses with its rating worked in: loss = a + b·P + c·P², kW.
struct Losses {
  double a, b, c;
  Losses(const Loss& loss, double rated_kW)
      : a(loss.k0 * rated_kW), b(loss.k1), c(rated_kW > 0.0 ? loss.k2 / rated_kW : 0.0) {}
  [[nodiscard]] double at(double P) const { return P > 0.0 ? a + (b + c * P) * P : 0.0; }
};

/// Each month's highest import.
class Peaks {
 public:
  void add(int month, double kW) {
    if (month != month_) sum_ += now_, last_ = now_, now_ = 0.0, month_ = month;
    now_ = most(now_, kW);
  }
  [[nodiscard]] double sum_kW() const { return sum_ + now_; }
  [[nodiscard]] double so_far(int month) const { return month == month_ ? now_ : 0.0; }
  /// A new month may well need most of what the last one did.
  [[nodiscard]] double taken_as_paid(int month) const {
    return most(so_far(month), usual_peak * (month == month_ ? last_ : now_));
  }

 private:
  double now_ = 0.0, last_ = 0.0, sum_ = 0.0;
  int month_ = -1;
};

struct Wish {
  double in, out;  ///< kW
};

/// Surplus in; deficit out down to what is kept; from the grid evenly up to what is to be reached,
/// not above `under_kW` of import, which this hour would have to pay.
Wish by_levels(const Rules& rules, std::size_t i, double net, double E, double by_in, double by_out,
               double under_kW) {
  const Levels& levels = rules.levels;
  const double surplus = most(net, 0.0), deficit = most(-net, 0.0);
  Wish wish{surplus, least(deficit, most(0.0, E - levels.keep_kWh[i]) * by_out)};
  if (levels.fill_steps[i] == 0) return wish;
  const double even = most(0.0, levels.fill_to_kWh[i] - E) * by_in / levels.fill_steps[i];
  const double grid =
      least(least(most(even - surplus, 0.0), rules.import_kW), most(0.0, under_kW - deficit));
  if (grid > 0.0) wish = {surplus + grid, 0.0};
  return wish;
}

/// One year; what is known beforehand is a template's, so that the step carries no question.
template <Rules::Kind kind, bool straight, bool priced, bool kept, bool cold>
Outcome play(const Year& year, const Prices* prices, const Store& store, const Rules& rules,
             double* charge_kWh) {
  const double dt = year.step_h, by_dt = 1.0 / dt;
  const Losses in(store.charging, store.charge_kW), out(store.discharging, store.discharge_kW);
  const double eta_in = 1.0 - in.b, by_eta_out = 1.0 + out.b;
  const double by_in = by_dt / eta_in, by_out = by_dt / by_eta_out;
  const double floor_kWh = std::min(store.reserve_kWh, store.usable_kWh);
  double E = std::clamp(store.start_kWh, 0.0, store.usable_kWh);
  Outcome o;
  Peaks peaks;
  [[maybe_unused]] const std::size_t a_day = year.steps_a_day();
  double charge_kW = store.charge_kW;
  [[maybe_unused]] std::optional<LookAhead> ahead;
  if constexpr (kind == Rules::Kind::follow) ahead.emplace(year, *prices, store, rules);
  [[maybe_unused]] const bool charged = priced && prices->demand_kW_month > 0.0;
  [[maybe_unused]] const auto month_of = [&](std::size_t i) { return clock_of(year, i).month; };
  const double* const load = year.load_kW.data();
  const double* const solar = year.solar_kW.data();
  for (std::size_t i = 0; i < year.steps(); ++i) {
    const double used = load[i] + store.standby_kW;
    const double net = solar[i] - used;
    Wish wish{most(net, 0.0), most(-net, 0.0)};
    if constexpr (kind == Rules::Kind::follow) {
      const double kW = ahead->wanted_kW(i, E, charged ? peaks.taken_as_paid(month_of(i)) : 0.0);
      wish = {most(kW, 0.0), most(-kW, 0.0)};
    } else if constexpr (kind == Rules::Kind::shift) {
      wish = by_levels(rules, i, net, E, by_in, by_out,
                       charged ? peaks.so_far(month_of(i)) : rules.import_kW + most(-net, 0.0));
    } else if constexpr (kind == Rules::Kind::shave) {
      wish = {most(net + rules.shave_kW, 0.0), most(-net - rules.shave_kW, 0.0)};
    }
    if constexpr (cold) {
      if (i % a_day == 0) charge_kW = least(store.charge_kW, rules.day_charge_kW[i / a_day]);
    }
    double c = least(wish.in, charge_kW), d = least(wish.out, store.discharge_kW);
    double inside_out;  // kW out of the cells
    if constexpr (straight) {
      // Only two sums and two comparisons stand between one step's charge and the next.
      const double full = least(E + c * (eta_in * dt), store.usable_kWh);
      const double left = most(full - d * (by_eta_out * dt), least(full, floor_kWh));
      c = (full - E) * by_in, d = (full - left) * by_out;
      inside_out = (full - left) * by_dt;
      E = left;
    } else {
      double inside_in = most(0.0, c - in.at(c));
      inside_out = d > 0.0 ? d + out.at(d) : 0.0;
      const double room = (store.usable_kWh - E) * by_dt, held = most(E - floor_kWh, 0.0) * by_dt;
      if (inside_in > room) c *= room / inside_in, inside_in = room;
      if (inside_in <= 0.0) c = 0.0;
      if (inside_out > held) d *= held / inside_out, inside_out = held;
      E += (inside_in - inside_out) * dt;
    }
    const double grid = net - c + d;  // to the grid where positive
    const double exported = least(most(grid, 0.0), rules.export_kW), imported = most(-grid, 0.0);
    o.load_kWh += load[i];
    o.solar_kWh += solar[i];
    o.import_kWh += imported;
    o.import_h += imported > 1e-9 ? 1.0 : 0.0;
    o.export_kWh += exported;
    o.curtailed_kWh += most(grid, 0.0) - exported;
    o.charge_kWh += c;
    o.discharge_kWh += d;
    o.inside_out_kWh += inside_out;
    o.peak_import_kW = most(o.peak_import_kW, imported);
    if constexpr (priced) {
      o.cost += imported * prices->buy[i];
      o.got += exported * prices->sell[i];
      if (charged) peaks.add(month_of(i), imported);
    }
    if constexpr (kept) charge_kWh[i] = E;
  }
  for (double* kWh :
       {&o.load_kWh, &o.solar_kWh, &o.import_kWh, &o.export_kWh, &o.curtailed_kWh, &o.charge_kWh,
        &o.discharge_kWh, &o.inside_out_kWh, &o.cost, &o.got, &o.import_h})
    *kWh *= dt;
  if constexpr (priced) {
    o.demand_cost = peaks.sum_kW() * prices->demand_kW_month;
    o.cost += o.demand_cost + prices->standing_year - o.got;
  }
  o.standby_kWh = store.standby_kW * dt * double(year.steps());
  o.end_kWh = E;
  o.full_cycles = store.usable_kWh > 0.0 ? o.inside_out_kWh / store.usable_kWh : 0.0;
  return o;
}

}  // namespace

Outcome dispatch(const Year& year, const Prices* prices, const Store& store, const Rules& rules,
                 std::vector<double>* charge_kWh) {
  CHECK(year.solar_kW.size() == year.steps() && year.step_h > 0.0);
  const bool plans = rules.kind == Rules::Kind::follow || rules.kind == Rules::Kind::ahead,
             by_level = rules.kind == Rules::Kind::shift || rules.kind == Rules::Kind::timer;
  CHECK(!plans || prices != nullptr);
  CHECK(!by_level || (rules.levels.keep_kWh.size() == year.steps() &&
                      rules.levels.fill_to_kWh.size() == year.steps() &&
                      rules.levels.fill_steps.size() == year.steps()));
  const std::size_t days = (year.steps() + year.steps_a_day() - 1) / year.steps_a_day();
  CHECK(rules.day_charge_kW.empty() || rules.day_charge_kW.size() >= days);
  const Losses in(store.charging, store.charge_kW), out(store.discharging, store.discharge_kW);
  const bool straight = in.a == 0.0 && in.c == 0.0 && out.a == 0.0 && out.c == 0.0;
  if (charge_kWh != nullptr) charge_kWh->resize(year.steps());
  double* const kept = charge_kWh != nullptr ? charge_kWh->data() : nullptr;
  const auto by_kept = [&]<Rules::Kind kind, bool line, bool priced>() {
    const bool cold = !rules.day_charge_kW.empty();
    if (kept != nullptr)
      return cold ? play<kind, line, priced, true, true>(year, prices, store, rules, kept)
                  : play<kind, line, priced, true, false>(year, prices, store, rules, kept);
    return cold ? play<kind, line, priced, false, true>(year, prices, store, rules, kept)
                : play<kind, line, priced, false, false>(year, prices, store, rules, kept);
  };
  const auto by_price = [&]<Rules::Kind kind, bool line>() {
    return prices != nullptr ? by_kept.template operator()<kind, line, true>()
                             : by_kept.template operator()<kind, line, false>();
  };
  const auto by_loss = [&]<Rules::Kind kind>() {
    return straight ? by_price.template operator()<kind, true>()
                    : by_price.template operator()<kind, false>();
  };
  switch (rules.kind) {
    case Rules::Kind::shift:
    case Rules::Kind::timer:
      return by_loss.operator()<Rules::Kind::shift>();
    case Rules::Kind::shave:
      return by_loss.operator()<Rules::Kind::shave>();
    case Rules::Kind::follow:
    case Rules::Kind::ahead:
      return prices == nullptr ? by_loss.operator()<Rules::Kind::self_use>()
                               : by_loss.operator()<Rules::Kind::follow>();
    case Rules::Kind::self_use:
      break;
  }
  return by_loss.operator()<Rules::Kind::self_use>();
}

double cost_without(const Year& year, const Prices& prices, double export_kW) {
  double cost = 0.0, demand = 0.0, peak = 0.0;
  int month = -1;
  for (std::size_t i = 0; i < year.steps(); ++i) {
    const double net = year.solar_kW[i] - year.load_kW[i];
    const double surplus = 0.5 * (net + std::abs(net)), imported = surplus - net;
    const double exported = least(surplus, export_kW);
    cost += imported * prices.buy[i] - exported * prices.sell[i];
    if (prices.demand_kW_month > 0.0) {
      if (const int m = clock_of(year, i).month; m != month) demand += peak, peak = 0.0, month = m;
      peak = most(peak, imported);
    }
  }
  return cost * year.step_h + (demand + peak) * prices.demand_kW_month + prices.standing_year;
}

double lowest_limit_kW(const Year& year, const Store& store) {
  double low = 0.0, high = 0.0;
  for (std::size_t i = 0; i < year.steps(); ++i)
    high = std::max(high, year.load_kW[i] - year.solar_kW[i] + store.standby_kW);
  Store full = store;
  full.start_kWh = store.usable_kWh;
  const auto holds = [&](double limit) {
    Rules rules;
    rules.kind = Rules::Kind::shave;
    rules.shave_kW = limit;
    return dispatch(year, nullptr, full, rules).peak_import_kW <= limit + 1e-9;
  };
  while (high - low > 1e-3) {
    const double middle = 0.5 * (low + high);
    (holds(middle) ? high : low) = middle;
  }
  return high;
}

Autonomy autonomy(const Year& year, const Store& store, double held_kWh, bool with_sun) {
  const std::size_t n = year.steps();
  const double dt = year.step_h;
  const Losses out(store.discharging, store.discharge_kW);
  const auto taken = [&](std::size_t i) {
    const double net =
        std::max(0.0, year.load_kW[i] + store.standby_kW - (with_sun ? year.solar_kW[i] : 0.0));
    return (net + out.at(net)) * dt;
  };
  // A window that slides: what it takes never exceeds what is held. The year closes on itself.
  Autonomy a;
  std::vector<double> hours(n);
  double inside = 0.0;
  std::size_t end = 0;  // of the window, counted from the first start without turning round
  for (std::size_t start = 0; start < n; ++start) {
    if (end < start) end = start, inside = 0.0;
    while (end < start + n && inside + taken(end % n) <= held_kWh) inside += taken(end++ % n);
    hours[start] = double(end - start) * dt;
    if (end > start) inside -= taken(start);
  }
  a.worst_step = std::size_t(std::min_element(hours.begin(), hours.end()) - hours.begin());
  a.worst_h = hours[a.worst_step];
  std::nth_element(hours.begin(), hours.begin() + std::ptrdiff_t(n / 2), hours.end());
  a.median_h = hours[n / 2];
  return a;
}

void self_use(const Year& year, Lanes& s, const Prices* prices) {
  constexpr std::size_t width = Lanes::width;
  const double dt = year.step_h, by_dt = 1.0 / dt;
  alignas(64) double E[width] = {}, import[width] = {}, exported[width] = {}, out[width] = {};
  alignas(64) double saved[width] = {}, lost[width] = {};
  const double* const buy = prices != nullptr ? prices->buy.data() : nullptr;
  const double* const sell = prices != nullptr ? prices->sell.data() : nullptr;
  const double standby = s.standby_kW, limit = s.export_kW;
  alignas(64) double by_eta_in[width], by_eta_out[width];
  for (std::size_t l = 0; l < width; ++l)
    by_eta_in[l] = by_dt / s.charging[l], by_eta_out[l] = dt / s.discharging[l];
  const double* const load = year.load_kW.data();
  const double* const solar = year.solar_kW.data();
  for (std::size_t i = 0; i < year.steps(); ++i) {
    const double bought = buy != nullptr ? buy[i] : 0.0, sold = sell != nullptr ? sell[i] : 0.0;
#pragma omp simd
    for (std::size_t l = 0; l < width; ++l) {
      const double before = solar[i] * s.solar[l] - load[i] * s.load[l], net = before - standby;
      const double more = 0.5 * (net + std::abs(net)), less = more - net;
      const double more_before = 0.5 * (before + std::abs(before)),
                   less_before = more_before - before;
      const double c = least(least(more, s.charge_kW[l]), (s.usable_kWh[l] - E[l]) * by_eta_in[l]);
      const double d = least(least(less, s.discharge_kW[l]), E[l] * by_dt * s.discharging[l]);
      E[l] += c * dt * s.charging[l] - d * by_eta_out[l];
      import[l] += less - d;
      exported[l] += more - c;
      out[l] += d;
      saved[l] += (less_before - less + d) * bought;
      lost[l] += (least(more_before, limit) - least(more - c, limit)) * sold;
    }
  }
  for (std::size_t l = 0; l < width; ++l) {
    s.import_kWh[l] = import[l] * dt;
    s.export_kWh[l] = exported[l] * dt;
    s.discharge_kWh[l] = out[l] * dt;
    s.saving_buy[l] = saved[l] * dt;
    s.lost_sell[l] = lost[l] * dt;
  }
}

}  // namespace site

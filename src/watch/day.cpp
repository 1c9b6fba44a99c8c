// SPDX-License-Identifier: Apache-2.0
#include "watch/day.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

#include "base/check.hpp"
#include "cell/chemistry.hpp"
#include "watch/head.hpp"

namespace watch {
namespace {

constexpr double day_s = 86400.0, longest_hold_s = 3600.0;
constexpr double slow_tau_s = 161.0;  // [Plett2015], the slow pair at 25 °C
constexpr double slow_share =
    0.45;  // of the 10 s resistance; engineering synthesis, models/cell.md
constexpr double charge_at_full = 0.985;  // where the mean curve reads 3.40 V while charging

}  // namespace

std::string_view name(Kind kind) {
  constexpr std::string_view names[kinds] = {"drift", "capacity", "resistance", "joint", "sense"};
  return names[int(kind)];
}

Warmth warmth(double celsius) {
  const auto f =
      cell::resistance_factors(base::Temperature::from_C(std::clamp(celsius, -15.0, 45.0)));
  return {f.ohmic, f.slow};
}

// --- ChargeCounter
// ---------------------------------------------------------------------------------

void ChargeCounter::pass(double charge_Ah, double seconds) {
  seconds_ += seconds;
  if (known_) since_full_Ah_ += charge_Ah - offset_A_ * seconds / 3600.0;
}

void ChargeCounter::gap(double seconds, double typical_A) {
  seconds_ += seconds;
  counted_whole_ = false;
  const double u = typical_A * seconds / 3600.0;
  lost_u2_ += u * u;
}

double ChargeCounter::offset_u_A() const { return std::sqrt(offset_u2_); }

double ChargeCounter::u_Ah() const {
  const double hours = seconds_ / 3600.0, u = offset_u_A() * hours;
  return std::sqrt(start_u2_ + lost_u2_ + u * u + std::pow(0.003 * capacity_Ah_, 2));
}

std::optional<ChargeCounter::Closing> ChargeCounter::full(double beyond_Ah) {
  std::optional<Closing> closing;
  const double hours = seconds_ / 3600.0;
  if (ever_full_ && counted_whole_ && hours > 6.0) {
    const double missed = since_full_Ah_ + beyond_Ah;
    closing = Closing{missed, hours};
    // Half an ampere-hour of repeatability at each end for 230 Ah.
    const double read_u2 = 2.0 * std::pow(0.5 * capacity_Ah_ / 230.0 / hours, 2);
    offset_u2_ += std::pow(0.002, 2) * hours / 24.0;
    const double gain = offset_u2_ / (offset_u2_ + read_u2);
    offset_A_ += gain * missed / hours;
    offset_u2_ *= 1.0 - gain;
  }
  known_ = ever_full_ = counted_whole_ = true;
  since_full_Ah_ = -beyond_Ah;
  seconds_ = 0.0;
  start_u2_ = std::pow(0.5 * capacity_Ah_ / 230.0, 2);
  lost_u2_ = 0.0;
  return closing;
}

void ChargeCounter::seen(double since_full_Ah, double u) {
  if (known_ && u_Ah() < u) return;
  since_full_Ah_ = since_full_Ah;
  known_ = true;
  counted_whole_ = false;
  seconds_ = 0.0;
  start_u2_ = u * u;
  lost_u2_ = 0.0;
}

// --- DayBuilder
// ------------------------------------------------------------------------------------

DayBuilder::DayBuilder(PackFacts facts) : facts_(std::move(facts)), counter_(facts_.capacity_Ah) {
  CHECK(facts_.series >= 1 && facts_.capacity_Ah > 0.0);
}

std::vector<Day> DayBuilder::take() { return std::exchange(done_, {}); }

void DayBuilder::begin_day(long day) {
  day_ = Day{};
  day_.day = day;
  day_.cells.resize(std::size_t(facts_.series));
  sum_C_ = seconds_C_ = charge_u_sum_ = u_minutes_ = 0.0;
  open_ = true;
}

void DayBuilder::end_day() {
  if (!open_) return;
  open_ = false;
  if (seconds_C_ > 0.0) day_.mean_C = sum_C_ / seconds_C_;
  if (u_minutes_ > 0.0) day_.charge_u_Ah = charge_u_sum_ / u_minutes_;
  if (counter_.ever_full()) day_.days_since_full = counter_.seconds_since_full() / day_s;
  if (day_.weight > 0.0)
    for (CellDay& c : day_.cells) c.share /= day_.weight;
  if (day_.steps > 0.0)
    for (CellDay& c : day_.cells) c.step_share /= day_.steps;
  curve_.settle();
  done_.push_back(std::move(day_));
}

void DayBuilder::finish() {
  end_head();
  end_day();
}

void DayBuilder::bleed(const Reading& r, double seconds) {
  if (!facts_.bleeding) return;
  const Bleeding& b = *facts_.bleeding;
  float lowest = 9.0F;
  for (const float v : r.cells_V)
    if (std::isfinite(v)) lowest = std::min(lowest, v);
  bool any = false;
  const double Ah = b.current_A * seconds / 3600.0;
  for (std::size_t j = 0; j < r.cells_V.size(); ++j)
    if (r.cells_V[j] > b.start_V && r.cells_V[j] > lowest + b.window_V) {
      day_.cells[j].bled_Ah += Ah;
      any = true;
    }
  if (any) day_.balancing_hours += seconds / 3600.0;
}

void DayBuilder::add(const Reading& r) {
  CHECK(r.cells_V.size() == std::size_t(facts_.series));
  const long day = long(std::floor(r.time_s / day_s));
  if (!open_ || day != day_.day) {
    end_day();
    begin_day(day);
  }
  const double step = known(last_s_) ? r.time_s - last_s_ : 0.0;
  const bool gap = !known(last_s_) || r.new_segment || step <= 0.0 || step > longest_hold_s;
  if (gap) {
    end_head();
    if (known(last_s_) && step > 0.0) counter_.gap(step, 0.05 * facts_.capacity_Ah);
    slow_A_ = known(r.current_A) ? r.current_A * 0.5 : 0.0;
  } else {
    const double Ah = known(r.charge_Ah) ? r.charge_Ah : last_A_ * step / 3600.0;
    counter_.pass(Ah, step);
    passed_Ah_ -= Ah;
    (Ah > 0.0 ? day_.out_Ah : day_.in_Ah) += std::abs(Ah);
    const double Wh = last_power_W_ * step / 3600.0;
    (Wh > 0.0 ? day_.out_Wh : day_.in_Wh) += std::abs(Wh);
    day_.hours += step / 3600.0;
    const double keep = std::exp(-step / slow_tau_s);
    slow_A_ = keep * slow_A_ + (1.0 - keep) * last_A_;
    if (known(r.temperature_C)) {
      sum_C_ += r.temperature_C * step;
      seconds_C_ += step;
    }
    bleed(r, step);
  }
  last_s_ = r.time_s;
  if (known(r.current_A)) last_A_ = r.current_A;
  if (known(r.temperature_C)) {
    day_.lowest_C =
        known(day_.lowest_C) ? std::min(day_.lowest_C, r.temperature_C) : r.temperature_C;
    day_.highest_C =
        known(day_.highest_C) ? std::max(day_.highest_C, r.temperature_C) : r.temperature_C;
  }
  sorted_.clear();
  double sum_V = 0.0;
  for (std::size_t j = 0; j < r.cells_V.size(); ++j) {
    const float v = r.cells_V[j];
    if (!std::isfinite(v)) continue;
    sorted_.push_back(v);
    sum_V += v;
    CellDay& c = day_.cells[j];
    c.lowest_V = known(c.lowest_V) ? std::min(c.lowest_V, double(v)) : v;
    c.highest_V = known(c.highest_V) ? std::max(c.highest_V, double(v)) : v;
  }
  if (sorted_.size() < 2 || 2 * sorted_.size() < r.cells_V.size()) return;
  last_power_W_ = sum_V * double(r.cells_V.size()) / double(sorted_.size()) * last_A_;
  std::sort(sorted_.begin(), sorted_.end());
  const std::size_t n = sorted_.size();
  const double median = 0.5 * (double(sorted_[(n - 1) / 2]) + double(sorted_[n / 2]));
  const Warmth w = warmth(known(r.temperature_C) ? r.temperature_C : 25.0);
  const double ohmic =
      facts_.resistance_mOhm * 1e-3 * (last_A_ * w.ohmic + slow_share * slow_A_ * w.slow);
  median_corrected_V_ = median + ohmic;
  const double minutes = gap ? 0.0 : std::min(step, 300.0) / 60.0;
  if (median_corrected_V_ > 3.38) day_.hours_at_full += minutes / 60.0;
  // Near empty the curve tells the charge.
  if (!gap && median_corrected_V_ < 3.10 && std::abs(last_A_) < 0.5 * facts_.capacity_Ah)
    counter_.seen((charge_at_full - charge_at_V(median_corrected_V_)) * facts_.capacity_Ah,
                  0.02 * facts_.capacity_Ah);
  if (minutes > 0.0 && known(r.current_A)) equations(r, median, minutes);
  head(r, median, gap ? 0.0 : step);
}

void DayBuilder::equations(const Reading& r, double median, double minutes) {
  std::vector<double> before = std::exchange(last_off_mV_, {});
  if (median < 3.13 || median_corrected_V_ > 3.37) return;
  const double Q = facts_.capacity_Ah, T = known(r.temperature_C) ? r.temperature_C : 25.0;
  const Warmth w = warmth(T);
  const bool charge_known = counter_.known() && counter_.u_Ah() < 0.15 * Q;
  double steep_mV = 0.0, x = 0.0, weight = minutes;
  if (charge_known) {
    x = counter_.since_full_Ah();
    const double s = charge_at_full - x / Q, u = counter_.u_Ah() / (0.03 * Q);
    steep_mV = curve_.slope_V(s) * 1e3 / Q;
    weight /= 1.0 + u * u;
    charge_u_sum_ += counter_.u_Ah() * minutes;
    u_minutes_ += minutes;
    day_.lowest_charge = known(day_.lowest_charge) ? std::min(day_.lowest_charge, s) : s;
    day_.highest_charge = known(day_.highest_charge) ? std::max(day_.highest_charge, s) : s;
    if (u < 1.0 && std::abs(last_A_) < 0.3 * Q)
      curve_.add(s, median_corrected_V_, last_A_ < 0.0, minutes);
  } else {
    weight *= 0.2;  // the curve's own differences go into the rest unexplained
  }
  const double A[states] = {-steep_mV,         0.0, steep_mV * x, -last_A_ * w.ohmic,
                            -slow_A_ * w.slow, 1.0, -last_A_};
  for (int a = 0; a < states; ++a)
    for (int b = a; b < states; ++b) day_.normal[at(a, b)] += weight * A[a] * A[b];
  day_.weight += weight;
  std::vector<double> off_mV(r.cells_V.size(), not_known);
  const bool own_C = r.cells_C.size() == r.cells_V.size();
  for (std::size_t j = 0; j < r.cells_V.size(); ++j) {
    double y = (double(r.cells_V[j]) - median) * 1e3;
    if (!(std::abs(y) < 60.0)) continue;  // also where it is missing
    if (own_C && std::isfinite(r.cells_C[j])) {
      const Warmth own = warmth(r.cells_C[j]);
      y += facts_.resistance_mOhm *
           (last_A_ * (own.ohmic - w.ohmic) + slow_share * slow_A_ * (own.slow - w.slow));
    }
    off_mV[j] = y;
    CellDay& c = day_.cells[j];
    const double wy = weight * y;
    for (int a = 0; a < states; ++a) c.right[std::size_t(a)] += A[a] * wy;
    c.share += weight;
    c.squares += wy * y;
  }
  const std::array<double, 3> row = {A[index(State::resistance)], A[index(State::slow)],
                                     A[index(State::joint)]};
  if (!before.empty() && minutes <= 5.5) {
    last_off_mV_ = std::move(before);
    steps(row, off_mV);
  }
  last_off_mV_ = std::move(off_mV);
  last_row_ = row;
}

/// From one reading to the next: the curve, the offset and the reading error cancel.
void DayBuilder::steps(const std::array<double, 3>& row, const std::vector<double>& off_mV) {
  constexpr int which[3] = {index(State::resistance), index(State::slow), index(State::joint)};
  const double step_A = last_row_[2] - row[2];
  // Hysteresis turns where the current changes its sign; a small step tells nothing.
  if (std::abs(step_A) < 0.004 * facts_.capacity_Ah || row[2] * last_row_[2] < 0.0) return;
  std::array<double, 3> A;
  for (std::size_t k = 0; k < 3; ++k) A[k] = row[k] - last_row_[k];
  for (std::size_t a = 0; a < 3; ++a)
    for (std::size_t b = a; b < 3; ++b) day_.step_normal[at(which[a], which[b])] += A[a] * A[b];
  day_.steps += 1.0;
  for (std::size_t j = 0; j < off_mV.size(); ++j) {
    const double y = off_mV[j] - last_off_mV_[j];
    if (!(std::abs(y) < 30.0)) continue;
    CellDay& c = day_.cells[j];
    for (std::size_t a = 0; a < 3; ++a) c.step_right[std::size_t(which[a])] += A[a] * y;
    c.step_squares += y * y;
    c.step_share += 1.0;
  }
}

void DayBuilder::head(const Reading& r, double median, double seconds) {
  const double least_A = 0.004 * facts_.capacity_Ah;
  if (median_corrected_V_ < 3.34 || discharging_s_ > 600.0) end_head();
  if (last_A_ > -least_A) {
    if (!head_.empty() && last_A_ > least_A) discharging_s_ += seconds;
    return;
  }
  discharging_s_ = 0.0;
  if (median_corrected_V_ < 3.35 || head_.size() > 20000) return;
  if (head_.empty()) passed_Ah_ = 0.0;
  const double T = known(r.temperature_C) ? r.temperature_C : 25.0;
  head_.push_back({passed_Ah_, last_A_, slow_A_, T, median_corrected_V_});
  const auto common = float(median_corrected_V_ - median);
  for (const float v : r.cells_V) head_V_.push_back(v + common);
}

void DayBuilder::end_head() {
  discharging_s_ = 0.0;
  if (head_.size() >= 5) {
    std::vector<double> Ah, volts;
    for (const HeadSample& h : head_) {
      Ah.push_back(h.Ah);
      volts.push_back(h.median_V);
    }
    const Head found = find_gaps(Ah, volts, head_V_, facts_.series);
    if (found.full && open_) {
      // Of several charges in a day the one that went highest tells most.
      const bool better = !day_.full || found.top_V > day_.full_top_V;
      for (std::size_t j = 0; better && j < day_.cells.size(); ++j) {
        const Gap& g = found.gaps[j];
        if (!known(g.gap_Ah)) continue;
        day_.cells[j].gap_Ah = g.gap_Ah;
        day_.cells[j].gap_u_Ah = g.u_Ah;
        day_.cells[j].gap_at_least = g.at_least ? 1.0 : 0.0;
        day_.cells[j].gap_slope_mV_Ah = g.slope_mV_Ah;
      }
      day_.full = true;
      if (better) {
        day_.full_top_V = found.top_V;
        day_.full_current_A = head_[found.at].current_A;
        day_.full_slow_A = head_[found.at].slow_A;
        day_.full_C = head_[found.at].celsius;
      }
      if (const auto closing = counter_.full(passed_Ah_ - found.full_Ah)) {
        day_.closing_Ah = closing->missed_Ah;
        day_.closing_hours = closing->hours;
      }
    }
  }
  head_.clear();
  head_V_.clear();
}

}  // namespace watch

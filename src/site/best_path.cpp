// SPDX-License-Identifier: Apache-2.0
#include "site/best_path.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "base/check.hpp"

namespace site {
namespace {

/// The grid's cost of a power r from it (to it below zero): pieces of ascending price from `low`
/// on.
struct GridCost {
  struct Part {
    double price, kW;
    enum class Kind { sold, thrown, bought, dear } kind;
  };
  std::array<Part, 4> part;
  double low, at_low;
  explicit GridCost(const StepAtHouse& s) {
    const double sold = std::max(0.0, std::min(s.export_kW, s.solar_kW)),
                 cheap = std::max(0.0, std::min(s.import_dear_kW, s.import_kW));
    low = -sold - s.solar_kW, at_low = -sold * s.sell;
    part = {{{s.sell, sold, Part::Kind::sold},
             {0.0, s.solar_kW, Part::Kind::thrown},
             {s.buy, cheap, Part::Kind::bought},
             {s.buy_dear, s.import_kW - cheap, Part::Kind::dear}}};
    // Four of them: a sort by insertion.
    for (std::size_t i = 1; i < part.size(); ++i)
      for (std::size_t j = i; j > 0 && part[j].price < part[j - 1].price; --j)
        std::swap(part[j], part[j - 1]);
  }
};

/// Change of charge and power drawn by the store: at the same change, the least power is drawn when
/// it does one thing at a time, the most when it does both at once.
struct Corners {
  double in, out, charge, discharge, dt;
  explicit Corners(const StepAtHouse& s)
      : in(s.eta_in),
        out(s.by_eta_out),
        charge(s.charge_kW),
        discharge(s.discharge_kW),
        dt(s.dt_h) {}
  [[nodiscard]] double change_frugal(double q) const { return q * (q > 0.0 ? in : out) * dt; }
  [[nodiscard]] double change_wasteful(double q) const {
    return (q < charge - discharge ? in * (q + discharge) - out * discharge
                                   : in * charge - out * (charge - q)) *
           dt;
  }
  [[nodiscard]] double frugal(double x) const { return x / (dt * (x > 0.0 ? in : out)); }
  [[nodiscard]] double wasteful(double x) const {
    const double y = x / dt;
    return y < in * charge - out * discharge ? (y + out * discharge) / in - discharge
                                             : charge - (in * charge - y) / out;
  }
};

}  // namespace

StepCost step_cost(const StepAtHouse& s) {
  const GridCost grid(s);
  const Corners c(s);
  const double needed = s.needed_kW();
  StepCost h;
  const double least = std::max(-c.discharge, grid.low - needed);
  const double most = std::min(c.charge, s.import_kW - needed);
  if (most < least) {
    // A hair of rounding is none.
    h.feasible = most > least - 1e-9;
    if (!h.feasible) return h;
  }
  // Where the grid's cost stops falling, and where it starts to rise.
  double r = grid.low, falls_to = grid.low, rises_from = grid.low;
  for (const GridCost::Part& p : grid.part) {
    r += p.kW;
    if (p.price < 0.0) falls_to = r;
    if (p.price <= 0.0) rises_from = r;
  }
  // Falling: the more it draws the better; both at once. Then level. Then one thing at a time.
  const double q_falls = std::clamp(falls_to - needed, least, std::max(least, most)),
               q_rises = std::clamp(rises_from - needed, least, std::max(least, most));
  const double corner = c.charge - c.discharge;
  h.at_low = grid.at_low;
  r = grid.low;
  for (const GridCost::Part& p : grid.part) {  // up to the least power
    const double part = std::clamp(least + needed - r, 0.0, p.kW);
    h.at_low += p.price * part, r += p.kW;
  }
  h.at_low *= s.dt_h;
  h.low_kWh = c.change_wasteful(least);
  r = grid.low;
  bool level = false;
  const auto put_level = [&] {
    if (!level) h.add(0.0, c.change_frugal(q_rises) - c.change_wasteful(q_falls));
    level = true;
  };
  for (const GridCost::Part& p : grid.part) {
    const double a = std::max(r - needed, least), b = std::min(r + p.kW - needed, most);
    r += p.kW;
    if (p.price == 0.0) continue;
    if (p.price > 0.0) put_level();
    if (b <= a) continue;
    if (p.price < 0.0) {
      const double m = std::clamp(corner, a, b);
      h.add(p.price / c.in, (m - a) * c.in * c.dt);
      h.add(p.price / c.out, (b - m) * c.out * c.dt);
    } else {
      const double m = std::clamp(0.0, a, b);
      h.add(p.price / c.out, (m - a) * c.out * c.dt);
      h.add(p.price / c.in, (b - m) * c.in * c.dt);
    }
  }
  put_level();
  return h;
}

StepFlows step_flows(const StepAtHouse& s, double x) {
  const GridCost grid(s);
  const Corners c(s);
  const double needed = s.needed_kW();
  double r = grid.low, falls_to = grid.low;
  for (const GridCost::Part& p : grid.part) {
    r += p.kW;
    if (p.price < 0.0) falls_to = r;
  }
  const double least = c.frugal(x), most = std::max(least, c.wasteful(x));
  const double q = std::clamp(falls_to - needed, least, most);
  StepFlows f;
  // charge − discharge = q, in·charge − out·discharge = x / dt
  if (c.out > c.in && q > least)
    f.charge_kW = std::max(0.0, (c.out * q - x / c.dt) / (c.out - c.in));
  else
    f.charge_kW = std::max(0.0, q);
  f.discharge_kW = std::max(0.0, f.charge_kW - q);
  double left = needed + q - grid.low;
  f.cost = grid.at_low;
  f.export_kW = std::max(0.0, std::min(s.export_kW, s.solar_kW));
  for (const GridCost::Part& p : grid.part) {
    const double part = std::clamp(left, 0.0, p.kW);
    left -= p.kW;
    f.cost += p.price * part;
    if (p.kind == GridCost::Part::Kind::sold) f.export_kW -= part;
    if (p.kind == GridCost::Part::Kind::bought || p.kind == GridCost::Part::Kind::dear)
      f.import_kW += part;
  }
  f.cost *= c.dt;
  return f;
}

void PathPlanner::start(const PathLimits& limits) {
  CHECK(limits.low_kWh <= limits.high_kWh);
  limits_ = limits;
  from_ = to_ = std::clamp(limits.start_kWh, limits.low_kWh, limits.high_kWh);
  limits_.start_kWh = from_;
  at_from_ = 0.0;
  now_.clear(), marks_.clear(), steps_.clear();
  most_slopes_ = 0;
}

bool PathPlanner::add(const StepCost& h, bool traced) {
  if (!h.feasible) return false;
  // The sum of both by sorted slopes, cut to what the store holds while it is made.
  next_.resize(now_.size() + h.pieces);
  Piece* out = next_.data();
  const double low = limits_.low_kWh, high = limits_.high_kWh;
  double at = from_ + h.low_kWh, value = at_from_ + h.at_low;  // of the sum, as it grows
  double before = from_;                                       // in the value function alone
  double begin = std::max(at, low), value_begin = value;
  const auto put = [&](double slope, double kWh) {
    double length = kWh;
    if (at < low) {
      const double cut = std::min(length, low - at);
      value_begin = value += slope * cut;
      if (length <= low - at) {
        at += length;
        return;
      }
      at = low, length -= cut;
    }
    length = std::min(length, high - at);
    if (length <= 0.0) return;
    at += length;
    if (out != next_.data() && out[-1].slope == slope)
      out[-1].kWh += length;
    else
      *out++ = {slope, length};
  };
  std::size_t j = 0;
  const std::size_t n = now_.size();
  for (std::size_t k = 0; k < h.pieces; ++k) {
    const Piece p = h.piece[k];
    for (; j < n && now_[j].slope < p.slope; ++j)
      before += now_[j].kWh, put(now_[j].slope, now_[j].kWh);
    if (traced) marks_.push_back({p.slope, p.kWh, before});
    put(p.slope, p.kWh);
  }
  for (; j < n && at < high; ++j) put(now_[j].slope, now_[j].kWh);
  if (traced) steps_.push_back({h.low_kWh, marks_.size()});
  next_.resize(std::size_t(out - next_.data()));
  // Ends that miss the store by a hair of rounding touch it.
  if (at < low - 1e-9 || begin > high + 1e-9) return false;
  from_ = std::min(begin, high), at_from_ = value_begin, to_ = std::max(from_, at);
  now_.swap(next_);
  most_slopes_ = std::max(most_slopes_, now_.size());
  return true;
}

bool PathPlanner::finish(double* cost) {
  end_ = from_;
  double value = at_from_;
  if (limits_.closed) {
    const double wanted = limits_.start_kWh;
    if (wanted < from_ - 1e-9 || wanted > to_ + 1e-9) return false;
    for (const Piece& p : now_) {
      const double part = std::clamp(wanted - end_, 0.0, p.kWh);
      end_ += part, value += part * p.slope;
    }
    end_ = wanted;
  } else {
    for (const Piece& p : now_)
      if (p.slope < limits_.end_worth) end_ += p.kWh, value += p.kWh * p.slope;
  }
  *cost = value - (limits_.closed ? 0.0 : limits_.end_worth * end_);
  return true;
}

void PathPlanner::trace(std::vector<double>& charge_kWh) {
  charge_kWh.resize(steps_.size());
  double E = end_;
  for (std::size_t i = steps_.size(); i-- > 0;) {
    charge_kWh[i] = E;
    // Every piece takes the part of E that lies in its place among the sorted slopes.
    const std::size_t begin = i > 0 ? steps_[i - 1].end : 0;
    const double low = steps_[i].low;
    double x = low, shift = low;
    for (std::size_t k = begin; k < steps_[i].end; ++k) {
      x += std::clamp(E - (marks_[k].at + shift), 0.0, marks_[k].kWh);
      shift += marks_[k].kWh;
    }
    E = std::clamp(E - x, limits_.low_kWh, limits_.high_kWh);
  }
}

double PathPlanner::worth(std::span<const double> charge, std::vector<double>& worth) {
  constexpr double far = std::numeric_limits<double>::infinity();
  const std::size_t n = steps_.size();
  const double near = 1e-9 * std::max(1.0, limits_.high_kWh);
  CHECK(charge.size() == n);
  worth.assign(n, 0.0);
  // Which prices support the change of each step; between two touches of an end they are one
  // price, which falls where the store is empty and rises where it is full. From the end back:
  // what later steps leave possible. Then forward: the nearest to the one before.
  struct Range {
    double low, high;
  };
  std::vector<Range> possible(n);
  Range later = limits_.closed ? Range{-far, far} : Range{limits_.end_worth, limits_.end_worth};
  for (std::size_t i = n; i-- > 0;) {
    const double E = charge[i];
    Range r = later;
    if (E <= limits_.low_kWh + near) r.high = far;
    if (E >= limits_.high_kWh - near) r.low = -far;
    const double x = E - (i > 0 ? charge[i - 1] : limits_.start_kWh);
    double a = steps_[i].low, low = -far, high = far;
    for (std::size_t k = i > 0 ? steps_[i - 1].end : 0; k < steps_[i].end; ++k) {
      const Mark& m = marks_[k];
      const double b = a + m.kWh;
      if (x > a + near) low = std::max(low, m.slope);
      if (x < b - near) high = std::min(high, m.slope);
      a = b;
    }
    r.low = std::max(r.low, low), r.high = std::min(r.high, high);
    if (r.low > r.high) r.low = r.high = std::clamp(0.5 * (r.low + r.high), r.high, r.low);
    possible[i] = later = r;
  }
  double price = 0.0, room = 0.0;
  for (std::size_t i = 0; i < n; ++i) {
    const double before = price;
    price = std::clamp(i == 0 ? 0.0 : before, possible[i].low, possible[i].high);
    worth[i] = price;
    if (i > 0 && charge[i - 1] >= limits_.high_kWh - near) room += std::max(0.0, price - before);
  }
  if (n > 0 && !limits_.closed && charge[n - 1] >= limits_.high_kWh - near)
    room += std::max(0.0, limits_.end_worth - price);
  return room;
}

}  // namespace site

// SPDX-License-Identifier: Apache-2.0
#include "bench/fit.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include <Eigen/Cholesky>
#include <Eigen/Core>
#include <fmt/format.h>

#include "base/interpolation.hpp"
#include "base/least_squares.hpp"
#include "base/statistics.hpp"
#include "cell/chemistry.hpp"
#include "cell/model.hpp"
#include "logs/dirt.hpp"

namespace bench {
namespace {

using Eigen::MatrixXd;
using Eigen::VectorXd;

constexpr double hysteresis_per_charge = 25.0;  // how fast the branch is reached (docs/models)
constexpr std::size_t most_rows = 3000;         // that the fit looks at
constexpr double after_step_s = 180.0;
constexpr double steep_mV_per_V = 1.0;  // a thousandth of charge, over a millivolt
// Shares of R0, R1 and R2 in their sum, where a log cannot tell them apart (docs/models/cell.md).
constexpr std::array<double, 3> usual_shares = {55.0 / 140.0, 25.0 / 140.0, 60.0 / 140.0};
constexpr double least_visited = 3;  // rows that a knot needs around it
constexpr double assumed_half_gap_mV = 12.0;

/// Knots of the curve: where published tables of it have theirs, closer where it bends.
std::vector<double> all_knots() {
  std::vector<double> s = {0.0, 0.005, 0.01, 0.02, 0.03, 0.04, 0.05, 0.06, 0.08, 0.10};
  for (int k = 5; k <= 34; ++k) s.push_back(0.025 * k);  // 0.125 to 0.85
  for (const double end : {0.90, 0.95, 0.97, 0.98, 0.99, 0.995, 1.0}) s.push_back(end);
  return s;
}

/// What does not depend on the time constants: charge, hysteresis, and which rows count.
struct Track {
  const logs::Log* log = nullptr;
  std::vector<double> charge, branch, slow;
  std::vector<std::size_t> rows;  ///< that the fit looks at
};

Track track_of(const FitLog& from, double capacity_Ah) {
  const logs::Log& log = *from.log;
  Track t{&log, {}, {}, {}, {}};
  const std::size_t n = log.rows();
  t.charge.resize(n);
  t.branch.resize(n);
  t.slow.resize(n);
  double charge = from.start_charge, branch = from.start_charge > 0.5 ? 1.0 : -1.0;
  for (std::size_t k = 0; k < n; ++k) {
    if (k > 0) {
      // Half of either row's share lies between the two.
      const double moved_As = 0.5 * (log.charge_As[k - 1] + log.charge_As[k]);
      const double share = moved_As / 3600.0 / capacity_Ah;
      charge -= share;
      const double decay = std::exp(-hysteresis_per_charge * std::abs(share));
      branch = branch * decay + (share > 0.0 ? -1.0 : 1.0) * (1.0 - decay);
    }
    t.charge[k] = charge;
    t.branch[k] = branch;
    t.slow[k] = cell::slow_resistance_factor(charge);
  }
  return t;
}

/// Rows after steps, and others evenly, `most` at most.
void choose_rows(Track& t, std::size_t most) {
  const logs::Log& log = *t.log;
  const double top = logs::usual_top(log.current_A);
  const std::size_t n = log.rows();
  const std::size_t stride = std::max<std::size_t>(1, n / (most / 2));
  std::vector<std::size_t> stepped;
  double step_at = -1e9;
  for (std::size_t k = 1; k < n; ++k) {
    if (std::abs(log.current_A[k] - log.current_A[k - 1]) > 0.1 * top) step_at = log.time_s[k];
    if (log.time_s[k] - step_at < after_step_s) stepped.push_back(k);
  }
  const std::size_t step_stride = std::max<std::size_t>(1, stepped.size() / (most / 2));
  std::vector<char> take(n, 0);
  for (std::size_t k = 0; k < n; k += stride) take[k] = 1;
  for (std::size_t k = 0; k < stepped.size(); k += step_stride) take[stepped[k]] = 1;
  // Where the current is just changing, neither reading says when within the interval it did.
  for (std::size_t k = 1; k < n; ++k)
    if (take[k] && t.charge[k] > -0.02 && t.charge[k] < 1.02 &&
        std::abs(log.current_A[k] - log.current_A[k - 1]) < 0.03 * top)
      t.rows.push_back(k);
}

/// The current behind a lag of `tau_s`, at every row, weighed as the slow resistances are at that
/// charge; exact for a current that goes straight from
/// row to row only by its mean, which is what a log knows.
void lag(const Track& track, double tau_s, std::vector<double>& x) {
  const logs::Log& log = *track.log;
  x.assign(log.rows(), 0.0);
  for (std::size_t k = 1; k < log.rows(); ++k) {
    const double dt = log.time_s[k] - log.time_s[k - 1];
    const double decay = std::exp(-dt / tau_s);
    // A step shows in the row that has the new value: testers write where a step begins.
    x[k] = x[k - 1] * decay + log.current_A[k] * track.slow[k] * (1.0 - decay);
  }
}

/// The linear part at given time constants.
class Design {
 public:
  /// `tied`: one resistance for all three, in their usual shares.
  Design(std::vector<Track> tracks, std::vector<double> knots, bool both_ways, bool tied)
      : tracks_(std::move(tracks)), knots_(std::move(knots)), both_ways_(both_ways), tied_(tied) {
    for (const Track& t : tracks_) rows_ += t.rows.size();
  }
  [[nodiscard]] std::size_t rows() const { return rows_; }
  [[nodiscard]] std::size_t columns() const {
    return knots_.size() + resistances() + (both_ways_ ? 1 : 0);
  }
  [[nodiscard]] std::size_t resistances() const { return tied_ ? 1 : 3; }
  [[nodiscard]] const std::vector<double>& knots() const { return knots_; }
  [[nodiscard]] const std::vector<Track>& tracks() const { return tracks_; }

  /// Fills the matrix and the voltages, mV.
  void fill(double tau1_s, double tau2_s, MatrixXd& a, VectorXd& b,
            std::vector<double>* weights = nullptr) const {
    a.setZero(static_cast<Eigen::Index>(rows_), static_cast<Eigen::Index>(columns()));
    b.resize(static_cast<Eigen::Index>(rows_));
    Eigen::Index row = 0;
    const auto k0 = static_cast<Eigen::Index>(knots_.size());
    std::vector<double> x1, x2;
    for (const Track& t : tracks_) {
      lag(t, tau1_s, x1);
      lag(t, tau2_s, x2);
      for (const std::size_t k : t.rows) {
        const double s = std::clamp(t.charge[k], knots_.front(), knots_.back());
        auto above = static_cast<std::size_t>(std::upper_bound(knots_.begin(), knots_.end(), s) -
                                              knots_.begin());
        above = std::clamp<std::size_t>(above, 1, knots_.size() - 1);
        const double w = (s - knots_[above - 1]) / (knots_[above] - knots_[above - 1]);
        a(row, static_cast<Eigen::Index>(above - 1)) = 1.0 - w;
        a(row, static_cast<Eigen::Index>(above)) = w;
        if (tied_) {
          a(row, k0) = -(usual_shares[0] * t.log->current_A[k] + usual_shares[1] * x1[k] +
                         usual_shares[2] * x2[k]);
        } else {
          a(row, k0) = -t.log->current_A[k];
          a(row, k0 + 1) = -x1[k];
          a(row, k0 + 2) = -x2[k];
        }
        if (both_ways_) a(row, k0 + static_cast<Eigen::Index>(resistances())) = t.branch[k];
        b[row] = t.log->voltage_V[k] * 1e3 - (both_ways_ ? 0.0 : assumed_half_gap_mV * t.branch[k]);
        // Where the curve is steep a small error of charge is many millivolts: such rows weigh
        // less.
        const double weight = 1.0 / (1.0 + cell::open_circuit_slope_V(s) * steep_mV_per_V);
        a.row(row) *= weight;
        b[row] *= weight;
        if (weights != nullptr) weights->push_back(weight);
        ++row;
      }
    }
  }
  /// The linear parameters that fit best; a little is added to the diagonal where rows say nothing.
  static VectorXd solve(const MatrixXd& a, const VectorXd& b) {
    MatrixXd normal = a.transpose() * a;
    normal.diagonal().array() += 1e-9 * normal.diagonal().mean();
    return normal.ldlt().solve(a.transpose() * b);
  }

 private:
  std::vector<Track> tracks_;
  std::vector<double> knots_;
  bool both_ways_, tied_;
  std::size_t rows_ = 0;
};

/// Knots that the chosen rows reach, from the lowest charge to the highest.
std::vector<double> knots_visited(const std::vector<Track>& tracks) {
  double low = 2.0, high = -1.0;
  for (const Track& t : tracks)
    for (const std::size_t k : t.rows)
      low = std::min(low, t.charge[k]), high = std::max(high, t.charge[k]);
  low = std::clamp(low, 0.0, 1.0), high = std::clamp(high, 0.0, 1.0);
  std::vector<double> knots;
  if (!(high > low + 0.02)) return knots;
  knots.push_back(low);
  for (const double s : all_knots())
    if (s > low + 0.004 && s < high - 0.004) knots.push_back(s);
  knots.push_back(high);
  // A knot with no rows around it would be guessed: drop it.
  std::vector<double> kept;
  for (std::size_t j = 0; j < knots.size(); ++j) {
    const double from = j > 0 ? knots[j - 1] : knots[j],
                 to = j + 1 < knots.size() ? knots[j + 1] : knots[j];
    double rows = 0;
    for (const Track& t : tracks)
      for (const std::size_t k : t.rows) rows += t.charge[k] >= from && t.charge[k] <= to;
    if (rows >= least_visited || j == 0 || j + 1 == knots.size()) kept.push_back(knots[j]);
  }
  return kept;
}

}  // namespace

double OpenCircuitCurve::mean_V(double s) const {
  return 0.5 * (base::interpolate(state_of_charge, charge_V, s) +
                base::interpolate(state_of_charge, discharge_V, s));
}

std::variant<FittedCell, NoFit> fit_cell(std::span<const FitLog> logs, double capacity_Ah) {
  if (!(capacity_Ah > 0.0)) return NoFit{"the capacity is not known"};
  std::vector<Track> tracks;
  bool charges = false, discharges = false;
  std::size_t steps = 0;
  double heat = 0.0, heated = 0.0;
  for (const FitLog& l : logs) {
    Track t = track_of(l, capacity_Ah);
    choose_rows(t, most_rows / logs.size());
    const double top = logs::usual_top(l.log->current_A);
    double charged = 0.0, discharged = 0.0;
    for (std::size_t k = 0; k < l.log->rows(); ++k) {
      (l.log->charge_As[k] > 0.0 ? discharged : charged) += std::abs(l.log->charge_As[k]);
      steps += k > 0 && std::abs(l.log->current_A[k] - l.log->current_A[k - 1]) > 0.1 * top;
      if (!l.log->temperature_C.empty() && std::isfinite(l.log->temperature_C[k]))
        heat += l.log->temperature_C[k], heated += 1.0;
    }
    charges = charges || charged > 0.3 * 3600.0 * capacity_Ah;
    discharges = discharges || discharged > 0.3 * 3600.0 * capacity_Ah;
    tracks.push_back(std::move(t));
  }
  std::size_t rows = 0;
  for (const Track& t : tracks) rows += t.rows.size();
  if (steps < 2)
    return NoFit{"the current makes no steps, so resistance and lag cannot be told apart"};
  if (rows < 200) return NoFit{fmt::format("{} rows are too few", rows)};
  std::vector<double> knots = knots_visited(tracks);
  if (knots.size() < 3) return NoFit{"the charge hardly moves"};

  // Rows after steps must stand closer than the faster lag for it to show.
  std::vector<double> after_steps;
  for (const Track& t : tracks) {
    const double step_A = 0.1 * logs::usual_top(t.log->current_A);
    for (std::size_t k = 1; k + 1 < t.log->rows(); ++k)
      if (std::abs(t.log->current_A[k] - t.log->current_A[k - 1]) > step_A)
        after_steps.push_back(t.log->time_s[k + 1] - t.log->time_s[k]);
  }
  const bool assumed = after_steps.empty() || base::median(after_steps) > 5.0;
  const bool both_ways = charges && discharges;
  const Design design(std::move(tracks), std::move(knots), both_ways, assumed);
  MatrixXd a;
  VectorXd b;
  const auto taus = [](std::span<const double> p) {
    // τ1 between 1 and 100 s, τ2 between 3 and 100 times that: a logistic keeps them there.
    const double first = std::exp(std::log(100.0) / (1.0 + std::exp(-p[0])));
    const double ratio = 3.0 * std::exp(std::log(100.0 / 3.0) / (1.0 + std::exp(-p[1])));
    return std::array<double, 2>{first, first * ratio};
  };
  const base::ResidualFunction residuals = [&](std::span<const double> p, std::span<double> r) {
    const auto [tau1, tau2] = taus(p);
    design.fill(tau1, tau2, a, b);
    const VectorXd off = a * Design::solve(a, b) - b;
    for (std::size_t k = 0; k < r.size(); ++k) r[k] = off[static_cast<Eigen::Index>(k)];
  };
  std::optional<base::LeastSquares> best;
  for (const auto& start : {std::array<double, 2>{0.3, 0.0}, std::array<double, 2>{-0.7, 0.8}}) {
    if (assumed) break;
    const base::LeastSquares fit = base::least_squares(residuals, start, design.rows());
    if (!best || fit.residual_sum < best->residual_sum) best = fit;
  }
  const auto [tau1, tau2] = assumed ? std::array<double, 2>{15.0, 160.0} : taus(best->parameters);
  std::vector<double> weights;
  design.fill(tau1, tau2, a, b, &weights);
  const VectorXd linear = Design::solve(a, b);
  const VectorXd off = a * linear - b;

  FittedCell cell;
  cell.capacity_Ah = capacity_Ah;
  cell.rows = design.rows();
  cell.both_ways = both_ways;
  if (heated > 0.0) cell.temperature_C = heat / heated;
  // As millivolts of the log, without the weights; the steep ends apart, where charge, not the
  // circuit, is what is off.
  double squares = 0.0, counted = 0.0;
  std::size_t row = 0;
  for (const Track& t : design.tracks())
    for (const std::size_t k : t.rows) {
      const double mV = std::abs(off[static_cast<Eigen::Index>(row)]) / weights[row];
      ++row;
      if (t.charge[k] < 0.05 || t.charge[k] > 0.97) continue;
      squares += mV * mV, counted += 1.0;
      cell.residual_worst_mV = std::max(cell.residual_worst_mV, mV);
    }
  cell.residual_rms_mV = counted > 0.0 ? std::sqrt(squares / counted) : 0.0;
  // Residuals follow each other: so many of them are worth fewer.
  double lagged = 0.0;
  for (Eigen::Index k = 1; k < off.size(); ++k) lagged += off[k] * off[k - 1];
  const double alike = std::clamp(lagged / std::max(off.squaredNorm(), 1e-12), 0.0, 0.999);
  const double widen = std::sqrt((1.0 + alike) / (1.0 - alike));
  const double sd =
      std::sqrt(off.squaredNorm() / std::max(1.0, double(off.size() - linear.size() - 2)));
  MatrixXd normal = a.transpose() * a;
  normal.diagonal().array() += 1e-9 * normal.diagonal().mean();
  const MatrixXd covariance = normal.ldlt().solve(MatrixXd::Identity(normal.rows(), normal.cols()));
  const auto k0 = static_cast<Eigen::Index>(design.knots().size());
  const auto linear_measure = [&](Eigen::Index k) {
    return Measure{linear[k], widen * sd * std::sqrt(std::max(0.0, covariance(k, k)))};
  };
  if (assumed) {  // columns are mV per A, so mΩ
    const Measure sum = linear_measure(k0);
    const auto part = [&](std::size_t k) {  // its share of the sum may be off by a third
      return Measure{usual_shares[k] * sum.value,
                     usual_shares[k] * std::hypot(sum.u, sum.value / 3.0)};
    };
    cell.r0_mOhm = part(0), cell.r1_mOhm = part(1), cell.r2_mOhm = part(2);
  } else {
    cell.r0_mOhm = linear_measure(k0);
    cell.r1_mOhm = linear_measure(k0 + 1);
    cell.r2_mOhm = linear_measure(k0 + 2);
  }
  // From the free parameters' errors to those of the time constants, by the slope between.
  const auto tau_u = [&](std::size_t which) {
    std::vector<double> up = best->parameters, down = best->parameters;
    double sum = 0.0;
    for (std::size_t k = 0; k < 2; ++k) {
      up[k] += 1e-4, down[k] -= 1e-4;
      const double slope = (taus(up)[which] - taus(down)[which]) / 2e-4;
      sum += slope * slope * best->standard_errors[k] * best->standard_errors[k];
      up[k] -= 1e-4, down[k] += 1e-4;
    }
    return widen * std::sqrt(sum);
  };
  cell.time_constants_assumed = assumed;
  cell.tau1_s = {tau1, assumed ? 5.0 : tau_u(0)};
  cell.tau2_s = {tau2, assumed ? 50.0 : tau_u(1)};
  cell.tau_determined = {
      !assumed && tau1 > 1.03 && tau1 < 97.0 && cell.tau1_s.u < 0.5 * tau1,
      !assumed && tau2 > 3.1 * tau1 && tau2 < 97.0 * tau1 && cell.tau2_s.u < 0.5 * tau2};
  cell.hysteresis_mV = both_ways
                           ? linear_measure(k0 + static_cast<Eigen::Index>(design.resistances()))
                           : Measure{assumed_half_gap_mV, 6.0};
  for (std::size_t j = 0; j < design.knots().size(); ++j) {
    const double volts = linear[static_cast<Eigen::Index>(j)] * 1e-3;
    cell.curve.state_of_charge.push_back(design.knots()[j]);
    cell.curve.charge_V.push_back(volts + cell.hysteresis_mV.value * 1e-3);
    cell.curve.discharge_V.push_back(volts - cell.hysteresis_mV.value * 1e-3);
  }
  if (cell.r0_mOhm.value <= 0.0 || cell.r1_mOhm.value < 0.0 || cell.r2_mOhm.value < 0.0)
    return NoFit{
        fmt::format("a resistance comes out negative ({:.3f}, {:.3f}, {:.3f} mΩ): the "
                    "log's steps are too few or its rows too far apart",
                    cell.r0_mOhm.value, cell.r1_mOhm.value, cell.r2_mOhm.value)};
  return cell;
}

std::variant<FittedCell, NoFit> fit_alone(const logs::Log& log, const Report& report) {
  const auto& m = report.measures;
  const double capacity = m.discharge_capacity_Ah ? m.discharge_capacity_Ah->value : 0.0;
  if (capacity <= 0.0) return NoFit{"the log gives no capacity, so no state of charge can be told"};
  const auto start = charge_at_start(report.phases, capacity);
  if (!start) return NoFit{"the log never reaches full or empty"};
  const FitLog fit{&log, *start};
  return fit_cell({&fit, 1}, capacity);
}

base::Json to_json(const FittedCell& c) {
  const auto of = [](const Measure& m) { return base::Json{{"value", m.value}, {"u", m.u}}; };
  return {{"capacity_Ah", c.capacity_Ah},
          {"r0_mOhm", of(c.r0_mOhm)},
          {"r1_mOhm", of(c.r1_mOhm)},
          {"tau1_s",
           c.tau_determined[0] || c.time_constants_assumed ? of(c.tau1_s) : base::Json(nullptr)},
          {"r2_mOhm", of(c.r2_mOhm)},
          {"tau2_s",
           c.tau_determined[1] || c.time_constants_assumed ? of(c.tau2_s) : base::Json(nullptr)},
          {"hysteresis_mV", of(c.hysteresis_mV)},
          {"time_constants_assumed", c.time_constants_assumed},
          {"hysteresis_assumed", !c.both_ways},
          {"temperature_C", c.temperature_C ? base::Json(*c.temperature_C) : base::Json(nullptr)},
          {"residual_rms_mV", c.residual_rms_mV},
          {"residual_worst_mV", c.residual_worst_mV},
          {"rows", c.rows},
          {"state_of_charge", c.curve.state_of_charge},
          {"charge_V", c.curve.charge_V},
          {"discharge_V", c.curve.discharge_V}};
}

std::vector<double> replay(const FittedCell& cell, const FitLog& from) {
  const logs::Log& log = *from.log;
  const Track t = track_of(from, cell.capacity_Ah);
  std::vector<double> x1, x2, volts(log.rows(), std::numeric_limits<double>::quiet_NaN());
  lag(t, cell.tau1_s.value, x1);
  lag(t, cell.tau2_s.value, x2);
  const auto& knots = cell.curve.state_of_charge;
  for (std::size_t k = 0; k < log.rows(); ++k) {
    if (t.charge[k] < knots.front() - 0.002 || t.charge[k] > knots.back() + 0.002) continue;
    volts[k] =
        cell.curve.mean_V(std::clamp(t.charge[k], knots.front(), knots.back())) +
        1e-3 * (cell.hysteresis_mV.value * t.branch[k] - cell.r0_mOhm.value * log.current_A[k] -
                cell.r1_mOhm.value * x1[k] - cell.r2_mOhm.value * x2[k]);
  }
  return volts;
}

}  // namespace bench

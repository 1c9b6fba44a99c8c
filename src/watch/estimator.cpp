// SPDX-License-Identifier: Apache-2.0
#include "watch/estimator.hpp"

#include <algorithm>
#include <cmath>

#include <Eigen/Dense>

#include "base/check.hpp"

namespace watch {
namespace {

using Matrix = Eigen::Matrix<double, states, states>;
using Column = Eigen::Matrix<double, states, 1>;
constexpr int D = index(State::offset), L = index(State::leak), C = index(State::capacity),
              R = index(State::resistance), S = index(State::slow), B = index(State::sense),
              J = index(State::joint);
constexpr double Ah_per_mA_day = 0.024;

/// How a fault changes the states from its first day on: at once, or a little more each day.
struct Signature {
  Kind kind;
  int state;
  double with_slow;     ///< of the slow resistance, for each unit
  bool ramp;            ///< the size is that which a hundred days bring
  double healthy;       ///< sd of such a change in a sound cell, as a share of Tuning::healthy
  double small, large;  ///< sd of the fault's size, in the state's unit for 230 Ah
};
constexpr Signature signatures[] = {
    {Kind::drift, L, 0.0, false, 1.0, 1.5, 6.0},
    {Kind::capacity, C, 0.0, false, 1.0, 0.02, 0.06},
    {Kind::capacity, C, 0.0, true, 1.0, 0.02, 0.06},
    {Kind::resistance, R, 0.8, false, 1.0, 0.06, 0.2},
    {Kind::resistance, R, 0.8, true, 1.0, 0.06, 0.2},
    {Kind::joint, J, 0.0, false, 1.0, 0.12, 0.4},
    {Kind::sense, B, 0.0, false, 1.0, 5.0, 20.0},
};
constexpr int signature_count = int(std::size(signatures));

/// A day on which a fault may have begun, and what has been seen for it since.
struct Onset {
  long day = 0;
  long born = 0;                            ///< day of the first evidence
  std::array<Column, signature_count> lag;  ///< true state less estimate, for a fault of size 1
  std::array<double, signature_count> information = {}, score = {};
};

struct Cell {
  Column x = Column::Zero();
  Matrix P = Matrix::Zero();
  Column base_x = Column::Zero();
  Matrix base_P = Matrix::Zero(), cross = Matrix::Zero();
  std::vector<Onset> onsets;
  CellReport report;
  std::array<int, kinds> found_before = {};
  int days_above = 0;
  long first_note = 0;
  Signature best = signatures[0];
  double best_size = 0.0, best_u = 0.0;
  Column best_lag = Column::Zero();
  int best_onset = -1;
  int best_sign = 0;
  long best_day = 0;
  std::array<Column, kinds>
      moved;  ///< what each kind, if it were so, would have done to the states
};

Matrix full(const Triangle& t) {
  Matrix m;
  for (int a = 0; a < states; ++a)
    for (int b = a; b < states; ++b) m(a, b) = m(b, a) = t[at(a, b)];
  return m;
}

double log_sum(double a, double b) {
  const double most = std::max(a, b);
  return most == -INFINITY ? most : most + std::log(std::exp(a - most) + std::exp(b - most));
}

/// Evidence (log of the ratio of likelihoods) for a change of size N(0, sd²) that was seen as
/// `score` with `information`, against no change at all.
double gain(double information, double score, double sd) {
  const double prior = 1.0 / (sd * sd);
  return 0.5 * score * score / (information + prior) - 0.5 * std::log1p(information / prior);
}

}  // namespace

struct Estimator::Inside {
  PackFacts facts;
  Tuning tuning;
  Vector unit;  ///< one of a 230 Ah cell's units in this pack's
  std::vector<Cell> cells;
  std::optional<long> first_day, last_day, baseline;
  int fulls = 0;
  std::vector<long> full_days;

  double healthy(const Signature& s) const {
    return s.healthy * tuning.healthy[std::size_t(s.state)] * unit[std::size_t(s.state)];
  }
  Matrix start() const {
    Matrix P = Matrix::Zero();
    for (int k = 0; k < states; ++k)
      P(k, k) = std::pow(tuning.start[std::size_t(k)] * unit[std::size_t(k)], 2);
    return P;
  }
  void predict(Cell& c, double days) const;
  void measure(Cell& c, const Matrix& normal, const Column& right);
  void take_day(Cell& c, const CellDay& seen, const Day& day, const Matrix& normal, bool first);
  void thin(Cell& c, long today) const;
  bool settled(Cell& c, long today) const;
  void weigh(Cell& c, long today, bool had_data);
  Estimates estimates(const Cell& c, bool change) const;
};

void Estimator::Inside::predict(Cell& c, double days) const {
  const auto forward = [&](auto& m) { m.row(D) += Ah_per_mA_day * days * m.row(L); };
  forward(c.x);
  forward(c.P);
  c.P.col(D) += Ah_per_mA_day * days * c.P.col(L);
  for (int k = 0; k < states; ++k)
    c.P(k, k) += days * std::pow(tuning.walk[std::size_t(k)] * unit[std::size_t(k)], 2);
  if (baseline) {
    forward(c.base_x);
    forward(c.base_P);
    c.base_P.col(D) += Ah_per_mA_day * days * c.base_P.col(L);
    forward(c.cross);
    c.cross.col(D) += Ah_per_mA_day * days * c.cross.col(L);
  }
  for (Onset& o : c.onsets)
    for (int s = 0; s < signature_count; ++s) {
      Column& lag = o.lag[std::size_t(s)];
      lag(D) += Ah_per_mA_day * days * lag(L);
      if (signatures[s].ramp) {
        lag(signatures[s].state) += days / 100.0;
        if (signatures[s].with_slow > 0.0) lag(S) += signatures[s].with_slow * days / 100.0;
      }
    }
}

/// Takes in normal equations that are scaled to unit variance.
void Estimator::Inside::measure(Cell& c, const Matrix& normal, const Column& right) {
  const Matrix M = (Matrix::Identity() + c.P * normal).inverse();  // error after ÷ error before
  const Matrix G = M.transpose() * normal;
  const Column g = M.transpose() * (right - normal * c.x);
  for (Onset& o : c.onsets)
    for (int s = 0; s < signature_count; ++s) {
      Column& lag = o.lag[std::size_t(s)];
      o.information[std::size_t(s)] += lag.dot(G * lag);
      o.score[std::size_t(s)] += lag.dot(g);
      lag = M * lag;
    }
  c.x += c.P * g;
  c.P = M * c.P;
  c.P = 0.5 * (c.P + c.P.transpose()).eval();
  if (baseline) c.cross = M * c.cross;
}

void Estimator::Inside::take_day(Cell& c, const CellDay& seen, const Day& day, const Matrix& normal,
                                 bool first) {
  const Tuning& t = tuning;
  Matrix N = Matrix::Zero();
  Column h = Column::Zero();
  const Column best =
      c.x + (c.report.healthy < 0.5 ? Column(c.best_lag * c.best_size) : Column(Column::Zero()));
  if (seen.share > 0.0 && day.weight > 0.0) {
    const Matrix own = normal * seen.share;
    Column right;
    for (int k = 0; k < states; ++k) right(k) = seen.right[std::size_t(k)];
    // Where a cell lies far from the median the straight line no longer holds; where the day fits
    // worse than readings do, it says less.
    const double weight = day.weight * seen.share;
    const double left_over =
        std::max(0.0, seen.squares - 2.0 * best.dot(right) + best.dot(own * best)) / weight;
    double variance = std::max(t.reading_mV * t.reading_mV, first ? 0.0 : left_over) * t.correlated;
    const double far = best(D) / (0.012 * facts.capacity_Ah);
    variance *= std::pow(1.0 + far * far, 2);
    if (known(day.days_since_full)) variance *= 1.0 + std::pow(day.days_since_full / 6.0, 2);
    N += own / variance;
    h += right / variance;
  }
  if (day.steps * seen.step_share > 10.0) {
    const Matrix own = full(day.step_normal) * seen.step_share;
    Column right;
    for (int k = 0; k < states; ++k) right(k) = seen.step_right[std::size_t(k)];
    const double left_over = (seen.step_squares - 2.0 * best.dot(right) + best.dot(own * best)) /
                             (day.steps * seen.step_share);
    // Each reading stands in two steps; and one day's load is like another's.
    const double variance = std::max(t.step_mV * t.step_mV, left_over) * t.step_correlated;
    N += own / variance;
    h += right / variance;
  }
  // A cell that never came up is at least so far behind: news only where it was thought nearer.
  if (known(seen.gap_Ah) && !(seen.gap_at_least > 0.0 && best(D) > seen.gap_Ah)) {
    const Warmth w = warmth(day.full_C);
    const double slope = std::max(1.0, seen.gap_slope_mV_Ah);
    Column H = Column::Zero();
    H(D) = 1.0;
    H(B) = -1.0 / slope;
    H(R) = day.full_current_A * w.ohmic / slope;
    H(S) = day.full_slow_A * w.slow / slope;
    H(J) = day.full_current_A / slope;
    const double own = t.gap_Ah * unit[D];
    double variance =
        own * own + seen.gap_u_Ah * seen.gap_u_Ah + std::pow(t.gap_share * seen.gap_Ah, 2);
    const double off = seen.gap_Ah - H.dot(best), z = off / std::sqrt(variance + H.dot(c.P * H));
    if (std::abs(z) > 4.0) variance *= z * z / 16.0;
    N += H * H.transpose() / variance;
    h += H * seen.gap_Ah / variance;
  }
  measure(c, N, h);
}

/// What the onset has for it at most, over all faults.
double strongest(const Onset& o, const Vector& unit) {
  double most = 0.0;
  for (int s = 0; s < signature_count; ++s) {
    const Signature& sign = signatures[s];
    most = std::max(most, gain(o.information[std::size_t(s)], o.score[std::size_t(s)],
                               sign.large * unit[std::size_t(sign.state)]));
  }
  return most;
}

/// Keeps candidates dense in the last month and ever thinner before; of those that stand close the
/// one with most for it.
void Estimator::Inside::thin(Cell& c, long today) const {
  std::vector<Onset> kept;
  for (Onset& o : c.onsets) {
    const long age = today - o.day;
    const bool newest = &o == &c.onsets.back() || (c.report.alarm && o.day == c.best_day);
    if (age > 420 && strongest(o, unit) < 3.0 && !newest) continue;
    const long apart = age < 30 ? 3 : age < 100 ? 12 : 40;
    if (!kept.empty() && o.day - kept.back().day < apart && !newest) {
      const bool told = c.report.alarm && kept.back().day == c.best_day;
      if (!told && strongest(o, unit) > strongest(kept.back(), unit)) kept.back() = std::move(o);
      continue;
    }
    kept.push_back(std::move(o));
  }
  c.onsets = std::move(kept);
}

/// An alarm of three weeks has its kind: a fault that has grown large bends the straight lines that
/// the kinds are told apart by. Only its size goes on.
bool Estimator::Inside::settled(Cell& c, long today) const {
  if (!c.report.alarm || today - c.report.alarmed_on < 21 || c.best_onset < 0) return false;
  for (const Onset& o : c.onsets) {
    if (o.day != c.best_day) continue;
    const auto s = std::size_t(c.best_sign);
    const double sd = c.best.large * unit[std::size_t(c.best.state)];
    const double weight = o.information[s] + 1.0 / (sd * sd);
    c.best_size = o.score[s] / weight;
    c.best_u = 1.0 / std::sqrt(weight);
    c.best_lag = o.lag[s];
  }
  return true;
}

void Estimator::Inside::weigh(Cell& c, long today, bool had_data) {
  if (settled(c, today)) return;
  std::array<double, kinds> fault;
  std::array<double, signature_count> best_gain;
  fault.fill(-INFINITY);
  best_gain.fill(-INFINITY);
  double sound = 0.0, best_all = -INFINITY;
  std::array<double, kinds> best_kind;
  best_kind.fill(-INFINITY);
  const double whole = std::max<double>(30.0, double(today - *first_day));
  for (std::size_t i = 0; i < c.onsets.size(); ++i) {
    const Onset& o = c.onsets[i];
    const long next = i + 1 < c.onsets.size() ? c.onsets[i + 1].day : today + 1;
    const double share = std::log(std::max(1.0, double(next - o.day)) / whole);
    for (int s = 0; s < signature_count; ++s) {
      const Signature& sign = signatures[s];
      const double a = o.information[std::size_t(s)], b = o.score[std::size_t(s)];
      const double u = unit[std::size_t(sign.state)];
      const double one = gain(a, b, sign.small * u), two = gain(a, b, sign.large * u);
      const double as_fault =
          log_sum(one, two) - std::log(2.0) + share -
          (sign.kind == Kind::capacity || sign.kind == Kind::resistance ? std::log(2.0) : 0.0);
      auto& sum = fault[std::size_t(sign.kind)];
      sum = log_sum(sum, as_fault);
      sound = log_sum(sound, gain(a, b, healthy(sign)) + share);
      const double sd = (one > two ? sign.small : sign.large) * u, prior = 1.0 / (sd * sd);
      if (as_fault > best_kind[std::size_t(sign.kind)]) {
        best_kind[std::size_t(sign.kind)] = as_fault;
        c.moved[std::size_t(sign.kind)] = o.lag[std::size_t(s)] * (b / (a + prior));
        // Too little seen to tell the size: as large as such faults usually are.
        if (a < prior) c.moved[std::size_t(sign.kind)] = o.lag[std::size_t(s)] * sd;
      }
    }
  }
  double total = sound;
  for (int k = 0; k < kinds; ++k) {
    const double prior = tuning.prior * (1.0 + 9.0 * c.found_before[std::size_t(k)]);
    fault[std::size_t(k)] += std::log(prior);
    total = log_sum(total, fault[std::size_t(k)]);
  }
  CellReport& r = c.report;
  r.healthy = std::exp(sound - total);
  int top = 0;
  for (int k = 0; k < kinds; ++k) {
    r.probability[std::size_t(k)] = std::exp(fault[std::size_t(k)] - total);
    if (r.probability[std::size_t(k)] > r.probability[std::size_t(top)]) top = k;
  }
  // The likeliest fault, its onset and its size.
  for (std::size_t i = 0; i < c.onsets.size(); ++i)
    for (int s = 0; s < signature_count; ++s) {
      const Signature& sign = signatures[s];
      if (int(sign.kind) != top) continue;
      const Onset& o = c.onsets[i];
      const double a = o.information[std::size_t(s)], b = o.score[std::size_t(s)];
      const double u = unit[std::size_t(sign.state)];
      const double g = std::max(gain(a, b, sign.small * u), gain(a, b, sign.large * u));
      if (g <= best_all) continue;
      best_all = g;
      const double prior = 1.0 / std::pow(sign.large * u, 2);
      c.best = sign;
      c.best_size = b / (a + prior);
      c.best_u = 1.0 / std::sqrt(a + prior);
      c.best_lag = o.lag[std::size_t(s)];
      c.best_onset = int(i);
      c.best_sign = s;
      c.best_day = o.day;
    }
  const double any = 1.0 - r.healthy;
  r.note = any > tuning.note;
  if (r.note && c.best_onset >= 0) r.since = c.onsets[std::size_t(c.best_onset)].day;
  r.kind = r.note || r.alarm ? std::optional<Kind>(Kind(top)) : std::nullopt;
  if (had_data) c.days_above = any > tuning.alarm ? c.days_above + 1 : 0;
  if (!r.alarm && c.days_above >= tuning.alarm_days) {
    r.alarm = true;
    r.alarmed_on = today;
  }
}

Estimates Estimator::Inside::estimates(const Cell& c, bool change) const {
  // The curve of a single cell is not the pack's: a lasting error of levels, less of changes.
  const Vector& lasting = change && baseline ? tuning.change_error : tuning.level_error;
  Matrix P = c.P;
  Column x = c.x;
  if (change && baseline) {
    P += c.base_P - c.cross - c.cross.transpose();
    x -= c.base_x;
  }
  const double p = c.best_onset >= 0 ? std::clamp(1.0 - c.report.healthy, 0.0, 1.0) : 0.0;
  Estimates result;
  for (int k = 0; k < states; ++k) {
    const double lag = c.best_lag(k), move = lag * c.best_size;
    double u2 =
        std::max(0.0, P(k, k)) + p * std::pow(lag * c.best_u, 2) + p * (1.0 - p) * move * move;
    u2 += std::pow(lasting[std::size_t(k)] * unit[std::size_t(k)], 2);
    result[std::size_t(k)] = {x(k) + p * move, std::sqrt(u2)};
  }
  return result;
}

Estimator::Estimator(PackFacts facts, Tuning tuning) : inside_(std::make_unique<Inside>()) {
  const double size = facts.capacity_Ah / 230.0;
  inside_->unit = {size, size, 1.0, 1.0 / size, 1.0 / size, 1.0, 1.0 / size};
  inside_->facts = std::move(facts);
  inside_->tuning = tuning;
  inside_->cells.resize(std::size_t(inside_->facts.series));
  for (Cell& c : inside_->cells) {
    c.P = inside_->start();
    for (Column& m : c.moved) m.setZero();
  }
}
Estimator::~Estimator() = default;
Estimator::Estimator(Estimator&&) noexcept = default;
Estimator& Estimator::operator=(Estimator&&) noexcept = default;

void Estimator::add(const Day& day) {
  Inside& in = *inside_;
  CHECK(day.cells.size() == in.cells.size());
  const bool first = !in.first_day;
  if (first) in.first_day = day.day;
  const double passed = in.last_day ? double(std::max(1L, day.day - *in.last_day)) : 0.0;
  in.last_day = day.day;
  if (day.full) {
    ++in.fulls;
    in.full_days.push_back(day.day);
  }
  const bool has_data = day.weight > 0.0 || day.full;
  const Matrix normal = full(day.normal);
  std::vector<double> bled;
  for (const CellDay& c : day.cells) bled.push_back(c.bled_Ah);
  std::nth_element(bled.begin(), bled.begin() + std::ptrdiff_t(bled.size() / 2), bled.end());
  const double usual = bled[bled.size() / 2];
  const long seen_for = day.day - *in.first_day;
  for (std::size_t j = 0; j < in.cells.size(); ++j) {
    Cell& c = in.cells[j];
    if (passed > 0.0) in.predict(c, passed);
    const double out = day.cells[j].bled_Ah - usual;
    c.x(D) += out;
    c.P(D, D) += std::pow(0.2 * out, 2);
    if (in.baseline) c.base_x(D) += out;
    if (seen_for >= 21 && in.fulls >= 6 && has_data &&
        (c.onsets.empty() || day.day - c.onsets.back().day >= 3)) {
      Onset o;
      o.day = o.born = day.day;
      for (int s = 0; s < signature_count; ++s) {
        o.lag[std::size_t(s)] = Column::Zero();
        if (signatures[s].ramp) continue;
        o.lag[std::size_t(s)](signatures[s].state) = 1.0;
        o.lag[std::size_t(s)](S) = signatures[s].with_slow;
      }
      c.onsets.push_back(std::move(o));
    }
    if (has_data) in.take_day(c, day.cells[j], day, normal, seen_for < 7);
    in.thin(c, day.day);
    in.weigh(c, day.day, has_data);
  }
  if (!in.baseline && seen_for >= 30 && in.fulls >= 8) {
    in.baseline = day.day;
    for (Cell& c : in.cells) {
      c.base_x = c.x;
      c.base_P = c.cross = c.P;
    }
  }
}

int Estimator::cells() const { return int(inside_->cells.size()); }
int Estimator::fulls() const { return inside_->fulls; }
std::optional<long> Estimator::baseline_day() const { return inside_->baseline; }

CellReport Estimator::report(int cell) const {
  const Inside& in = *inside_;
  const auto j = std::size_t(cell);
  CHECK(j < in.cells.size());
  const Cell& c = in.cells[j];
  CellReport r = c.report;
  r.level = in.estimates(c, false);
  r.change = in.estimates(c, true);
  const std::size_t n = in.full_days.size();
  r.seen = n >= 3 && in.full_days.back() - in.full_days.front() >= 10;
  // One bad lead moves two readings against each other; it is told of the one that shows it better.
  if (r.kind == Kind::sense)
    for (const int side : {-1, 1}) {
      const long other = cell + side;
      if (other < 0 || other >= long(in.cells.size())) continue;
      const Cell& o = in.cells[std::size_t(other)];
      if (o.report.kind != Kind::sense) continue;
      const Estimate mine = r.change[B], its = in.estimates(o, true)[B];
      if (std::abs(mine.value + its.value) > 0.4 * std::abs(its.value)) continue;
      if (std::abs(its.value) > std::abs(mine.value) ||
          (std::abs(its.value) == std::abs(mine.value) && side < 0)) {
        r.alarm = false;
        r.note = true;
      }
    }
  return r;
}

void Estimator::close(int cell, std::optional<Kind> found, bool exchanged) {
  Inside& in = *inside_;
  CHECK(cell >= 0 && cell < cells());
  Cell& c = in.cells[std::size_t(cell)];
  Cell anew;
  anew.P = in.start();
  for (Column& m : anew.moved) m.setZero();
  if (!exchanged) {
    anew.x = c.x;  // what was mended moved; what was not is where it was
    anew.found_before = c.found_before;
    if (found) ++anew.found_before[std::size_t(*found)];
  }
  anew.base_x = anew.x;
  anew.base_P = anew.cross = anew.P;
  c = std::move(anew);
}

double Estimator::expected_drop(int cell, const Measurement& m) const {
  const Cell& c = inside_->cells[std::size_t(cell)];
  const Matrix N = full(m.information);
  const Matrix G = (Matrix::Identity() + N * c.P).inverse() * N;
  std::array<Column, kinds + 1> mean;
  std::array<double, kinds + 1> p;
  mean[0] = Column::Zero();
  p[0] = c.report.healthy;
  for (int k = 0; k < kinds; ++k) {
    mean[std::size_t(k + 1)] = c.moved[std::size_t(k)];
    p[std::size_t(k + 1)] = c.report.probability[std::size_t(k)];
  }
  // Nothing speaks for a fault: as if each were as likely, so that the ranking still means
  // something.
  if (p[0] > 0.98) p.fill(1.0 / (kinds + 1));
  // Mutual information of a mixture of Gaussians from its pairwise distances, lower bound.
  // [Kolchinsky2017]
  double drop = 0.0;
  for (int i = 0; i <= kinds; ++i) {
    double sum = 0.0;
    for (int l = 0; l <= kinds; ++l) {
      const Column apart = mean[std::size_t(i)] - mean[std::size_t(l)];
      sum += p[std::size_t(l)] * std::exp(-apart.dot(G * apart) / 8.0);
    }
    if (p[std::size_t(i)] > 0.0) drop -= p[std::size_t(i)] * std::log(sum);
  }
  return drop;
}

}  // namespace watch

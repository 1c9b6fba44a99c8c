// SPDX-License-Identifier: Apache-2.0
#include "bench/phases.hpp"

#include <algorithm>
#include <cmath>

#include "base/check.hpp"
#include "logs/dirt.hpp"

namespace bench {
namespace {

// Shares of the largest usual current. Below the first the cell rests for certain; below the second
// it rests if the current fell there at once (a tail that thins out belongs to its charge); above
// the third it has left rest. Apart, so that a tail or a noisy zero does not flicker between
// phases.
constexpr double rest_share = 0.001, off_share = 0.004, from_rest_share = 0.01;
constexpr double pulse_s = 60.0;           // shorter stretches of current are pulses
constexpr double constant_share = 0.03;    // spread of a constant current
constexpr double level_jump_share = 0.10;  // of the largest current: a new step of the programme
constexpr std::size_t least_step_rows = 5;

Kind kind_of(double current_A, double rest_A) {
  if (std::abs(current_A) <= rest_A) return Kind::rest;
  return current_A > 0.0 ? Kind::discharge : Kind::charge;
}

/// Where the voltage starts to be held while the current tapers; `last + 1` where it is not.
std::size_t taper_start(const logs::Log& log, std::size_t first, std::size_t last) {
  if (last - first < 4) return last + 1;
  std::vector<double> tail(
      log.voltage_V.begin() +
          static_cast<std::ptrdiff_t>(last - std::min<std::size_t>(9, last - first)),
      log.voltage_V.begin() + static_cast<std::ptrdiff_t>(last + 1));
  std::nth_element(tail.begin(), tail.begin() + static_cast<std::ptrdiff_t>(tail.size() / 2),
                   tail.end());
  const double held = tail[tail.size() / 2], tolerance = 0.004;
  std::size_t start = last;
  while (start > first && std::abs(log.voltage_V[start - 1] - held) <= tolerance) --start;
  const double at_start = std::abs(log.current_A[start]), at_end = std::abs(log.current_A[last]);
  const bool tapers = at_end < 0.9 * at_start && log.time_s[last] - log.time_s[start] > pulse_s &&
                      last - start >= 3;
  return tapers ? start : last + 1;
}

/// Cuts a stretch at lasting jumps of the current: steps of the tester's programme.
std::vector<std::size_t> level_changes(const logs::Log& log, std::size_t first, std::size_t last,
                                       double top) {
  std::vector<std::size_t> cuts;
  for (std::size_t i = first + 1; i <= last; ++i)
    if (std::abs(log.current_A[i] - log.current_A[i - 1]) > level_jump_share * top)
      cuts.push_back(i);
  std::vector<std::size_t> lasting;
  for (std::size_t k = 0; k < cuts.size(); ++k) {
    const std::size_t before = k == 0 ? first : cuts[k - 1],
                      after = k + 1 < cuts.size() ? cuts[k + 1] : last + 1;
    if (cuts[k] - before >= least_step_rows && after - cuts[k] >= least_step_rows)
      lasting.push_back(cuts[k]);
  }
  return lasting;
}

class Cutter {
 public:
  explicit Cutter(const logs::Log& log) : log_(log), top_(logs::usual_top(log.current_A)) {}

  std::vector<Phase> run() {
    Kind kind = kind_of(log_.current_A.front(), from_rest_share * top_);
    const auto next_kind = [&](std::size_t row) {
      const double now = std::abs(log_.current_A[row]),
                   before = row > 0 ? std::abs(log_.current_A[row - 1]) : now;
      const double share = kind == Kind::rest   ? from_rest_share
                           : now < 0.5 * before ? off_share
                                                : rest_share;
      return kind_of(log_.current_A[row], share * top_);
    };
    for (std::size_t i = 0; i < log_.rows();) {
      kind = i == 0 ? kind : next_kind(i);
      std::size_t last = i;
      while (last + 1 < log_.rows() && next_kind(last + 1) == kind) ++last;
      if (kind == Kind::rest)
        add(kind, Mode::other, i, last);
      else
        cut_stretch(kind, i, last);
      i = last + 1;
    }
    return std::move(phases_);
  }

 private:
  void cut_stretch(Kind kind, std::size_t first, std::size_t last) {
    if (log_.time_s[last] - log_.time_s[first] < pulse_s)
      return add(kind, Mode::pulse, first, last);
    const std::size_t taper = taper_start(log_, first, last);
    const std::size_t steady_last = taper <= last ? taper - 1 : last;
    if (taper > first) {
      std::size_t from = first;
      for (const std::size_t cut : level_changes(log_, first, steady_last, top_)) {
        add(kind, steady(from, cut - 1), from, cut - 1);
        from = cut;
      }
      add(kind, steady(from, steady_last), from, steady_last);
    }
    if (taper <= last) add(kind, Mode::constant_voltage, taper, last);
  }

  [[nodiscard]] Mode steady(std::size_t first, std::size_t last) const {
    std::vector<double> sizes(log_.current_A.begin() + static_cast<std::ptrdiff_t>(first),
                              log_.current_A.begin() + static_cast<std::ptrdiff_t>(last + 1));
    std::sort(sizes.begin(), sizes.end());
    const double middle = std::abs(sizes[sizes.size() / 2]);
    const double spread = sizes[sizes.size() * 95 / 100] - sizes[sizes.size() * 5 / 100];
    return spread <= constant_share * middle ? Mode::constant_current : Mode::other;
  }

  void add(Kind kind, Mode mode, std::size_t first, std::size_t last) {
    Phase p{kind,
            mode,
            first,
            last,
            log_.time_s[first],
            log_.time_s[last],
            0,
            0,
            0,
            log_.voltage_V[first],
            log_.voltage_V[last]};
    double charge_As = 0.0, energy_Ws = 0.0, seconds = 0.0, signed_As = 0.0;
    for (std::size_t i = first; i <= last; ++i) {
      charge_As += std::abs(log_.charge_As[i]);
      energy_Ws += std::abs(log_.energy_Ws[i]);
      signed_As += log_.charge_As[i];
      seconds += log_.share_s[i];
    }
    p.charge_Ah = kind == Kind::rest ? std::abs(signed_As) / 3600.0 : charge_As / 3600.0;
    p.energy_Wh = energy_Ws / 3600.0;
    p.mean_current_A = seconds > 0.0 ? signed_As / seconds : log_.current_A[first];
    phases_.push_back(p);
  }

  const logs::Log& log_;
  double top_;
  std::vector<Phase> phases_;
};

}  // namespace

std::string_view name(Kind kind) {
  switch (kind) {
    case Kind::charge:
      return "charge";
    case Kind::discharge:
      return "discharge";
    case Kind::rest:
      break;
  }
  return "rest";
}

std::string_view name(Mode mode) {
  switch (mode) {
    case Mode::constant_current:
      return "constant_current";
    case Mode::constant_voltage:
      return "constant_voltage";
    case Mode::pulse:
      return "pulse";
    case Mode::other:
      break;
  }
  return "other";
}

std::vector<Phase> find_phases(const logs::Log& log) {
  CHECK(log.share_s.size() == log.rows());
  return Cutter(log).run();
}

Totals totals(const logs::Log& log) {
  CHECK(log.share_s.size() == log.rows());
  Totals t;
  for (std::size_t i = 0; i < log.rows(); ++i) {
    const double charge_Ah = log.charge_As[i] / 3600.0, energy_Wh = log.energy_Ws[i] / 3600.0;
    if (charge_Ah > 0.0)
      t.discharged_Ah += charge_Ah, t.discharged_Wh += energy_Wh;
    else
      t.charged_Ah -= charge_Ah, t.charged_Wh -= energy_Wh;
  }
  return t;
}

}  // namespace bench

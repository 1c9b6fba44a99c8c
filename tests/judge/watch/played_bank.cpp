// SPDX-License-Identifier: Apache-2.0
#include "tests/judge/watch/played_bank.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

#include "base/small_random.hpp"

namespace judge {
namespace {

// Two published curves: one cell's mean branch at C/27 [Plett2015], another's at C/32 [Sunil2025].
constexpr double charge[] = {0.00, 0.01,  0.02, 0.03,  0.04, 0.05,  0.06, 0.08,  0.10, 0.125,
                             0.15, 0.175, 0.20, 0.225, 0.25, 0.275, 0.30, 0.325, 0.35, 0.40,
                             0.45, 0.50,  0.55, 0.60,  0.65, 0.675, 0.70, 0.725, 0.75, 0.80,
                             0.85, 0.90,  0.95, 0.97,  0.98, 0.99,  1.00};
constexpr double first_V[] = {2.30,   2.6385, 2.8199, 2.9118, 2.9756, 3.0251, 3.0656, 3.1297,
                              3.1782, 3.2100, 3.2183, 3.2309, 3.2445, 3.2552, 3.2642, 3.2724,
                              3.2797, 3.2854, 3.2912, 3.3011, 3.3055, 3.3080, 3.3117, 3.3171,
                              3.3232, 3.3264, 3.3305, 3.3359, 3.3412, 3.3454, 3.3481, 3.3520,
                              3.3691, 3.4007, 3.4401, 3.5165, 3.5900};
constexpr double second_V[] = {2.0102, 2.7019, 2.8644, 2.9561, 3.0213, 3.0721, 3.1136, 3.1773,
                               3.2029, 3.2096, 3.2156, 3.2276, 3.2413, 3.2522, 3.2618, 3.2708,
                               3.2778, 3.2834, 3.2883, 3.2948, 3.2974, 3.2991, 3.3010, 3.3032,
                               3.3070, 3.3106, 3.3163, 3.3253, 3.3329, 3.3371, 3.3393, 3.3411,
                               3.3429, 3.3445, 3.3481, 3.3703, 3.5981};
constexpr int points = int(std::size(charge)), grid = 2000;
constexpr double pi = 3.14159265358979323846;

double table(const double* volts, double s) {
  int k = 0;
  while (k + 2 < points && s > charge[k + 1]) ++k;
  return volts[k] + (s - charge[k]) / (charge[k + 1] - charge[k]) * (volts[k + 1] - volts[k]);
}

double arrhenius(double kJ_mol, double celsius) {
  return std::exp(kJ_mol * 1e3 / 8.314462618 * (1.0 / (celsius + 273.15) - 1.0 / 298.15));
}

struct Cell {
  std::vector<float> curve;
  double Q, z, r0, r1, r2, tau1, tau2, M, gamma, leak, leak_K, Ea0, Ea1, warmer, joint, sense, gain;
  double v1 = 0.0, v2 = 0.0, h = 0.0, missing = 0.0;
  double r0_now = 0.0, r1_now = 0.0, r2_now = 0.0, leak_now = 0.0;
  double extra_leak = 0.0, capacity_factor = 1.0, r_factor = 1.0;
  [[nodiscard]] double ocv(double s) const {
    const double a = std::clamp(s, 0.0, 1.0) * grid;
    const auto k = std::size_t(std::min(a, grid - 1.0));
    const double over = s > 1.0 ? (s - 1.0) * 8.0 : 0.0;
    return double(curve[k]) + (a - double(k)) * double(curve[k + 1] - curve[k]) + over;
  }
};

std::vector<Cell> draw_cells(const Scene& scene, base::SmallRandom& rnd) {
  const double scale = 230.0 / scene.capacity_Ah;
  const double R = 0.85 + 0.4 * rnd.uniform(),
               bank_Q = scene.capacity_Ah * (1.0 + 0.01 * rnd.normal());
  const double Ea0 = 14.0 + 8.0 * rnd.uniform(), Ea1 = 20.0 + 10.0 * rnd.uniform();
  const double M = 0.008 + 0.009 * rnd.uniform(), gamma = 20.0 + 10.0 * rnd.uniform();
  const double tau1 = 10.0 + 15.0 * rnd.uniform(), tau2 = 120.0 + 100.0 * rnd.uniform();
  const double mix = 0.3 + 0.4 * rnd.uniform();  // the make's curve; each cell's lies around it
  std::vector<Cell> cells(static_cast<std::size_t>(scene.series));
  for (int j = 0; j < scene.series; ++j) {
    Cell& c = cells[std::size_t(j)];
    const double own = mix + 0.04 * rnd.normal();
    double phase[3], size[3];
    for (int k = 0; k < 3; ++k) phase[k] = 2 * pi * rnd.uniform(), size[k] = 0.0004 * rnd.normal();
    c.curve.resize(grid + 2);
    for (int i = 0; i <= grid + 1; ++i) {
      const double s = std::min(1.0, double(i) / grid);
      double v = own * table(first_V, s) + (1.0 - own) * table(second_V, s);
      for (int k = 0; k < 3; ++k) v += size[k] * std::sin(2 * pi * (k + 1.5) * s + phase[k]);
      c.curve[std::size_t(i)] = float(v);
    }
    c.Q = bank_Q * (1.0 + 0.005 * rnd.normal());
    const double r = R * scale * (1.0 + 0.025 * rnd.normal());
    c.r0 = 0.24 * r, c.r1 = 0.11 * r * (1.0 + 0.04 * rnd.normal()),
    c.r2 = 0.26 * r * (1.0 + 0.06 * rnd.normal());
    c.tau1 = tau1 * (1.0 + 0.05 * rnd.normal()), c.tau2 = tau2 * (1.0 + 0.08 * rnd.normal());
    c.M = M * (1.0 + 0.08 * rnd.normal()), c.gamma = gamma;
    c.leak = (0.8 + 0.15 * rnd.normal()) / scale, c.leak_K = 8.0 + 5.0 * rnd.uniform();
    c.Ea0 = Ea0 * (1.0 + 0.04 * rnd.normal()), c.Ea1 = Ea1 * (1.0 + 0.04 * rnd.normal());
    c.warmer = 1.3 * std::sin(pi * (j + 0.5) / scene.series) - 0.8 + 0.2 * rnd.normal();
    c.joint = 0.08 * scale * (1.0 + 0.15 * rnd.normal());
    c.sense = 1.5 * rnd.normal(), c.gain = 1.0 + 3e-4 * rnd.normal();
    c.missing = scene.capacity_Ah / 230.0 * 0.3 * rnd.normal();
    c.z = (scene.mid_only ? 0.5 : 0.6) - c.missing / c.Q;
  }
  return cells;
}

/// Sun and house.
class House {
 public:
  House(const Scene& scene, base::SmallRandom& rnd) : scene_(scene), rnd_(rnd) {}
  /// Power at the bus, W, discharge positive, for the minute that begins then.
  double power_W(double day, double hour) {
    if (long(day) != today_) {
      today_ = long(day);
      cloud_ = std::clamp(0.6 * cloud_ + 0.4 * rnd_.uniform() * 1.35 + 0.05, 0.08, 1.0);
      evening_ = 0.7 + 0.6 * rnd_.uniform();
    }
    const double year = std::fmod(day - 20089.0, 365.25) / 365.25;    // from 1 January
    const double season = -std::cos(2 * pi * (year + 10.0 / 365.0));  // −1 … +1
    const double tilt = scene_.winter > 0.0 ? season : 1.0;
    const double length = 12.0 + 4.0 * tilt, noon = 12.0;
    const double up = (hour - noon) / length;
    double sun = 0.0;
    if (std::abs(up) < 0.5) {
      flicker_ = 0.9 * flicker_ + 0.1 * rnd_.normal();
      sun = 7000.0 * (0.55 + 0.25 * tilt) * std::pow(std::cos(pi * up), 1.3) *
            std::clamp(cloud_ * (1.0 + 0.8 * flicker_ * (1.2 - cloud_)), 0.03, 1.05);
    }
    load_ = 0.95 * load_ + 0.05 * (rnd_.uniform() < 0.03 ? 2500.0 * rnd_.uniform() : 0.0) * 20.0;
    double house = 180.0 + 0.3 * load_ + 40.0 * rnd_.uniform();
    if (hour > 17.5 && hour < 22.5) house += 550.0 * evening_;
    if (hour > 6.5 && hour < 8.0) house += 250.0;
    return house - sun;
  }

 private:
  const Scene& scene_;
  base::SmallRandom& rnd_;
  long today_ = -1;
  double cloud_ = 0.5, evening_ = 1.0, flicker_ = 0.0, load_ = 0.0;
};

double median(std::vector<double> v) {
  std::sort(v.begin(), v.end());
  const std::size_t n = v.size();
  return 0.5 * (v[(n - 1) / 2] + v[n / 2]);
}

void set_faults(const Scene& scene, std::vector<Cell>& cells, double day,
                std::vector<double>& joint, std::vector<double>& sense) {
  for (Cell& c : cells) c.extra_leak = 0.0, c.capacity_factor = 1.0, c.r_factor = 1.0;
  std::fill(joint.begin(), joint.end(), 0.0);
  std::fill(sense.begin(), sense.end(), 0.0);
  for (const Fault& f : scene.faults) {
    if (day < f.from_day) continue;
    const double done = f.ramp_days > 0.0 ? std::min(1.0, (day - f.from_day) / f.ramp_days) : 1.0;
    const auto j = std::size_t(f.cell);
    switch (f.kind) {
      case watch::Kind::drift:
        cells[j].extra_leak = f.size;
        break;
      case watch::Kind::capacity:
        cells[j].capacity_factor = 1.0 + f.size * done;
        break;
      case watch::Kind::resistance:
        cells[j].r_factor = 1.0 + f.size * done;
        break;
      case watch::Kind::joint:
        joint[j] += f.size;
        break;
      case watch::Kind::sense:
        sense[j] += f.size;
        if (j + 1 < cells.size()) sense[j + 1] -= f.size;
        break;
    }
  }
}

}  // namespace

void play(const Scene& scene, const std::function<bool(const watch::Reading&)>& on_reading,
          const std::function<void(long, const std::vector<Truth>&)>& on_day) {
  base::SmallRandom rnd(scene.seed * 7919 + 17);
  std::vector<Cell> cells = draw_cells(scene, rnd);
  House house(scene, rnd);
  const std::size_t n = cells.size();
  const double offset_A = 0.1 * rnd.normal(), gain_A = 1.0 + 0.005 * rnd.normal();
  const double limit_A = 0.32 * scene.capacity_Ah, volts_limit = 3.45 * double(n);
  const double power_scale = scene.capacity_Ah / 230.0;
  std::vector<double> joint(n, 0.0), sense(n, 0.0), E(n);
  std::vector<float> read(n), written(n);
  double room = 15.0, shown_C = 15.0, cell_heat = 0.0, current = 0.0, gap_until = 0.0;
  bool jump = false;
  const double dt = scene.step_s;
  const auto steps = long(scene.days * 86400.0 / dt);
  for (long k = 0; k < steps; ++k) {
    const double t = double(k) * dt, day = t / 86400.0, hour = std::fmod(t / 3600.0, 24.0);
    if (k % std::max(1L, long(600.0 / dt)) == 0) {
      set_faults(scene, cells, day, joint, sense);
      const double year = std::fmod(day + scene.first_day - 20089.0, 365.25) / 365.25;
      room = 16.0 - 8.0 * std::cos(2 * pi * (year - 0.06)) +
             1.5 * std::sin(2 * pi * (hour - 9.0) / 24.0);
      for (Cell& c : cells) {
        const double T = room + c.warmer * (0.5 + cell_heat) + 2.0 * cell_heat;
        const double a0 = arrhenius(c.Ea0, T), a1 = arrhenius(c.Ea1, T);
        c.r0_now = c.r0 * c.r_factor * a0;
        c.r1_now = c.r1 * c.r_factor * a1;
        c.r2_now = c.r2 * c.r_factor * a1;
        c.leak_now = c.leak * std::exp2((T - 25.0) / c.leak_K) + c.extra_leak;
      }
      shown_C = std::round(room + 0.5 + 2.0 * cell_heat);
    }
    // What is asked for, then what the limits allow.
    double want =
        house.power_W(day + scene.first_day, hour) * power_scale / 52.0 * 16.0 / double(n);
    want = std::clamp(want, -limit_A, limit_A);
    double low_z = 2.0, high_z = 0.0, sum_E = 0.0, sum_R = 0.0;
    for (std::size_t j = 0; j < n; ++j) {
      Cell& c = cells[j];
      const double Q = c.Q * c.capacity_factor;
      c.z = 1.0 - c.missing / Q;
      low_z = std::min(low_z, c.z), high_z = std::max(high_z, c.z);
      E[j] = c.ocv(c.z) + c.M * c.h - (c.v1 + c.v2);
      sum_E += E[j];
      sum_R += (c.r0_now + c.joint + joint[j]) * 1e-3;
    }
    if (want > 0.0 && low_z < (scene.mid_only ? 0.38 : 0.07)) want = 0.0;
    if (want < 0.0 && scene.mid_only && high_z > 0.62) want = 0.0;
    if (want < 0.0) want = std::min(0.0, std::max(want, (sum_E - volts_limit) / sum_R));
    current = want;
    cell_heat = 0.999 * cell_heat + 0.001 * std::pow(current / (0.3 * scene.capacity_Ah), 2) * 2.0;
    double lowest = 9.0;
    for (std::size_t j = 0; j < n; ++j) {
      Cell& c = cells[j];
      const double v = E[j] - current * (c.r0_now + c.joint + joint[j]) * 1e-3;
      const double shown = v * c.gain + (c.sense + sense[j] + 0.6 * rnd.normal()) * 1e-3;
      read[j] = float(std::round(shown * 1e3) * 1e-3);
      lowest = std::min(lowest, v);
    }
    // Flicker inside the step: the reading's current is not quite that of the step.
    const double shown_A =
        std::round(((current + (std::abs(current) > 0.5 ? 0.25 * rnd.normal() : 0.0)) * gain_A +
                    offset_A) *
                   10.0) /
        10.0;
    if (scene.gaps && t > gap_until && rnd.uniform() < dt / 86400.0 / 9.0) {
      gap_until = t + 3600.0 * 40.0 * rnd.uniform() * rnd.uniform();
      jump = true;
    }
    if (!scene.gaps || t >= gap_until) {
      watch::Reading r;
      r.time_s = scene.first_day * 86400.0 + t;
      r.current_A = shown_A;
      if (scene.on_change) {  // a cell is written when it moved by two steps
        for (std::size_t j = 0; j < n; ++j)
          if (std::abs(read[j] - written[j]) > 0.0015F) written[j] = read[j];
        r.cells_V = written;
      } else {
        r.cells_V = read;
      }
      r.temperature_C = shown_C;
      r.new_segment = std::exchange(jump, false);
      if (!on_reading(r)) return;
    }
    for (std::size_t j = 0; j < n; ++j) {
      Cell& c = cells[j];
      double bleed = 0.0;
      if (scene.balancer && read[j] > 3.42 && read[j] > lowest + 0.010) bleed = 0.1;
      const double Ah = (current + c.leak_now * 1e-3 + bleed) * dt / 3600.0;
      c.missing += Ah;
      const double k1 = std::exp(-dt / c.tau1), k2 = std::exp(-dt / c.tau2);
      c.v1 = k1 * c.v1 + (1.0 - k1) * c.r1_now * current * 1e-3;
      c.v2 = k2 * c.v2 + (1.0 - k2) * c.r2_now * current * 1e-3;
      const double turn = std::exp(-c.gamma * std::abs(Ah) / c.Q);
      c.h = turn * c.h + (1.0 - turn) * (current > 0.0 ? -1.0 : 1.0);
    }
    if (on_day && (k + 1) % long(86400.0 / dt) == 0) {
      std::vector<Truth> truth(n);
      std::vector<double> column(n);
      const auto against_median = [&](auto of, double Truth::*to) {
        for (std::size_t j = 0; j < n; ++j) column[j] = of(j);
        const double m = median(column);
        for (std::size_t j = 0; j < n; ++j) truth[j].*to = column[j] - m;
      };
      against_median([&](std::size_t j) { return cells[j].missing; }, &Truth::offset_Ah);
      against_median([&](std::size_t j) { return cells[j].leak_now; }, &Truth::leak_mA);
      against_median(
          [&](std::size_t j) { return cells[j].Q * cells[j].capacity_factor / scene.capacity_Ah; },
          &Truth::capacity);
      against_median([&](std::size_t j) { return (cells[j].r0 + cells[j].r1) * cells[j].r_factor; },
                     &Truth::resistance_mOhm);
      against_median([&](std::size_t j) { return cells[j].sense + sense[j]; }, &Truth::sense_mV);
      against_median([&](std::size_t j) { return cells[j].joint + joint[j]; }, &Truth::joint_mOhm);
      on_day(long(scene.first_day) + long(day), truth);
    }
  }
}

}  // namespace judge

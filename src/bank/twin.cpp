// SPDX-License-Identifier: Apache-2.0
#include "bank/twin.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "bank/figures.hpp"
#include "base/check.hpp"
#include "base/input_error.hpp"
#include "base/interpolation.hpp"
#include "cell/chemistry.hpp"

namespace bank {
namespace {

namespace units = base::units;
using kernel::Block;
using kernel::width;

// The table of resistance against temperature: a quarter of a degree is straight to 1e-5.
constexpr double coldest_C = -40.0, hottest_C = 80.0, warmths_per_K = 4.0;
constexpr double warm_every_s = 60.0;  // a cell at half its capacity an hour warms 0.1 K by then
constexpr std::size_t most_events = 10000;

/// Sum in a fixed order of eight lanes, so that vectors of any width give the same bits.
double lane_sum(const double* x, std::size_t n) {
  double lane[width] = {};
  std::size_t i = 0;
  for (; i + width <= n; i += width)
    for (std::size_t l = 0; l < width; ++l) lane[l] += x[i + l];
  for (std::size_t l = 0; i < n; ++i, ++l) lane[l] += x[i];
  return ((lane[0] + lane[4]) + (lane[2] + lane[6])) + ((lane[1] + lane[5]) + (lane[3] + lane[7]));
}

[[noreturn]] void refuse(std::string found, std::string expected, std::string remedy) {
  throw base::InputError({}, std::move(found), std::move(expected), std::move(remedy));
}

}  // namespace

std::string words(const Event& e) {
  switch (e.kind) {
    case Event::Kind::cell_high:
      return fmt::format("the BMS stopped charging at {:.3f} V of a group", e.value);
    case Event::Kind::cell_low:
      return fmt::format("the BMS stopped discharging at {:.3f} V of a group", e.value);
    case Event::Kind::too_cold:
      return fmt::format("the BMS stopped charging at {:.1f} °C", e.value);
    case Event::Kind::too_hot:
      return fmt::format("the BMS opened at {:.1f} °C", e.value);
    case Event::Kind::over_current:
      return fmt::format("the BMS opened at {:.0f} A", e.value);
    case Event::Kind::released:
      return "the BMS lets current pass again";
    case Event::Kind::bus_low:
      return fmt::format("the inverter stopped at {:.2f} V", e.value);
    case Event::Kind::bus_high:
      return fmt::format("the inverter stopped charging at {:.2f} V", e.value);
    case Event::Kind::bus_restart:
      return fmt::format("the inverter started again at {:.2f} V", e.value);
    case Event::Kind::charge_held:
      return fmt::format("the charger holds {:.2f} V", e.value);
    case Event::Kind::charge_full:
      return fmt::format("the charge is complete at {:.1f} A", e.value);
    case Event::Kind::charge_again:
      return fmt::format("the charger charges again at {:.2f} V", e.value);
    case Event::Kind::asked_too_much:
      return fmt::format("the bank cannot give {:.0f} W", e.value);
  }
  return "";
}

Twin::Twin(const Setup& setup)
    : layout_(setup.layout),
      limits_(setup.limits),
      functions_(setup.functions != nullptr ? setup.functions : &kernel::best()),
      packs_count_(setup.layout.packs),
      series_(setup.layout.series),
      parallel_(setup.layout.parallel),
      blocks_of_member_((std::size_t(std::max(1, setup.layout.series)) + width - 1) / width),
      stride_(int(blocks_of_member_ * width)),
      models_(setup.cells),
      rail_(setup.layout.take_off, setup.layout.lead.si()),
      thermal_(setup.thermal) {
  if (packs_count_ < 1 || packs_count_ > 64 || series_ < 1 || parallel_ < 1)
    refuse(fmt::format("a bank of {} packs of {}S{}P", packs_count_, series_, parallel_),
           "1 to 64 packs of at least 1S1P", "correct [layout]");
  const auto n = static_cast<std::size_t>(layout_.places());
  if (setup.cells.size() != n || setup.start_charge.size() != n)
    refuse(fmt::format("{} cells and {} states of charge for {} places", setup.cells.size(),
                       setup.start_charge.size(), n),
           "one of each for every place", "give every cell its model and its charge");
  for (std::size_t i = 0; i < n; ++i) {
    const cell::Model& m = setup.cells[i];
    if (!(m.capacity.si() > 0.0) || !(m.r0.si() > 0.0) || !(m.r1.si() >= 0.0) ||
        !(m.r2.si() >= 0.0) || !(m.tau1.si() > 0.0) || !(m.tau2.si() > 0.0))
      refuse(
          fmt::format("cell {} with {:g} Ah, R0 {:g} mOhm, time constants {:g} and {:g} s", i + 1,
                      m.capacity.in(units::Ah), m.r0.in(units::mOhm), m.tau1.si(), m.tau2.si()),
          "positive capacity, R0 and time constants",
          "measure the cell, or leave the value out so that it is scaled from the sheet");
    if (!(setup.start_charge[i] >= 0.0 && setup.start_charge[i] <= 1.0))
      refuse(fmt::format("a start at {:g} of charge", setup.start_charge[i]), "0 to 1",
             "write 0.5 for half full");
  }
  // Beyond full and empty every curve goes on with its end's slope.
  const auto add_curve = [&](const auto& voltage) {
    for (int i = 0; i < kernel::intervals; ++i) {
      const double from = kernel::first_charge + i / kernel::intervals_per_charge,
                   to = kernel::first_charge + (i + 1) / kernel::intervals_per_charge;
      curve_value_.push_back(voltage(from));
      curve_rise_.push_back(voltage(to) - voltage(from));
    }
  };
  const auto voltage = [](double s) {
    const double inside = std::clamp(s, 0.0, 1.0);
    return cell::open_circuit_voltage(inside).si() +
           cell::open_circuit_slope_V(inside) * (s - inside);
  };
  add_curve(voltage);
  for (const OwnCurve& own : setup.curves) {
    if (own.charge.size() < 2 || own.charge.size() != own.volts.size() ||
        !std::is_sorted(own.charge.begin(), own.charge.end()))
      refuse(
          fmt::format("a curve of {} charges and {} voltages", own.charge.size(), own.volts.size()),
          "at least two points, charge ascending", "measure the curve again, or leave it out");
    add_curve([&](double s) {
      const double inside = std::clamp(s, own.charge.front(), own.charge.back());
      return base::interpolate(own.charge, own.volts, inside) +
             base::slope(own.charge, own.volts, inside) * (s - inside);
    });
  }
  for (const int c : setup.curve_of)
    if (setup.curve_of.size() != n || c < -1 || c >= static_cast<int>(setup.curves.size()))
      refuse(fmt::format("curve {} among {} for {} cells", c, setup.curves.size(), n),
             "one for every cell, each of the list", "give every cell its curve or none");

  for (int i = 0; i < kernel::intervals; ++i)
    entropic_.push_back(
        cell::entropic_coefficient(kernel::first_charge + i / kernel::intervals_per_charge).si());
  for (double C = coldest_C; C <= hottest_C; C += 1.0 / warmths_per_K) {
    const auto f = cell::resistance_factors(base::Temperature::from_C(C));
    warmths_.push_back({f.ohmic, f.fast, f.slow});
  }
  blocks_.assign(std::size_t(packs_count_ * parallel_) * blocks_of_member_, Block{});
  celsius_.assign(n, setup.start.in_C());
  next_C_ = celsius_;
  fixed_.resize(n);
  charge_then_ = setup.start_charge;
  entropic_then_.resize(n);
  for (Block& b : blocks_)  // lanes without a cell rest
    for (std::size_t l = 0; l < width; ++l)
      b.resistance[l] = b.r0[l] = 1.0, b.per_amp[l] = 0.0, b.ocv[l] = voltage(0.0);
  for (int i = 0; i < cells(); ++i) {
    const int group = i % (series_ * parallel_) / parallel_;
    at_.push_back(
        {std::size_t(i / (series_ * parallel_) * parallel_ + i % parallel_) * blocks_of_member_ +
             std::size_t(group) / width,
         std::size_t(group) % width});
    const auto [block, l] = at(i);
    Block& b = blocks_[block];
    const auto c = std::size_t(i);
    b.charge[l] = setup.start_charge[c];
    b.hysteresis[l] = models_[c].hysteresis.si();
    b.leak[l] = models_[c].leak.si();
    leak_A_ += b.leak[l];
    const double x = (b.charge[l] - kernel::first_charge) * kernel::intervals_per_charge;
    if (!setup.curve_of.empty()) b.curve[l] = (setup.curve_of[c] + 1) * kernel::intervals;
    const int of_curve = std::clamp(int(x), 0, kernel::intervals - 1);
    const auto k = std::size_t(b.curve[l] + of_curve);
    b.ocv[l] = curve_value_[k] + curve_rise_[k] * (x - of_curve);
    b.slope[l] = curve_rise_[k] * kernel::intervals_per_charge;
    b.voltage[l] = b.ocv[l];
    entropic_then_[c] = cell::entropic_coefficient(b.charge[l]).si();
  }
  const auto groups = std::size_t(packs_count_ * stride_);
  group_E_.assign(groups, 0.0);
  group_R_.assign(groups, 0.0);
  group_V_.assign(groups, 0.0);
  group_bleed_A_.assign(groups, 0.0);
  group_offset_V_.assign(groups, 0.0);
  group_joint_.assign(groups, 0.0);
  packs_.resize(std::size_t(packs_count_));
  gates_.resize(std::size_t(packs_count_));
  const bool star = layout_.take_off == layout::TakeOff::star;
  const double path = path_resistance(layout_).si() + (star ? 2.0 * layout_.lead.si() : 0.0);
  pack_path_Ohm_.assign(std::size_t(packs_count_), path);
  row_ = std::max(1, series_ / std::max(1, setup.rows)) * parallel_;
  tail_A_ = limits_.charger.tail_rate * setup.rated_capacity.in(units::Ah)*parallel_ * packs_count_;
  events_.reserve(256);
  for (int k = 0; k < packs_count_; ++k)
    for (int g = 0; g < series_; ++g)
      group_V_[std::size_t(k * stride_ + g)] = cell_V((k * series_ + g) * parallel_);
  set_step(60.0 * units::s);
  for (int k = 0; k < packs_count_; ++k) watch_temperatures(k);
}

double Twin::cell_V(int cell) const { return blocks_[at(cell).block].voltage[at(cell).lane]; }
double Twin::cell_A(int cell) const { return blocks_[at(cell).block].current[at(cell).lane]; }
double Twin::charge(int cell) const { return blocks_[at(cell).block].charge[at(cell).lane]; }

double Twin::state_of_charge() const {
  double held = 0.0, all = 0.0;
  for (int i = 0; i < cells(); ++i) {
    const double capacity = models_[std::size_t(i)].capacity.si();
    held += charge(i) * capacity;
    all += capacity;
  }
  return held / all;
}

double Twin::stored_J() const {
  double sum = 0.0;
  for (int i = 0; i < cells(); ++i) {
    const auto of = std::size_t(blocks_[at(i).block].curve[at(i).lane]);
    // The integral of the curve from its first point up to here, less that up to empty.
    const auto integral = [&](double s) {
      const double x = (s - kernel::first_charge) * kernel::intervals_per_charge;
      const int last = std::clamp(int(x), 0, kernel::intervals - 1);
      double area = 0.0;
      for (int k = 0; k < last; ++k)
        area += curve_value_[of + std::size_t(k)] + 0.5 * curve_rise_[of + std::size_t(k)];
      const double f = x - last;
      return area + curve_value_[of + std::size_t(last)] * f +
             0.5 * curve_rise_[of + std::size_t(last)] * f * f;
    };
    sum += models_[std::size_t(i)].capacity.si() * (integral(charge(i)) - integral(0.0)) /
           kernel::intervals_per_charge;
  }
  return sum;
}

Book Twin::book() const {
  Book all = book_;
  for (int i = 0; i < cells(); ++i)
    all.cells_heat_J += blocks_[at(i).block].heat[at(i).lane] * step_s_;
  return all;
}

void Twin::set_step(base::Seconds step) {
  if (!(step.si() > 0.0) || step.si() > longest_step_s)
    refuse(fmt::format("a step of {:g} s", step.si()),
           fmt::format("above 0 and at most {:g} s", longest_step_s), "use a shorter step");
  if (step.si() == step_s_) return;
  if (since_warm_s_ > 0.0) warm();  // heat so far belongs to the old step
  step_s_ = step.si();
  for (int i = 0; i < cells(); ++i) {
    const auto [block, l] = at(i);
    Block& b = blocks_[block];
    const cell::Model& m = models_[std::size_t(i)];
    b.per_amp[l] = step_s_ / m.capacity.si();
    b.keep1[l] = std::exp(-step_s_ / m.tau1.si());
    b.keep2[l] = std::exp(-step_s_ / m.tau2.si());
    fixed_[std::size_t(i)] = {m.capacity.si(), m.r0.si(), m.r1.si() * (1.0 - b.keep1[l]),
                              m.r2.si() * (1.0 - b.keep2[l])};
    refresh(std::size_t(i));
  }
}

void Twin::refresh(std::size_t cell) {
  const Fixed& fixed = fixed_[cell];
  const auto [block, l] = at_[cell];
  Block& b = blocks_[block];
  const double x = (celsius_[cell] - coldest_C) * warmths_per_K;
  const int last = int(warmths_.size()) - 2;
  int k = int(x);
  k = k < 0 ? 0 : k > last ? last : k;
  const Warmth &w = warmths_[std::size_t(k)], &next = warmths_[std::size_t(k) + 1];
  const double f = x - k;
  b.r0[l] = fixed.r0 * (w.ohmic + f * (next.ohmic - w.ohmic));
  b.r1[l] = fixed.r1 * (w.fast + f * (next.fast - w.fast));
  b.r2[l] = fixed.r2 * (w.slow + f * (next.slow - w.slow));
}

// Each cell towards the temperature at which its heat, its neighbours and the room would leave it,
// exactly for neighbours that stand still meanwhile.
void Twin::warm() {
  const double dt = since_warm_s_;
  since_warm_s_ = 0.0;
  if (dt <= 0.0) return;
  if (dt != decay_dt_s_) {  // by number of neighbours
    decay_dt_s_ = dt;
    for (int n = 0; n < 3; ++n) {
      by_conductance_[n] = 1.0 / (thermal_.to_room_W_K + n * thermal_.along_row_W_K);
      decay_[n] = std::exp(-(thermal_.to_room_W_K + n * thermal_.along_row_W_K) * dt /
                           thermal_.heat_capacity_J_K);
    }
  }
  const double by_dt = 1.0 / dt;
  double heat_J = 0.0;
  const int n = cells(), pack = series_ * parallel_;
  int in_row = 0, in_pack = 0;
  for (int i = 0; i < n; ++i) {
    const auto c = std::size_t(i);
    const auto [block, l] = at_[c];
    Block& b = blocks_[block];
    const double joule_J = b.heat[l] * step_s_;
    b.heat[l] = 0.0;
    heat_J += joule_J;
    const double x = (b.charge[l] - kernel::first_charge) * kernel::intervals_per_charge;
    const double entropic =
        entropic_[std::size_t(x < 0.0 ? 0 : std::min(int(x), kernel::intervals - 1))];
    const double reversible_J = -(celsius_[c] + 273.15) * 0.5 * (entropic + entropic_then_[c]) *
                                fixed_[c].capacity * (charge_then_[c] - b.charge[l]);
    charge_then_[c] = b.charge[l];
    entropic_then_[c] = entropic;
    const bool before = in_row != 0, behind = in_row + 1 != row_ && in_pack + 1 != pack;
    double flow = thermal_.to_room_W_K * room_C_;
    if (before) flow += thermal_.along_row_W_K * celsius_[c - 1];
    if (behind) flow += thermal_.along_row_W_K * celsius_[c + 1];
    const int neighbours = int(before) + int(behind);
    const double rest_C = (flow + (joule_J + reversible_J) * by_dt) * by_conductance_[neighbours];
    next_C_[c] = rest_C + (celsius_[c] - rest_C) * decay_[neighbours];
    in_row = in_row + 1 == row_ ? 0 : in_row + 1;
    if (++in_pack == pack) in_pack = in_row = 0;
  }
  book_.cells_heat_J += heat_J;
  celsius_.swap(next_C_);
  for (std::size_t c = 0; c < celsius_.size(); ++c) refresh(c);
}

void Twin::find_sources() {
  functions_->sources(blocks_.data(), blocks_.size());
  if (parallel_ > 1) functions_->inverses(blocks_.data(), blocks_.size());
  for (int k = 0; k < packs_count_; ++k) {
    const auto first = std::size_t(k * stride_);
    const Block* block = blocks_.data() + std::size_t(k * parallel_) * blocks_of_member_;
    double* E = group_E_.data() + first;
    double* R = group_R_.data() + first;
    if (parallel_ == 1) {
      for (std::size_t j = 0; j < blocks_of_member_; ++j)
#pragma omp simd
        for (std::size_t l = 0; l < width; ++l)
          E[j * width + l] = block[j].source[l], R[j * width + l] = block[j].resistance[l];
    } else {
      for (std::size_t j = 0; j < blocks_of_member_; ++j) {
        double by_R[width] = {}, E_by_R[width] = {};
        for (std::size_t m = 0; m < std::size_t(parallel_); ++m) {
          const Block& c = block[m * blocks_of_member_ + j];
#pragma omp simd
          for (std::size_t l = 0; l < width; ++l)
            by_R[l] += c.inverse[l], E_by_R[l] += c.source[l] * c.inverse[l];
        }
#pragma omp simd
        for (std::size_t l = 0; l < width; ++l)
          R[j * width + l] = 1.0 / by_R[l], E[j * width + l] = E_by_R[l] / by_R[l];
      }
    }
    double source = lane_sum(E, std::size_t(series_));
    const double resistance = lane_sum(R, std::size_t(series_)) + pack_path_Ohm_[std::size_t(k)];
    if (bleeding_)
      for (std::size_t g = 0; g < std::size_t(series_); ++g)
        source -= R[g] * group_bleed_A_[first + g];
    packs_[std::size_t(k)].source_V = source;
    packs_[std::size_t(k)].conductance_S = gates_[std::size_t(k)].off ? 0.0 : 1.0 / resistance;
  }
}

double Twin::wanted(const Demand& demand, const wiring::RailSource& bus) {
  const double E = bus.source_V, R = bus.resistance_Ohm;
  double I = demand.value;
  if (demand.kind == Demand::Kind::power) {
    const double under = E * E - 4.0 * demand.value * R;
    if (under < 0.0) {
      if (!told_too_much_) note(Event::Kind::asked_too_much, -1, -1, demand.value);
      told_too_much_ = true;
      I = E / (2.0 * R);
    } else {
      I = demand.value / (0.5 * (E + std::sqrt(under)));
    }
  }
  if (I < 0.0) {
    const double limit =
        series_ * (full_ ? limits_.charger.float_per_cell.si() : limits_.charger.per_cell.si());
    const bool holds = E - R * I > limit;
    if (holds) I = std::min(0.0, (E - limit) / R);
    if (holds && !held_ && !full_) note(Event::Kind::charge_held, -1, -1, limit);
    held_ = holds;
    if (no_charge_) I = 0.0;
  } else {
    held_ = false;
    if (stopped_) I = 0.0;
  }
  return I;
}

void Twin::solve(const Demand& demand) {
  const auto n = packs_.size();
  for (std::size_t again = 0; again <= n; ++again) {
    const wiring::RailSource bus = rail_.seen(packs_.data(), n);
    if (!bus.live) {
      bus_V_ = bus_A_ = 0.0;
      for (wiring::RailPack& p : packs_) p.current_A = 0.0;
      return;
    }
    bus_A_ = wanted(demand, bus);
    bus_V_ = bus.source_V - bus.resistance_Ohm * bus_A_;
    rail_.share(packs_.data(), n, bus_A_);
    bool opened = false;
    for (std::size_t k = 0; k < n; ++k) {
      const Gate& gate = gates_[k];
      if (gate.stuck || packs_[k].conductance_S == 0.0) continue;
      if ((packs_[k].current_A < 0.0 && !gate.charges()) ||
          (packs_[k].current_A > 0.0 && !gate.discharges()))
        packs_[k].conductance_S = 0.0, opened = true;
    }
    if (!opened) return;
  }
}

void Twin::move_cells() {
  for (int k = 0; k < packs_count_; ++k) {
    const double pack_A = packs_[std::size_t(k)].current_A;
    const auto first = std::size_t(k * stride_);
    Block* block = blocks_.data() + std::size_t(k * parallel_) * blocks_of_member_;
    const double* bleed = group_bleed_A_.data() + first;
    if (parallel_ == 1) {
      for (std::size_t j = 0; j < blocks_of_member_; ++j)
#pragma omp simd
        for (std::size_t l = 0; l < width; ++l) block[j].current[l] = pack_A + bleed[j * width + l];
      continue;
    }
    for (std::size_t j = 0; j < blocks_of_member_; ++j) {
      double V[width];
#pragma omp simd
      for (std::size_t l = 0; l < width; ++l)
        V[l] = group_E_[first + j * width + l] -
               group_R_[first + j * width + l] * (pack_A + bleed[j * width + l]);
      for (std::size_t m = 0; m < std::size_t(parallel_); ++m) {
        Block& b = block[m * blocks_of_member_ + j];
#pragma omp simd
        for (std::size_t l = 0; l < width; ++l) b.current[l] = (b.source[l] - V[l]) * b.inverse[l];
      }
    }
  }
  functions_->advance(blocks_.data(), blocks_.size(), {curve_value_.data(), curve_rise_.data()});
  // The sources were straightened where the curve bends; the voltages at the end are the curve's.
  double shift = 0.0, weight = 0.0, cells_W = 0.0;
  for (int k = 0; k < packs_count_; ++k) {
    const wiring::RailPack& p = packs_[std::size_t(k)];
    const auto first = std::size_t(k * stride_);
    const Block* block = blocks_.data() + std::size_t(k * parallel_) * blocks_of_member_;
    const double share = 1.0 / parallel_;
    double* V_of = group_V_.data() + first;
    for (std::size_t j = 0; j < blocks_of_member_; ++j) {
      double sum[width] = {};
      for (std::size_t m = 0; m < std::size_t(parallel_); ++m)
#pragma omp simd
        for (std::size_t l = 0; l < width; ++l)
          sum[l] += block[m * blocks_of_member_ + j].voltage[l];
#pragma omp simd
      for (std::size_t l = 0; l < width; ++l) V_of[j * width + l] = sum[l] * share;
    }
    const double V = lane_sum(group_V_.data() + first, std::size_t(series_));
    cells_W += V * p.current_A;
    if (p.conductance_S > 0.0) {
      const double path = pack_path_Ohm_[std::size_t(k)];
      const double straight = p.source_V - p.current_A * (1.0 / p.conductance_S - path);
      shift += p.conductance_S * (V - straight);
      weight += p.conductance_S;
    }
  }
  if (weight > 0.0) bus_V_ += shift / weight;
  book_.path_heat_J += (cells_W - bus_V_ * bus_A_) * step_s_;
}

void Twin::note(Event::Kind kind, int pack, int group, double value) {
  if (events_.size() < most_events) events_.push_back({kind, time_s_, pack, group, value});
}

double Twin::reading_V(int pack, int group) const {
  const auto g = std::size_t(pack * stride_ + group);
  return group_V_[g] + group_offset_V_[g] - group_joint_[g] * packs_[std::size_t(pack)].current_A;
}

void Twin::step(const Demand& demand, double room_C) {
  room_C_ = room_C;
  find_sources();
  solve(demand);
  move_cells();
  time_s_ += step_s_;
  since_warm_s_ += step_s_;
  book_.out_As += bus_A_ * step_s_;
  book_.out_J += bus_A_ * bus_V_ * step_s_;
  (bus_A_ > 0.0 ? book_.discharged_As : book_.charged_As) += std::abs(bus_A_) * step_s_;
  (bus_A_ > 0.0 ? book_.discharged_J : book_.charged_J) += std::abs(bus_A_ * bus_V_) * step_s_;
  book_.leaked_As += leak_A_ * step_s_;
  if (bleeding_)
    for (std::size_t g = 0; g < group_bleed_A_.size(); ++g) {
      book_.bled_As += group_bleed_A_[g] * step_s_;
      book_.bled_J += group_bleed_A_[g] * group_V_[g] * step_s_;
    }
  if (since_warm_s_ + 0.5 * step_s_ > warm_every_s) warm();
  watch_packs();
  watch_bus();
  balance();
}

void Twin::add_joint(int pack, int group, double Ohm, bool in_reading) {
  pack_path_Ohm_[std::size_t(pack)] += Ohm;
  if (in_reading) group_joint_[std::size_t(pack * stride_ + group)] += Ohm;
}

void Twin::offset_reading(int pack, int group, double volts) {
  group_offset_V_[std::size_t(pack * stride_ + group)] += volts;
}

}  // namespace bank

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

constexpr double warm_every_s = 60.0;  // a cell at half its capacity an hour warms 0.1 K by then
constexpr std::size_t most_events = 10000;

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
  if (packs_count_ < 1 || packs_count_ > int(kernel::most_packs) || series_ < 1 || parallel_ < 1)
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
  for (int i = 0; i <= kernel::warmths; ++i) {
    const auto f = cell::resistance_factors(
        base::Temperature::from_C(kernel::coldest_C + i / kernel::warmths_per_K));
    const double factor[3] = {f.ohmic, f.fast, f.slow};
    for (int of = 0; of < 3; ++of) {
      if (i > 0) warmth_rise_[of].push_back(factor[of] - warmth_[of].back());
      if (i < kernel::warmths) warmth_[of].push_back(factor[of]);
    }
  }
  blocks_.assign(std::size_t(packs_count_ * parallel_) * blocks_of_member_, Block{});
  const std::size_t slots = blocks_.size() * width;
  temperature_.assign(slots + 2 * width, setup.start.in_C());
  next_C_.assign(slots + 2 * width, setup.start.in_C());
  refreshed_C_.assign(slots, 0.0);
  for (auto* by_slot : {&charge_then_, &entropic_then_, &r0_, &r1_, &r2_, &capacity_As_})
    by_slot->assign(slots, 0.0);
  row_ = std::max(1, series_ / std::max(1, setup.rows)) * parallel_;
  for (Block& b : blocks_)  // lanes without a cell rest
    for (std::size_t l = 0; l < width; ++l) b.r0[l] = 1.0, b.ocv[l] = voltage(0.0);
  r0_.assign(slots, 1.0);
  // Every pack stands alike; lanes without a cell do not warm.
  for (auto* of_pack : {&before_W_K_, &behind_W_K_, &by_W_K_})
    of_pack->assign(slots / std::size_t(packs_count_), 0.0);
  decay_.assign(slots / std::size_t(packs_count_), 1.0);
  for (int i = 0; i < cells(); ++i) {
    const int group = i % (series_ * parallel_) / parallel_;
    at_.push_back(
        {std::size_t(i / (series_ * parallel_) * parallel_ + i % parallel_) * blocks_of_member_ +
             std::size_t(group) / width,
         std::size_t(group) % width});
    const auto [block, l] = at(i);
    Block& b = blocks_[block];
    const auto c = std::size_t(i), place = slot(i);
    b.charge[l] = charge_then_[place] = setup.start_charge[c];
    capacity_As_[place] = models_[c].capacity.si();
    const int in_pack = i % (series_ * parallel_), in_row = in_pack % row_;
    if (i == in_pack) {  // of the first pack
      if (in_row != 0) before_W_K_[place] = thermal_.along_row_W_K;
      if (in_row + 1 != row_ && in_pack + 1 != series_ * parallel_)
        behind_W_K_[place] = thermal_.along_row_W_K;
    }
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
    entropic_then_[place] = cell::entropic_coefficient(b.charge[l]).si();
  }
  const auto groups = std::size_t(packs_count_ * stride_);
  group_E_.assign(groups, 0.0);
  group_R_.assign(groups, 0.0);
  group_V_.assign(groups, 0.0);
  group_bleed_A_.assign(groups, 0.0);
  group_offset_V_.assign(groups, 0.0);
  group_joint_.assign(groups, 0.0);
  for (auto* by_pack : {&pack_A_, &cells_V_, &lowest_V_, &highest_V_, &source_V_, &resistance_Ohm_,
                        &coldest_C_, &hottest_C_})
    by_pack->assign(std::size_t(packs_count_), 0.0);
  packs_.resize(std::size_t(packs_count_));
  gates_.resize(std::size_t(packs_count_));
  const bool star = layout_.take_off == layout::TakeOff::star;
  const double path = path_resistance(layout_).si() + (star ? 2.0 * layout_.lead.si() : 0.0);
  pack_path_Ohm_.assign(std::size_t(packs_count_), path);
  tail_A_ = limits_.charger.tail_rate * setup.rated_capacity.in(units::Ah)*parallel_ * packs_count_;
  events_.reserve(256);
  for (int k = 0; k < packs_count_; ++k)
    for (int g = 0; g < series_; ++g)
      group_V_[std::size_t(k * stride_ + g)] = cell_V((k * series_ + g) * parallel_);
  lay_out();
  set_step(60.0 * units::s);
  for (int k = 0; k < packs_count_; ++k) watch_temperatures(k);
}

void Twin::lay_out() {
  bank_.blocks = blocks_.data();
  bank_.packs = std::size_t(packs_count_);
  bank_.series = std::size_t(series_);
  bank_.parallel = std::size_t(parallel_);
  bank_.blocks_of_member = blocks_of_member_;
  bank_.curves = {curve_value_.data(), curve_rise_.data()};
  bank_.pack_A = pack_A_.data();
  bank_.cells_V = cells_V_.data();
  bank_.lowest_V = lowest_V_.data();
  bank_.highest_V = highest_V_.data();
  bank_.source_V = source_V_.data();
  bank_.resistance_Ohm = resistance_Ohm_.data();
  bank_.coldest_C = coldest_C_.data();
  bank_.hottest_C = hottest_C_.data();
  bank_.group_E = group_E_.data();
  bank_.group_R = group_R_.data();
  bank_.group_V = group_V_.data();
  bank_.bleed_A = group_bleed_A_.data();
  bank_.offset_V = group_offset_V_.data();
  bank_.joint_Ohm = group_joint_.data();
  bank_.temperature_C = temperature_.data() + width;
  bank_.next_C = next_C_.data() + width;
  bank_.refreshed_C = refreshed_C_.data();
  bank_.charge_then = charge_then_.data();
  bank_.entropic_then = entropic_then_.data();
  bank_.before_W_K = before_W_K_.data();
  bank_.behind_W_K = behind_W_K_.data();
  bank_.by_W_K = by_W_K_.data();
  bank_.decay = decay_.data();
  bank_.capacity_As = capacity_As_.data();
  bank_.r0 = r0_.data();
  bank_.r1 = r1_.data();
  bank_.r2 = r2_.data();
  bank_.entropic = entropic_.data();
  bank_.ohmic = {warmth_[0].data(), warmth_rise_[0].data()};
  bank_.fast = {warmth_[1].data(), warmth_rise_[1].data()};
  bank_.slow = {warmth_[2].data(), warmth_rise_[2].data()};
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
    const std::size_t place = slot(i);
    b.per_amp[l] = step_s_ / m.capacity.si();
    b.keep1[l] = std::exp(-step_s_ / m.tau1.si());
    b.keep2[l] = std::exp(-step_s_ / m.tau2.si());
    r0_[place] = m.r0.si();
    r1_[place] = m.r1.si() * (1.0 - b.keep1[l]);
    r2_[place] = m.r2.si() * (1.0 - b.keep2[l]);
  }
  for (int k = 0; k < packs_count_; ++k) functions_->refresh(bank_, std::size_t(k));
}

void Twin::warm() {
  const double span_s = since_warm_s_;
  since_warm_s_ = 0.0;
  if (span_s <= 0.0) return;
  if (span_s != decay_dt_s_) {
    decay_dt_s_ = span_s;
    double by_W_K[3], decay[3];  // by number of neighbours
    for (int n = 0; n < 3; ++n) {
      const double W_K = thermal_.to_room_W_K + n * thermal_.along_row_W_K;
      by_W_K[n] = 1.0 / W_K;
      decay[n] = std::exp(-W_K * span_s / thermal_.heat_capacity_J_K);
    }
    for (int cell = 0; cell < series_ * parallel_; ++cell) {
      const std::size_t i = slot(cell);
      const int n = int(before_W_K_[i] > 0.0) + int(behind_W_K_[i] > 0.0);
      by_W_K_[i] = by_W_K[n];
      decay_[i] = decay[n];
    }
  }
  functions_->warm(bank_, step_s_, span_s, thermal_.to_room_W_K * room_C_);
}

void Twin::find_sources() {
  for (std::size_t k = 0; k < packs_.size(); ++k) {
    double source = source_V_[k];
    if (bleeding_)
      for (std::size_t g = k * std::size_t(stride_);
           g < k * std::size_t(stride_) + std::size_t(series_); ++g)
        source -= group_R_[g] * group_bleed_A_[g];
    packs_[k].source_V = source;
    packs_[k].conductance_S = gates_[k].off ? 0.0 : 1.0 / (resistance_Ohm_[k] + pack_path_Ohm_[k]);
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
  for (std::size_t k = 0; k < packs_.size(); ++k) pack_A_[k] = packs_[k].current_A;
  book_.cells_heat_J += functions_->advance(bank_) * step_s_;
  // The sources were straightened where the curve bends; the voltages at the end are the curve's.
  double shift = 0.0, weight = 0.0, cells_W = 0.0;
  for (std::size_t k = 0; k < packs_.size(); ++k) {
    const wiring::RailPack& p = packs_[k];
    const double V = cells_V_[k];
    cells_W += V * p.current_A;
    if (p.conductance_S > 0.0) {
      const double straight =
          p.source_V - p.current_A * (1.0 / p.conductance_S - pack_path_Ohm_[k]);
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

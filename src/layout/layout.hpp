// SPDX-License-Identifier: Apache-2.0
// How cells, packs and bank are counted and joined, and the limits that devices act on: plain data.
#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "base/quantity.hpp"

namespace layout {

/// Where the bus is tapped along the row of packs.
enum class TakeOff { same_end, diagonal, star };
[[nodiscard]] std::string_view name(TakeOff take_off);
/// Nothing where the word is unknown.
[[nodiscard]] std::optional<TakeOff> take_off_named(std::string_view word);

/// K packs in parallel on one bus, each of S groups in series, each of P cells in parallel.
struct Layout {
  int packs = 1;
  int series = 16;
  int parallel = 1;
  TakeOff take_off = TakeOff::diagonal;
  base::Ohms link = 0.02 * base::units::mOhm;       ///< one bar between two groups
  base::Ohms joint = 0.05 * base::units::mOhm;      ///< one bolted joint; two for each link
  base::Ohms pack_extra = 1.2 * base::units::mOhm;  ///< a pack's BMS, fuse and shunt together
  base::Ohms lead = 0.5 * base::units::mOhm;  ///< each pole, from pack to bus or to the next pack

  [[nodiscard]] int places_in_pack() const { return series * parallel; }
  [[nodiscard]] int places() const { return packs * places_in_pack(); }
};

/// "A", "B" … "Z", "AA": the name of the pack with this index.
[[nodiscard]] std::string pack_name(int pack);
/// "A-07" or, with several cells in a group, "A-07b": pack, group counted from the pack's minus,
/// member.
[[nodiscard]] std::string place_name(int pack, int group, int member, int parallel);
/// A pack "B", or a group of it "B-07" (a member's letter behind is allowed and left aside), in
/// words of people; nothing where the text is neither. Both count from 0.
struct NamedPlace {
  int pack = 0;
  std::optional<int> group = {};
};
[[nodiscard]] std::optional<NamedPlace> place_named(std::string_view text);

struct BmsLimits {
  base::Volts cell_high = 3.65 * base::units::V;
  base::Volts cell_high_release = 3.45 * base::units::V;
  base::Volts cell_low = 2.7 * base::units::V;
  base::Volts cell_low_release = 3.0 * base::units::V;
  base::Temperature charge_stop = base::Temperature::from_C(0.0);
  base::Temperature charge_release = base::Temperature::from_C(5.0);
  base::Temperature charge_hot = base::Temperature::from_C(45.0);
  base::Temperature discharge_hot = base::Temperature::from_C(55.0);
  base::Temperature discharge_cold = base::Temperature::from_C(-20.0);
  base::Seconds voltage_delay = 2.0 * base::units::s;   ///< before a voltage limit acts
  base::Amps charge_max = {}, discharge_max = {};       ///< of a pack; zero: no limit
  base::Seconds current_delay = 10.0 * base::units::s;  ///< before a current limit acts
};

struct ChargerLimits {
  base::Volts per_cell = 3.50 * base::units::V;
  base::Volts float_per_cell = 3.36 * base::units::V;
  base::Volts recharge_per_cell = 3.30 * base::units::V;
  double tail_rate = 0.04;  ///< charge is called complete when the current falls to this share of C
};

struct InverterLimits {
  base::Volts alarm_per_cell = 3.10 * base::units::V;
  base::Volts stop_per_cell = 3.0 * base::units::V;
  base::Volts restart_per_cell = 3.20 * base::units::V;
  base::Volts charge_stop_per_cell = 3.58 * base::units::V;
  base::Seconds stop_delay = 5.0 * base::units::s;
};

struct BalancerLimits {
  bool moves = false;       ///< active: from the highest group to the lowest; else it bleeds
  double efficiency = 0.9;  ///< of what is moved, what arrives
  base::Volts start = 3.42 * base::units::V;
  base::Volts window = 10.0 * base::units::mV;
  base::Amps current = 0.1 * base::units::A;
};

struct Limits {
  BmsLimits bms;
  ChargerLimits charger;
  InverterLimits inverter;
  BalancerLimits balancer;
};

}  // namespace layout

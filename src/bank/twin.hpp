// SPDX-License-Identifier: Apache-2.0
// The twin: the bank as it behaves, cell by cell, one step after another.
#pragma once

#include <cstdint>
#include <span>
#include <string>
#include <vector>

#include "bank/kernel.hpp"
#include "base/quantity.hpp"
#include "cell/model.hpp"
#include "layout/layout.hpp"
#include "wiring/rail.hpp"

namespace bank {

/// How a cell holds, passes on and gives off heat where it stands.
struct Thermal {
  double heat_capacity_J_K = 4305.0;  ///< 4.1 kg of 1050 J/(kg K), docs/models/bank.md
  double along_row_W_K = 0.4;         ///< to each neighbour in its row
  double to_room_W_K = 0.24;
};

/// A cell's own curve: voltage at rest (or, where R0 and the pairs are next to nothing, under the
/// current it was measured at) by state of charge, ascending, at least two points.
struct OwnCurve {
  std::vector<double> charge, volts;
};

/// What a twin is made from. Cells by pack, then group from the pack's minus, then member.
struct Setup {
  layout::Layout layout;
  layout::Limits limits;
  base::AmpHours rated_capacity;  ///< of one cell; the tail current is a share of it
  std::vector<cell::Model> cells;
  std::vector<double> start_charge;   ///< one a cell, 0…1
  std::vector<OwnCurve> curves = {};  ///< beside the chemistry's
  std::vector<int> curve_of = {};  ///< one a cell: −1 the chemistry's, else of `curves`; empty: −1
  base::Temperature start = base::Temperature::from_C(20.0);
  Thermal thermal = {};
  int rows = 1;  ///< of cells in a box: heat passes along a row, not between rows
  const kernel::Functions* functions = nullptr;  ///< none: the widest there is
};

/// What is asked of the bank at its bus, discharge positive.
struct Demand {
  enum class Kind { current, power } kind = Kind::current;
  double value = 0.0;  ///< amperes or watts
};

/// Something that a device did, or that could not be done as asked.
struct Event {
  enum class Kind {
    cell_high,       ///< a BMS stopped charging: a group above its limit
    cell_low,        ///< a BMS stopped discharging: a group below its limit
    too_cold,        ///< a BMS stopped charging: a cell too cold
    too_hot,         ///< a BMS opened: a cell too hot
    over_current,    ///< a BMS opened: more than its current
    released,        ///< a BMS lets current pass again
    bus_low,         ///< the inverter stopped discharging
    bus_high,        ///< the inverter stopped charging
    bus_restart,     ///< the inverter discharges again
    charge_held,     ///< the charger holds its voltage: the current tapers
    charge_full,     ///< the tail current was reached: float from now on
    charge_again,    ///< the charger left float
    asked_too_much,  ///< more power was asked than the bank can give at any current
  } kind;
  double time_s = 0.0;
  int pack = -1;       ///< −1: the bank
  int group = -1;      ///< −1: the pack
  double value = 0.0;  ///< volts, °C, amperes or watts that were reached
};
/// The event in a few words.
[[nodiscard]] std::string words(const Event& event);

/// Everything that went in or out since the start, joules and ampere-seconds.
struct Book {
  double out_J = 0.0;   ///< at the bus, discharging positive
  double out_As = 0.0;  ///< at the bus
  double discharged_As = 0.0, charged_As = 0.0, discharged_J = 0.0, charged_J = 0.0;
  double cells_heat_J = 0.0;  ///< in the cells: I·(U − V)
  double path_heat_J = 0.0;   ///< in links, joints, BMS, fuses, leads and rails
  double bled_J = 0.0;        ///< in balancers
  double leaked_As = 0.0;     ///< summed over cells
  double bled_As = 0.0;       ///< likewise
};

/// Limits of the step: exact for the RC pairs at any length, but the curve's bends and the cells'
/// heat are followed step by step.
inline constexpr double longest_step_s = 120.0;

class Twin {
 public:
  /// Refuses with InputError: counts that do not fit, capacities or resistances that are not
  /// positive, charges outside 0…1.
  explicit Twin(const Setup& setup);
  Twin(Twin&&) = default;  // a copy's loops would work on the other's arrays
  Twin& operator=(Twin&&) = default;

  /// Length of the steps that follow, up to `longest_step_s`. Cheap; allocates nothing.
  void set_step(base::Seconds step);
  /// One step. No allocation but for events, no iteration but where a device opens a pack.
  void step(const Demand& demand, double room_C);

  [[nodiscard]] double time_s() const { return time_s_; }
  [[nodiscard]] double bus_V() const { return bus_V_; }
  [[nodiscard]] double bus_A() const { return bus_A_; }
  [[nodiscard]] double pack_A(int pack) const { return packs_[std::size_t(pack)].current_A; }
  [[nodiscard]] double group_V(int pack, int group) const {
    return group_V_[std::size_t(pack * stride_ + group)];
  }
  [[nodiscard]] double cell_V(int cell) const;
  [[nodiscard]] double cell_A(int cell) const;
  [[nodiscard]] double charge(int cell) const;
  [[nodiscard]] double temperature_C(int cell) const {
    return temperature_[kernel::width + slot(cell)];
  }
  /// Of all cells, weighted by their capacity.
  [[nodiscard]] double state_of_charge() const;
  /// Energy in the cells above empty: ∫U dq, by the curve exactly.
  [[nodiscard]] double stored_J() const;
  [[nodiscard]] const Book& book() const { return book_; }
  [[nodiscard]] const std::vector<Event>& events() const { return events_; }
  [[nodiscard]] bool charge_full() const { return full_; }
  [[nodiscard]] bool balancing() const { return bleeding_; }
  [[nodiscard]] int cells() const { return static_cast<int>(models_.size()); }
  [[nodiscard]] int packs() const { return packs_count_; }

  // What a rehearsal changes.
  void add_joint(int pack, int group, double Ohm, bool in_reading);
  void offset_reading(int pack, int group, double volts);
  void stick(int pack) { gates_[std::size_t(pack)].stuck = true; }
  void take_off(int pack, bool off) { gates_[std::size_t(pack)].off = off; }
  /// What the BMS reads of a group: with what its sense leads add.
  [[nodiscard]] double reading_V(int pack, int group) const;

 private:
  struct Gate {
    bool high = false, low = false, cold = false, hot = false;  ///< why it refuses
    bool stuck = false, off = false;
    [[nodiscard]] bool charges() const { return !high && !cold && !hot; }
    [[nodiscard]] bool discharges() const { return !low && !hot; }
    double high_s = 0.0, low_s = 0.0, current_s = 0.0;
  };
  struct At {
    std::size_t block, lane;
  };
  [[nodiscard]] At at(int cell) const { return at_[std::size_t(cell)]; }
  /// Of a cell among all lanes of all blocks.
  [[nodiscard]] std::size_t slot(int cell) const {
    return at(cell).block * kernel::width + at(cell).lane;
  }
  void lay_out();
  void warm();
  void find_sources();
  void solve(const Demand& demand);
  [[nodiscard]] double wanted(const Demand& demand, const wiring::RailSource& bus);
  void move_cells();
  void watch_packs();
  void watch_temperatures(int pack);
  void watch_bus();
  void balance();
  void note(Event::Kind kind, int pack, int group, double value);

  layout::Layout layout_;
  layout::Limits limits_;
  const kernel::Functions* functions_;
  int packs_count_, series_, parallel_;
  std::size_t blocks_of_member_;
  int stride_;  ///< groups from one pack to the next, whole blocks
  double tail_A_ = 0.0, leak_A_ = 0.0, step_s_ = 0.0, time_s_ = 0.0;
  double bus_V_ = 0.0, bus_A_ = 0.0;
  bool full_ = false, held_ = false, stopped_ = false, no_charge_ = false, bleeding_ = false;
  bool told_too_much_ = false, told_high_ = false;
  double bus_low_s_ = 0.0;

  std::vector<kernel::Block> blocks_;
  std::vector<double> curve_value_, curve_rise_;    ///< all curves, one behind the other
  std::vector<double> entropic_;                    ///< dU/dT at each interval of the curve
  std::vector<double> warmth_[3], warmth_rise_[3];  ///< factors of R0, R1, R2 by temperature
  std::vector<At> at_;
  std::vector<cell::Model> models_;
  std::vector<wiring::RailPack> packs_;
  std::vector<double> pack_path_Ohm_;  ///< of each pack: links, joints, BMS, fuse, leads of a star
  wiring::Rail rail_;
  std::vector<Gate> gates_;
  std::vector<double> pack_A_, cells_V_, lowest_V_, highest_V_, source_V_, resistance_Ohm_,
      coldest_C_, hottest_C_;
  kernel::Lanes group_E_, group_R_, group_V_, group_bleed_A_, group_offset_V_, group_joint_;
  Thermal thermal_;
  int row_ = 1;  ///< cells in a row
  // By slot; temperatures with a block's width before and behind.
  kernel::Lanes temperature_, next_C_, refreshed_C_, charge_then_, entropic_then_;
  kernel::Lanes before_W_K_, behind_W_K_, by_W_K_, decay_, capacity_As_, r0_, r1_, r2_;
  double room_C_ = 20.0, since_warm_s_ = 0.0, decay_dt_s_ = 0.0;
  kernel::Bank bank_ = {};
  Book book_;
  std::vector<Event> events_;
};

}  // namespace bank

// SPDX-License-Identifier: Apache-2.0
// The direct-current side as data: runs of cable between points, devices that stand in them; what
// each must carry, break and survive, and what does not.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "base/quantity.hpp"
#include "findings/finding.hpp"
#include "wiring/conductor.hpp"
#include "wiring/fuse.hpp"

namespace wiring {

enum class Point { pack, bus, inverter, charger, solar, earth };
[[nodiscard]] std::string_view name(Point point);

/// One pair of cables (an earth lead: one cable). A run from `pack` stands for every pack's own.
struct Run {
  std::string name;
  Point from = Point::bus, to = Point::inverter;
  double length_m = 2.0;           ///< one way
  std::optional<double> area_mm2;  ///< nothing: the smallest that does is proposed
  std::string awg;                 ///< as printed, where it is sold by gauge
  int conductor_class = 5;         ///< 2 stranded, 5 flexible
  Insulation insulation = Insulation::xlpe;
  Method method = Method::f;
  double ambient_C = 35.0;
  int circuits = 1;
  Grouping grouping = Grouping::bunched;
  double terminal_C = 75.0;         ///< what the terminals at its ends may reach
  std::optional<double> current_A;  ///< for ever; nothing: found from the bank's power
  std::optional<double> surge_A;    ///< for ten seconds
};

enum class DeviceKind {
  fuse,
  breaker,
  isolator,
  contactor,
  precharge,
  shunt,
  bms,
  inverter,
  charger,
  solar_controller
};
[[nodiscard]] std::string_view name(DeviceKind kind);

/// Ratings as they are printed for direct current; what is not printed is not known.
struct Device {
  std::string name;
  DeviceKind kind = DeviceKind::fuse;
  std::string at;  ///< name of the run it stands in
  std::optional<double> rated_A, rated_V, breaking_kA;
  FuseCurve curve = FuseCurve::unknown;
  std::optional<bool> polarised = {};  ///< a breaker that is marked for one way round
};

struct Circuit {
  std::vector<Run> runs;
  std::vector<Device> devices;
  bool devices_given = false;  ///< false: those that are needed, with no ratings known
};

/// runs.csv: `run,from,to,length_m` and, each with `usual`'s value where it is left out, area_mm2,
/// awg, class, insulation, method, ambient_C, circuits, grouping, terminal_C, current_A, surge_A.
/// Throws InputError with line and column: a word that is none of those known, a length that is not
/// above zero, a section that no table has, a gauge and a section that differ, air outside 10 to
/// 60 °C, a name given twice.
[[nodiscard]] std::vector<Run> read_runs(std::string_view bytes, const Run& usual);
/// devices.csv: `device,kind,at` and rated_A, rated_V_dc, breaking_kA_dc, curve, polarised (yes or
/// no). `at` must name one of `runs`.
[[nodiscard]] std::vector<Device> read_devices(std::string_view bytes,
                                               const std::vector<Run>& runs);
/// The same tables, that read back as they were.
[[nodiscard]] std::string write_runs(const std::vector<Run>& runs);
[[nodiscard]] std::string write_devices(const std::vector<Device>& devices);

/// What feeds the circuit.
struct Supply {
  int packs = 1;
  base::Volts max, just_charged, nearly_empty, nominal;  ///< of the bank
  base::Ohms pack_low;              ///< new, warm: cells, links and clean joints; no BMS, no lead
  base::Ohms pack_high;             ///< old, cold: everything but the leads
  base::Amps design;                ///< of the bank, for ever, at its worst
  base::Amps pack_worst;            ///< of one pack: its share, and one of several dropped out
  std::optional<base::Amps> surge;  ///< of the bank, for ten seconds
  base::Amps charge_max = {};       ///< that the bank's cells take; zero: not known
};

/// Largest and smallest current of a dead short that the device at a run's start may meet. The
/// largest right behind it, from new and warm cells; the smallest at the run's far end.
struct FaultRange {
  double high_A = 0.0, low_A = 0.0;
  int packs_high = 1;  ///< how many packs feed the largest
  /// Through the one fuse that guards the run: of a pack's own lead each pack passes its own fuse,
  /// and the lead carries what all the others send.
  double fuse_high_A = 0.0, fuse_low_A = 0.0;
  double lead_over_fuse = 1.0;
};

/// One check on a run, passed or not.
struct Check {
  std::string name;  ///< "current", "terminals", "fuse", "drop", "short circuit"
  double value = 0.0, limit = 0.0;
  std::string unit;
  bool at_most = true;  ///< the value must not exceed the limit; else must reach it
  [[nodiscard]] bool passed() const { return at_most ? value <= limit : value >= limit; }
};

struct RunResult {
  Run run;
  double area_mm2 = 0.0;  ///< given, of the gauge, or proposed
  bool proposed = false;
  std::string decided_by;  ///< the check that ruled out the next smaller section
  std::optional<double> current_A;
  double ampacity_A = 0.0;  ///< as installed; the terminals' limit is in it
  double drop_V = 0.0, drop_percent = 0.0, loss_W = 0.0;
  FaultRange fault;
  std::string protected_by;  ///< a device's name; empty: nothing
  double fuse_A = 0.0;
  std::optional<double> opens_low_s, opens_high_s;  ///< at the latest, at either end of the fault
  std::vector<Check> checks;
};

struct CircuitResult {
  Circuit circuit;
  std::vector<RunResult> runs;
  std::vector<findings::Finding> findings;
};

/// A quarter in hand over the current for ever, and a hundredth of the voltage for drop: common
/// practice, no source.
inline constexpr double continuous_factor = 1.25;
inline constexpr double cable_over_fuse = 1.10;  ///< [IEC60364-4-43] 433.1 for gG fuses
inline constexpr double largest_drop_percent = 1.0;

[[nodiscard]] CircuitResult check(const Circuit& circuit, const Supply& supply);

/// Where nothing is said of devices: a fuse for every pack and one for the run, an isolator, a
/// precharge, with ratings that do and nothing known of what is printed on them.
[[nodiscard]] std::vector<Device> usual_devices(const std::vector<Run>& runs, const Supply& supply);

}  // namespace wiring

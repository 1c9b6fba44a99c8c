// SPDX-License-Identifier: Apache-2.0
#include "wiring/circuit.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "base/figure.hpp"
#include "wiring/fault.hpp"

namespace wiring {
namespace {

namespace units = base::units;
using findings::Finding;
using findings::Severity;

constexpr std::string_view practice = "common practice, no source";
constexpr double stranding = 1.02;   // of a gauge, over the solid wire; from memory
constexpr double adiabatic_s = 5.0;  // [IEC60364-4-43] 434.5.2 holds up to here
constexpr double lug_mOhm = 0.05;    // a crimped lug on its stud; common practice, no source
constexpr double device_mOhm = 0.2;  // a fuse or switch; common practice, no source

double hot_C(Insulation insulation) { return insulation == Insulation::pvc ? 70.0 : 90.0; }

/// The table's section at or below this one: a gauge lies between two, and takes the smaller's.
double table_section(Method method, double area_mm2) {
  double best = 0.0;
  for (const double s : ampacity_sections_mm2(method))
    if (s <= area_mm2 * (1.0 + 1e-9)) best = std::max(best, s);
  return best;
}

/// What a run of this section may carry as it lies, with its terminals no hotter than they may be.
double carries_A(const Run& run, double area_mm2) {
  // The free-air table starts at 25 mm²; below it the table for a surface is the safe one.
  const Method method = area_mm2 < 25.0 ? Method::c : run.method;
  const auto a = ampacity(run.insulation, method, table_section(method, area_mm2),
                          base::Temperature::from_C(run.ambient_C), run.circuits, run.grouping);
  return a ? a->current.in(units::A) : 0.0;
}
double terminals_allow_A(const Run& run, double carries) {
  const double hot = hot_C(run.insulation);
  if (run.terminal_C >= hot) return carries;
  if (run.terminal_C <= run.ambient_C) return 0.0;
  return carries * std::sqrt((run.terminal_C - run.ambient_C) / (hot - run.ambient_C));
}

base::OhmsPerMetre resistance_of(const Run& run, double area_mm2, double at_C) {
  const auto table = table_resistance(Material::copper, run.conductor_class, area_mm2);
  const base::OhmsPerMetre cold =
      table ? *table : solid_resistance(Material::copper, area_mm2 * units::mm2) * stranding;
  return at_temperature(Material::copper, cold, base::Temperature::from_C(at_C));
}

/// Out and back, its lugs and what stands in it.
base::Ohms loop_of(const Run& run, double area_mm2, double at_C, std::size_t devices) {
  return resistance_of(run, area_mm2, at_C) * (2.0 * run.length_m * units::m) +
         (4.0 * lug_mOhm + device_mOhm * double(devices)) * units::mOhm;
}

bool protects(const Device& d) {
  return d.kind == DeviceKind::fuse || d.kind == DeviceKind::breaker;
}

/// k²S²: what the run's insulation survives, A²s.
double withstand_A2s(const Run& run, double area_mm2) {
  const bool pvc = run.insulation == Insulation::pvc;
  const double k = k_factor(Material::copper, base::Temperature::from_C(pvc ? 70.0 : 90.0),
                            base::Temperature::from_C(pvc ? 160.0 : 250.0));
  return k * k * area_mm2 * area_mm2;
}

class Checker {
 public:
  Checker(const Circuit& circuit, const Supply& supply) : supply_(supply) {
    result_.circuit = circuit;
  }

  CircuitResult run() {
    const Circuit& c = result_.circuit;
    // Packs' own runs first: the others' faults pass through them.
    for (const bool packs : {true, false})
      for (const Run& r : c.runs)
        if ((r.from == Point::pack) == packs && r.to != Point::earth) check_run(r);
    const auto order = [&](const RunResult& x) {
      return std::find_if(c.runs.begin(), c.runs.end(),
                          [&](const Run& r) { return r.name == x.run.name; }) -
             c.runs.begin();
    };
    std::sort(result_.runs.begin(), result_.runs.end(),
              [&](const RunResult& a, const RunResult& b) { return order(a) < order(b); });
    for (const Device& d : c.devices) check_device(d);
    check_whole();
    return std::move(result_);
  }

 private:
  void found(Finding f) { result_.findings.push_back(std::move(f)); }

  [[nodiscard]] std::vector<const Device*> devices_in(const Run& run) const {
    std::vector<const Device*> list;
    for (const Device& d : result_.circuit.devices)
      if (d.at == run.name) list.push_back(&d);
    return list;
  }
  /// The smallest fuse or breaker in the run: what ends a lasting overload.
  [[nodiscard]] const Device* guard_of(const Run& run) const {
    const Device* best = nullptr;
    for (const Device* d : devices_in(run))
      if (protects(*d) &&
          (best == nullptr || d->rated_A.value_or(1e9) < best->rated_A.value_or(1e9)))
        best = d;
    return best;
  }

  [[nodiscard]] std::ptrdiff_t inverters() const {
    return std::max<std::ptrdiff_t>(
        1, std::count_if(result_.circuit.runs.begin(), result_.circuit.runs.end(),
                         [](const Run& r) { return r.to == Point::inverter; }));
  }
  /// What all inverters draw together, or all chargers and the sun give.
  [[nodiscard]] double drawn_A() const {
    double sum = 0.0;
    for (const Run& r : result_.circuit.runs)
      if (r.to == Point::inverter) sum += current_of(r).value_or(0.0);
    return std::max(sum, supply_.design.si());
  }
  [[nodiscard]] double charged_A() const {
    double sum = 0.0;
    for (const Run& r : result_.circuit.runs)
      if (r.to == Point::charger || r.to == Point::solar) sum += current_of(r).value_or(0.0);
    return sum;
  }
  /// A pack's worst share of a current of the whole bank.
  [[nodiscard]] double pack_share(double bank_A) const {
    return supply_.design.si() > 0.0 ? bank_A * supply_.pack_worst.si() / supply_.design.si() : 0.0;
  }

  [[nodiscard]] std::optional<double> current_of(const Run& run) const {
    if (run.current_A) return run.current_A;
    if (run.from == Point::pack) return pack_share(std::max(drawn_A(), charged_A()));
    if (run.to == Point::inverter) return supply_.design.si() / double(inverters());
    for (const Device* d : devices_in(run))
      if ((d->kind == DeviceKind::charger || d->kind == DeviceKind::solar_controller) && d->rated_A)
        return d->rated_A;
    return std::nullopt;
  }

  [[nodiscard]] FaultRange fault_of(const Run& run, double area_mm2) const {
    FaultRange f;
    const double n = supply_.packs;
    if (run.from == Point::pack) {
      f.packs_high = packs_met_by_pack_fuse(supply_.packs);
      f.high_A = f.packs_high * (supply_.just_charged / supply_.pack_low).si();
      const base::Ohms loop = supply_.pack_high + loop_of(run, area_mm2, hot_C(run.insulation), 0);
      f.low_A = (supply_.nearly_empty / loop).si();
      f.fuse_high_A = (supply_.just_charged / supply_.pack_low).si();
      f.fuse_low_A = f.low_A;
      f.lead_over_fuse = std::max(1, supply_.packs - 1);
    } else {
      f.packs_high = supply_.packs;
      f.high_A = n * (supply_.just_charged / supply_.pack_low).si();
      const base::Ohms source = (supply_.pack_high + pack_lead_high_) / n;
      f.low_A = (supply_.nearly_empty /
                 (source + loop_of(run, area_mm2, hot_C(run.insulation), devices_in(run).size())))
                    .si();
      f.fuse_high_A = f.high_A, f.fuse_low_A = f.low_A;
    }
    return f;
  }

  /// Everything about a run with this section.
  [[nodiscard]] RunResult with_section(const Run& run, double area_mm2) const {
    RunResult r;
    r.run = run;
    r.area_mm2 = area_mm2;
    r.current_A = current_of(run);
    const double carries = carries_A(run, area_mm2);
    r.ampacity_A = terminals_allow_A(run, carries);
    r.fault = fault_of(run, area_mm2);
    if (r.current_A) {
      const Drop drop = pair_drop(resistance_of(run, area_mm2, hot_C(run.insulation)),
                                  run.length_m * units::m, *r.current_A * units::A);
      r.drop_V = drop.drop.si();
      r.loss_W = drop.loss.si();
      r.drop_percent = 100.0 * r.drop_V / supply_.nominal.si();
      r.checks.push_back({"current", carries, continuous_factor * *r.current_A, "A", false});
      if (run.terminal_C < hot_C(run.insulation))
        r.checks.push_back(
            {"terminals", r.ampacity_A, continuous_factor * *r.current_A, "A", false});
      // What a pack's own lead drops comes before it.
      const double before = run.to == Point::inverter ? pack_lead_drop_percent_ : 0.0;
      r.checks.push_back({"drop", r.drop_percent + before, largest_drop_percent, "%", true});
    }
    const Device* guard = guard_of(run);
    if (guard == nullptr) return r;
    r.protected_by = guard->name;
    if (!guard->rated_A) return r;
    r.fuse_A = *guard->rated_A;
    r.checks.push_back({"fuse", r.ampacity_A, cable_over_fuse * r.fuse_A, "A", false});
    if (guard->curve != FuseCurve::gg) return r;
    const double withstands = withstand_A2s(run, area_mm2);
    double worst = 0.0;
    for (const bool high : {true, false}) {
      const double I = high ? r.fault.fuse_high_A : r.fault.fuse_low_A;
      const auto t = opening_time(r.fuse_A * units::A, I * units::A);
      if (!t || !t->latest_s) continue;
      (high ? r.opens_high_s : r.opens_low_s) = t->latest_s;
      // Beyond five seconds heat leaves the cable meanwhile; that the fuse is too slow is said
      // apart.
      if (*t->latest_s <= adiabatic_s)
        worst = std::max(worst, *let_through_A2s(r.fuse_A * units::A, I * units::A) *
                                    r.fault.lead_over_fuse * r.fault.lead_over_fuse);
    }
    if (worst > 0.0) r.checks.push_back({"short circuit", worst, withstands, "A²s", true});
    return r;
  }

  void check_run(const Run& run) {
    std::optional<RunResult> chosen;
    if (run.area_mm2) {
      chosen = with_section(run, *run.area_mm2);
    } else {
      std::string ruled_out_by;
      for (const double area : ampacity_sections_mm2(Method::c)) {
        RunResult r = with_section(run, area);
        const auto failed = std::find_if(r.checks.begin(), r.checks.end(),
                                         [](const Check& c) { return !c.passed(); });
        r.proposed = true;
        r.decided_by = ruled_out_by;
        const bool passes = failed == r.checks.end();
        if (!passes) ruled_out_by = failed->name;
        chosen = std::move(r);
        if (passes) break;
      }
    }
    if (run.from == Point::pack) {
      pack_lead_high_ = loop_of(run, chosen->area_mm2, hot_C(run.insulation), 0);
      pack_lead_drop_percent_ = std::max(pack_lead_drop_percent_, chosen->drop_percent);
    }
    tell(*chosen);
    result_.runs.push_back(std::move(*chosen));
  }

  void tell(const RunResult& r) {
    const std::string where = "run " + r.run.name;
    if (!r.current_A)
      found({.id = findings::Id::run_cannot_be_checked,
             .severity = Severity::caution,
             .what = fmt::format("Nobody said what {} must carry.", where),
             .where = where,
             .why = "Without a current neither its section nor its drop can be checked.",
             .remedy = "Write current_A of the run, or rated_A of the device at its end.",
             .basis = "runs.csv, devices.csv"});
    if (r.ampacity_A <= 0.0 && r.run.terminal_C <= r.run.ambient_C)
      found(
          {.id = findings::Id::terminals_too_hot,
           .severity = Severity::stop,
           .what = fmt::format("The air around {} is as warm as its terminals may become.", where),
           .where = where,
           .measured = fmt::format("{:g} °C", r.run.ambient_C),
           .limit = fmt::format("{:g} °C", r.run.terminal_C),
           .why = "It may carry nothing.",
           .remedy = "A cooler place, or devices with terminals for more.",
           .basis = "[IEC60364-5-52] annex B"});
    else if (r.ampacity_A <= 0.0)
      found({.id = findings::Id::run_cannot_be_checked,
             .severity = Severity::caution,
             .what = fmt::format("No table says what {:g} mm² may carry as {} lies.", r.area_mm2,
                                 where),
             .where = where,
             .why = "A cable that cannot be checked may be too thin.",
             .remedy = "Use a section and a way of laying that the tables have, or its own sheet.",
             .basis = "[IEC60364-5-52] annex B"});
    for (const Check& c : r.checks) {
      if (c.passed()) continue;
      const std::string measured = fmt::format("{} {}", base::significant(c.value, 3), c.unit),
                        limit = fmt::format("{} {}{}", c.at_most ? "at most" : "at least",
                                            base::significant(c.limit, 3), " " + c.unit);
      if (c.name == "current" || c.name == "terminals") {
        const bool terminals = c.name == "terminals";
        // The terminals' check is the harder one wherever there is one.
        if (!terminals && std::any_of(r.checks.begin(), r.checks.end(), [](const Check& o) {
              return o.name == "terminals" && !o.passed();
            }))
          continue;
        found(
            {.id = terminals ? findings::Id::terminals_too_hot : findings::Id::conductor_too_small,
             .severity = c.value < *r.current_A ? Severity::stop : Severity::caution,
             .what = terminals
                         ? fmt::format("At its current {} heats terminals above {:g} °C.", where,
                                       r.run.terminal_C)
                         : fmt::format("{:g} mm² in {} carries its current without a quarter in "
                                       "hand.",
                                       r.area_mm2, where),
             .where = where,
             .measured = measured,
             .limit = limit,
             .why = "Insulation ages and burns.",
             .remedy = "A larger section, two runs side by side, or a higher bus voltage.",
             .basis = "[IEC60364-5-52]; the quarter is common practice, no source"});
      } else if (c.name == "fuse") {
        found({.id = findings::Id::fuse_above_cable,
               .severity = r.ampacity_A < r.fuse_A ? Severity::stop : Severity::caution,
               .what = fmt::format("{} does not protect {} against a lasting overload.",
                                   r.protected_by, where),
               .where = where,
               .measured = fmt::format("{:.0f} A cable, {:.0f} A fuse", r.ampacity_A, r.fuse_A),
               .limit = fmt::format("a cable for {:.0f} A", c.limit),
               .why = "A gG fuse may carry 1.6 times its rating for an hour or more (from memory).",
               .remedy = "A larger section, or a smaller fuse.",
               .basis = "[IEC60364-4-43] 433.1, In ≤ Iz / 1.1"});
      } else if (c.name == "drop") {
        found(
            {.id = findings::Id::drop_too_large,
             .severity = Severity::caution,
             .what = fmt::format("{} drops more than a hundredth of the voltage.", where),
             .where = where,
             .measured = measured,
             .limit = limit,
             .why = "It is heat, and the device at its end stops and charges at the wrong voltage.",
             .remedy = "A larger section or a shorter way.",
             .basis = std::string(practice)});
      } else {
        found({.id = findings::Id::cable_burns_first,
               .severity = Severity::stop,
               .what = fmt::format("{} burns before {} opens on a short.", where, r.protected_by),
               .where = where,
               .measured = measured,
               .limit = limit,
               .why = "The insulation fails, and the arc goes on where the cable lies.",
               .remedy = "A smaller or faster fuse, or a larger section.",
               .basis = "[IEC60364-4-43] 434.5.2; gates of [IEC60269-1] from memory"});
      }
    }
    if (r.protected_by.empty()) {
      found({.id = r.run.from == Point::pack ? findings::Id::no_pack_fuse
                                             : findings::Id::unprotected_run,
             .severity = Severity::stop,
             .what = r.run.from == Point::pack
                         ? std::string("No fuse stands in the packs' own leads.")
                         : fmt::format("No fuse or breaker stands in {}.", where),
             .where = where,
             .why = "A short burns until something melts; each pack feeds the other packs' faults.",
             .remedy = "A fuse next to where the run begins, before any lead leaves.",
             .basis = std::string(practice)});
      return;
    }
    const auto guard = std::find_if(result_.circuit.devices.begin(), result_.circuit.devices.end(),
                                    [&](const Device& d) { return d.name == r.protected_by; });
    if (r.fuse_A <= 0.0) return;
    if (guard->curve == FuseCurve::gg) {
      if (!fuse_gate(r.fuse_A * units::A))
        found({.id = findings::Id::curve_not_known,
               .severity = Severity::note,
               .what = fmt::format("{:g} A is none of the ratings of gG fuses.", r.fuse_A),
               .where = r.protected_by,
               .why = "Whether it opens in time cannot be reckoned.",
               .remedy = "Hold both fault currents against its maker's curve.",
               .basis = "[IEC60269-1] from memory"});
      else if (!r.opens_low_s || *r.opens_low_s > adiabatic_s)
        found({.id = findings::Id::fuse_may_not_clear,
               .severity = Severity::caution,
               .what = fmt::format(
                   "At the weak end {} takes {} to open.", r.protected_by,
                   r.opens_low_s ? fmt::format("up to {} s", base::significant(*r.opens_low_s, 2))
                                 : std::string("for ever")),
               .where = where,
               .measured = fmt::format("{:.0f} A for a {:.0f} A fuse", r.fault.low_A, r.fuse_A),
               .limit = fmt::format("{:.0f} s", adiabatic_s),
               .why = "The cable may burn before the fuse opens.",
               .remedy = "A smaller or faster fuse, shorter leads, or a thicker cable.",
               .basis = "gates of [IEC60269-1], from memory"});
    } else if (result_.circuit.devices_given) {
      found({.id = findings::Id::curve_not_known,
             .severity = Severity::note,
             .what = fmt::format("The curve of {} is not known here.", r.protected_by),
             .where = r.protected_by,
             .measured = fmt::format("{:.0f} A to {:.0f} kA", r.fault.low_A, r.fault.high_A / 1e3),
             .why = "Whether it opens before the cable burns cannot be reckoned.",
             .remedy = fmt::format(
                 "Hold {:.0f} A against its maker's curve: below five seconds; and its let-through "
                 "I²t against {} A²s.",
                 r.fault.low_A, base::significant(withstand_A2s(r.run, r.area_mm2), 2)),
             .basis = std::string(practice)});
    }
    if (r.current_A && r.fuse_A < continuous_factor * *r.current_A * (1.0 - 1e-9))
      found({.id = findings::Id::fuse_carries_too_little,
             .severity = r.fuse_A < *r.current_A ? Severity::stop : Severity::caution,
             .what = fmt::format("{} carries its run's current without a quarter in hand.",
                                 r.protected_by),
             .where = where,
             .measured = fmt::format("{:.0f} A fuse for {:.0f} A", r.fuse_A, *r.current_A),
             .limit = fmt::format("{:.0f} A", continuous_factor * *r.current_A),
             .why = "It ages, warms its neighbours and opens when it is not wanted.",
             .remedy = "The next larger rating, if the cable allows it, or less power.",
             .basis = std::string(practice)});
    const double bank_A = supply_.surge ? supply_.surge->si() : 0.0;
    const double surge_A =
        r.run.surge_A.value_or(r.run.from == Point::pack     ? pack_share(bank_A)
                               : r.run.to == Point::inverter ? bank_A / double(inverters())
                                                             : 0.0);
    if (const auto gate = fuse_gate(r.fuse_A * units::A);
        gate && guard->curve == FuseCurve::gg && surge_A > gate->carries_10s_A)
      found({.id = findings::Id::fuse_opens_on_surge,
             .severity = Severity::caution,
             .what = fmt::format("{} may open on a surge of ten seconds.", r.protected_by),
             .where = where,
             .measured = fmt::format("{:.0f} A", surge_A),
             .limit = fmt::format("{:.0f} A", gate->carries_10s_A),
             .why = "The house goes dark when a large motor starts.",
             .remedy = "A larger rating, if the cable allows it.",
             .basis = "gates of [IEC60269-1], from memory"});
  }

  void check_device(const Device& d) {
    const auto r = std::find_if(result_.runs.begin(), result_.runs.end(),
                                [&](const RunResult& x) { return x.run.name == d.at; });
    if (r == result_.runs.end()) {
      found({.id = findings::Id::device_in_earth,
             .severity = Severity::stop,
             .what = fmt::format("{} stands in the earth lead.", d.name),
             .where = d.name,
             .measured = "",
             .limit = "",
             .why = "An earth that can be opened protects nobody.",
             .remedy = "Take it out; nothing stands in a protective conductor.",
             .basis = std::string(practice)});
      return;
    }
    const bool breaks = protects(d);
    const bool switches =
        breaks || d.kind == DeviceKind::isolator || d.kind == DeviceKind::contactor;
    if (!switches && d.kind != DeviceKind::bms && d.kind != DeviceKind::shunt) return;
    if (!result_.circuit.devices_given) return;  // one finding says it for all
    std::string missing;
    const auto lacks = [&](bool is, std::string_view what) {
      if (is) missing += (missing.empty() ? "" : ", ") + std::string(what);
    };
    lacks(!d.rated_A, "amperes");
    lacks(switches && !d.rated_V, "volts direct current");
    lacks(breaks && !d.breaking_kA, "kiloamperes it breaks on direct current");
    const double needs_kA = r->fault.high_A / 1000.0;
    if (!missing.empty())
      found({.id = breaks && !d.breaking_kA ? findings::Id::fuse_breaking_capacity_unknown
                                            : findings::Id::device_rating_unknown,
             .severity = Severity::caution,
             .what = fmt::format("{}: nobody said what is printed on it: {}.", d.name, missing),
             .where = d.name,
             .limit = breaks ? fmt::format("{:.1f} kA direct current at {:.1f} V", needs_kA,
                                           supply_.max.si())
                             : fmt::format("{:.1f} V direct current", supply_.max.si()),
             .why = "The check cannot be made. Only a rating printed for direct current counts.",
             .remedy = "Read it off the part and write it into devices.csv.",
             .basis = "[IEC60269-1] breaking capacity"});
    if (breaks && d.breaking_kA && *d.breaking_kA < needs_kA)
      found({.id = findings::Id::fuse_cannot_break,
             .severity = Severity::stop,
             .what = fmt::format("{} cannot break what it may meet.", d.name),
             .where = d.name,
             .measured = fmt::format("{:g} kA", *d.breaking_kA),
             .limit = fmt::format("{:.1f} kA from {} pack{} just charged", needs_kA,
                                  r->fault.packs_high, r->fault.packs_high == 1 ? "" : "s"),
             .why = "A device that cannot break the fault current bursts and the arc goes on.",
             .remedy = "Take one with a higher direct-current breaking capacity.",
             .basis = "[IEC60269-1] breaking capacity"});
    if (switches && d.rated_V && *d.rated_V < supply_.max.si())
      found({.id = findings::Id::device_voltage_too_low,
             .severity = Severity::stop,
             .what = fmt::format("{} is rated below what the bank can reach.", d.name),
             .where = d.name,
             .measured = fmt::format("{:g} V", *d.rated_V),
             .limit = fmt::format("{:.1f} V", supply_.max.si()),
             .why = "Above its rating it may not put the arc out.",
             .remedy = "Take one that is rated for more, direct current.",
             .basis = "[IEC60269-1] rated voltage"});
    if (d.kind == DeviceKind::breaker && !d.polarised)
      found({.id = findings::Id::polarity_unknown,
             .severity = Severity::caution,
             .what = fmt::format("{}: nobody said whether it is marked for one way round.", d.name),
             .where = d.name,
             .why = "A breaker that is polarised cannot put the arc out against its marking.",
             .remedy = "Look for a plus or an arrow on it, and write polarised: yes or no.",
             .basis = std::string(practice)});
    else if (switches && d.polarised.value_or(false))
      found({.id = findings::Id::breaker_polarised,
             .severity = Severity::stop,
             .what = fmt::format("{} is marked for one way round.", d.name),
             .where = d.name,
             .why = "Charge, load and a short from the bank run both ways through it; against its "
                    "marking it cannot put the arc out, and burns.",
             .remedy = "Take one without polarity, or a fuse.",
             .basis = std::string(practice)});
    if (switches && !breaks && d.rated_A && r->fuse_A > *d.rated_A)
      found({.id = findings::Id::device_below_fuse,
             .severity = Severity::caution,
             .what = fmt::format("{} is rated below the fuse in its run.", d.name),
             .where = d.name,
             .measured = fmt::format("{:g} A", *d.rated_A),
             .limit = fmt::format("{:.0f} A", r->fuse_A),
             .why = "The fuse lets through for hours what it may not carry.",
             .remedy = "Take one that is rated for the fuse's current or more.",
             .basis = std::string(practice)});
    if (!breaks && d.rated_A && r->current_A && *d.rated_A < *r->current_A)
      found({.id = findings::Id::device_carries_too_little,
             .severity = Severity::stop,
             .what = fmt::format("{} is rated below its run's current.", d.name),
             .where = d.name,
             .measured = fmt::format("{:g} A", *d.rated_A),
             .limit = fmt::format("{:.0f} A", *r->current_A),
             .why = "It burns.",
             .remedy = "Take one that is rated for more.",
             .basis = std::string(practice)});
  }

  void check_whole() {
    const Circuit& c = result_.circuit;
    const auto runs = [&](auto is) { return std::count_if(c.runs.begin(), c.runs.end(), is); };
    const auto whole = [&](findings::Id id, Severity severity, std::string what,
                           std::string measured, std::string limit, std::string why,
                           std::string remedy) {
      found({.id = id,
             .severity = severity,
             .what = std::move(what),
             .where = "runs.csv",
             .measured = std::move(measured),
             .limit = std::move(limit),
             .why = std::move(why),
             .remedy = std::move(remedy),
             .basis = std::string(practice)});
    };
    if (runs([](const Run& r) { return r.from == Point::pack; }) == 0)
      whole(findings::Id::no_pack_run, Severity::stop, "No run leads from the packs to the bus.",
            "", "", "The packs' own leads and fuses cannot be checked.",
            "Add a row from pack to bus, and its fuse to devices.csv.");
    if (runs([](const Run& r) { return r.to == Point::inverter; }) == 0)
      whole(findings::Id::no_inverter_run, Severity::stop,
            "No run leads from the bus to an inverter.", "", "",
            "What carries the bank's current cannot be checked.",
            "Add a row from bus to inverter.");
    double least = 1e300, most = 0.0;
    for (const RunResult& r : result_.runs)
      if (r.run.from == Point::pack) {
        const double ohm = loop_of(r.run, r.area_mm2, 20.0, 0).si();
        least = std::min(least, ohm), most = std::max(most, ohm);
      }
    if (most > 1.1 * least && least < 1e299)
      whole(findings::Id::unequal_leads, Severity::caution, "The packs' own leads are not alike.",
            fmt::format("{} and {} mΩ", base::significant(least * 1e3, 2),
                        base::significant(most * 1e3, 2)),
            "within a tenth", "The pack with the shorter leads carries more, and ages first.",
            "Leads of one length and section for every pack.");
    if (drawn_A() > 1.001 * supply_.design.si())
      whole(findings::Id::loads_above_design, Severity::stop,
            "The inverters' runs draw more than the bank was designed for.",
            fmt::format("{:.0f} A", drawn_A()), fmt::format("{:.0f} A", supply_.design.si()),
            "Packs, fuses and leads are sized for less.",
            "Correct current_A of the runs, or [bus] power_W.");
    if (supply_.charge_max.si() > 0.0 && charged_A() > supply_.charge_max.si())
      whole(findings::Id::charge_above_cells, Severity::stop,
            "Chargers and sun together give more than the cells may take.",
            fmt::format("{:.0f} A", charged_A()), fmt::format("{:.0f} A", supply_.charge_max.si()),
            "Cells age and plate lithium, and the BMS opens under full charge.",
            "Limit the chargers' currents together, or more packs.");
    if (runs([](const Run& r) { return r.to == Point::earth; }) > 0)
      found({.id = findings::Id::earth_not_checked,
             .severity = Severity::note,
             .what = "The earth lead is drawn, but not checked.",
             .where = "runs.csv",
             .measured = "",
             .limit = "",
             .why = "Section, and whether a pole is earthed at all, is what local codes and the "
                    "inverter's sheet say.",
             .remedy = "Have a licensed electrician decide it.",
             .basis = "local codes"});
    if (!c.devices_given) return;
    for (const Run& r : c.runs) {
      if (r.to != Point::inverter) continue;
      const auto in = devices_in(r);
      const auto has = [&](std::initializer_list<DeviceKind> kinds) {
        return std::any_of(in.begin(), in.end(), [&](const Device* d) {
          return std::find(kinds.begin(), kinds.end(), d->kind) != kinds.end();
        });
      };
      if (!has({DeviceKind::isolator, DeviceKind::breaker}))
        found(
            {.id = findings::Id::no_isolator,
             .severity = Severity::caution,
             .what = "Nothing takes the bank off by hand.",
             .where = "run " + r.name,
             .measured = "",
             .limit = "",
             .why = "Nobody can work on it, and nobody else can shut it down.",
             .remedy = "A load-break isolator for direct current within reach, marked on the card.",
             .basis = std::string(practice)});
      if (!has({DeviceKind::precharge}))
        found({.id = findings::Id::no_precharge,
               .severity = Severity::caution,
               .what = "Nothing fills the inverter's capacitors before they are joined.",
               .where = "run " + r.name,
               .measured = "",
               .limit = "",
               .why = "Every time a spark eats the contacts of switches and BMS.",
               .remedy = "A precharge resistor with its own switch, or in the BMS or contactor.",
               .basis = std::string(practice)});
    }
    for (const RunResult& r : result_.runs) {
      const auto in = devices_in(r.run);
      const bool opens = std::any_of(in.begin(), in.end(), [](const Device* d) {
        return d->kind == DeviceKind::isolator || d->kind == DeviceKind::breaker;
      });
      if (r.run.to == Point::solar && !opens)
        found(
            {.id = findings::Id::no_solar_isolator,
             .severity = Severity::caution,
             .what = "Nothing takes the solar controller off by hand.",
             .where = "run " + r.run.name,
             .why = "It stays live in daylight, and goes on charging what is to be shut down.",
             .remedy = "A load-break isolator for direct current within reach, marked on the card.",
             .basis = std::string(practice)});
    }
    // A pack's fuse and the one behind the bus, where packs stand in parallel.
    for (const RunResult& pack : result_.runs)
      for (const RunResult& main : result_.runs) {
        if (supply_.packs < 2 || pack.run.from != Point::pack || main.run.to != Point::inverter ||
            pack.fuse_A <= 0.0 || main.fuse_A <= 0.0)
          continue;
        // A fault behind the main fuse draws from every pack: each pack's fuse sees its share.
        if (!selective(main.fuse_A * units::A, double(supply_.packs) * pack.fuse_A * units::A))
          found({.id = findings::Id::fuses_not_selective,
                 .severity = Severity::note,
                 .what = "On a fault behind it the main fuse may not be the first to open.",
                 .where = main.protected_by,
                 .measured = fmt::format("{} × {:.0f} A before {:.0f} A", supply_.packs,
                                         pack.fuse_A, main.fuse_A),
                 .limit = "1.6 to 1",
                 .why = "The packs' fuses would open with it, and all must be replaced.",
                 .remedy = "Packs' fuses that together stand 1.6 times above the main one.",
                 .basis = "[IEC60269-1] discrimination of gG fuses, from memory"});
      }
  }

  Supply supply_;
  CircuitResult result_;
  base::Ohms pack_lead_high_ = {};
  double pack_lead_drop_percent_ = 0.0;
};

}  // namespace

CircuitResult check(const Circuit& circuit, const Supply& supply) {
  return Checker(circuit, supply).run();
}

std::vector<Device> usual_devices(const std::vector<Run>& runs, const Supply& supply) {
  std::vector<Device> devices;
  const auto add = [&](std::string name, DeviceKind kind, const Run& run,
                       std::optional<double> rated_A) {
    devices.push_back({.name = std::move(name),
                       .kind = kind,
                       .at = run.name,
                       .rated_A = rated_A,
                       .rated_V = {},
                       .breaking_kA = {},
                       .curve = kind == DeviceKind::fuse ? FuseCurve::gg : FuseCurve::unknown});
  };
  const auto fuse_for = [](base::Amps current) -> std::optional<double> {
    const double A = smallest_fuse_for(current * continuous_factor).in(units::A);
    return A > 0.0 ? std::optional(A) : std::nullopt;
  };
  for (const Run& run : runs) {
    if (run.from == Point::pack) {
      add("pack fuse", DeviceKind::fuse, run, fuse_for(supply.pack_worst));
      add("BMS", DeviceKind::bms, run, {});
    } else if (run.to == Point::inverter) {
      const auto inverters = std::count_if(runs.begin(), runs.end(),
                                           [](const Run& r) { return r.to == Point::inverter; });
      const base::Amps current =
          run.current_A ? *run.current_A * units::A : supply.design / double(inverters);
      add("isolator", DeviceKind::isolator, run, {});
      add(run.name + " fuse", DeviceKind::fuse, run, fuse_for(current));
      add("precharge", DeviceKind::precharge, run, {});
    } else if (run.to != Point::earth && run.current_A) {
      add(run.name + " fuse", DeviceKind::fuse, run, fuse_for(*run.current_A * units::A));
    }
  }
  return devices;
}

}  // namespace wiring

// SPDX-License-Identifier: Apache-2.0
#include "bank/rehearsal.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "base/check.hpp"
#include "base/figure.hpp"
#include "wiring/fuse.hpp"

namespace bank {
namespace {

namespace units = base::units;
using findings::Severity;
using EventKind = Event::Kind;

constexpr int faulty_group = 4;  // the fifth of the first pack, or the last where there are fewer

int group_of(const Setup& s) { return std::min(faulty_group, s.layout.series - 1); }
int cell_of(const Setup& s) { return group_of(s) * s.layout.parallel; }
std::string group_name(const Setup& s) { return fmt::format("A-{:02}", group_of(s) + 1); }

/// Writes down what a person could read, every so many steps.
class Recorder {
 public:
  Recorder(Rehearsal& r, std::vector<Trace> traces) : r_(r) { r_.traces = std::move(traces); }
  void at(double time_s, std::initializer_list<double> values) {
    r_.times_s.push_back(time_s);
    std::size_t i = 0;
    for (const double v : values) r_.traces[i++].values.push_back(v);
  }

 private:
  Rehearsal& r_;
};

double lowest_reading(const Twin& t, int pack, int series) {
  double low = 1e300;
  for (int g = 0; g < series; ++g) low = std::min(low, t.reading_V(pack, g));
  return low;
}
double highest_reading(const Twin& t, int pack, int series) {
  double high = -1e300;
  for (int g = 0; g < series; ++g) high = std::max(high, t.reading_V(pack, g));
  return high;
}

/// The first event that ended something since the fault began.
void take_catch(Rehearsal& r, const Twin& twin, double began_s) {
  for (const Event& e : twin.events()) {
    if (e.time_s < began_s || e.kind == EventKind::released || e.kind == EventKind::charge_held ||
        e.kind == EventKind::charge_full || e.kind == EventKind::charge_again ||
        e.kind == EventKind::bus_restart)
      continue;
    r.caught_by = words(e) + " (" + place_of(e) + ")";
    r.caught_s = e.time_s - began_s;
    return;
  }
  r.caught_by = "nothing";
}

void conclude(Rehearsal& r, Severity severity, std::string what, std::string where,
              std::string measured, std::string why, std::string remedy) {
  r.finding.severity = severity;
  r.finding.what = std::move(what);
  r.finding.where = std::move(where);
  r.finding.measured = std::move(measured);
  r.finding.why = std::move(why);
  r.finding.remedy = std::move(remedy);
  r.finding.basis =
      "the twin (docs/models/bank.md); pattern of evidence: common practice, no source";
}

void all_charged_to(Setup& s, double charge) {
  std::fill(s.start_charge.begin(), s.start_charge.end(), charge);
}

void loose_joint(Rehearsal& r, const RehearsalInput& in) {
  Setup s = in.setup;
  all_charged_to(s, 0.7);
  Twin twin(s);
  const int g = group_of(s);
  Recorder record(r, {{"reading of the group", "V", {}},
                      {"mean of the other groups", "V", {}},
                      {"heat in the joint", "W", {}}});
  double joint = 0.0, worst_W = 0.0, worst_dV = 0.0, rest_dV = 0.0;
  for (int m = 0; m < 120; ++m) {
    const bool rest = m >= 90;
    if (m >= 20 && m < 90) twin.add_joint(0, g, 2e-5, true), joint += 2e-5;
    twin.step({Demand::Kind::power, rest ? 0.0 : in.power_W}, in.room_C);
    double others = 0.0;
    for (int k = 0; k < s.layout.series; ++k)
      if (k != g) others += twin.reading_V(0, k) / (s.layout.series - 1);
    const double I = twin.pack_A(0), W = I * I * joint;
    record.at(twin.time_s(), {twin.reading_V(0, g), others, W});
    if (W > worst_W) worst_W = W, worst_dV = others - twin.reading_V(0, g);
    if (rest) rest_dV = others - twin.reading_V(0, g);
  }
  take_catch(r, twin, 20 * 60.0);
  r.seen = fmt::format(
      "Under load {} reads {:.0f} mV below the others; as soon as the current stops the difference "
      "is {:.0f} mV. {:.1f} mΩ turn {:.0f} W into heat in one joint.",
      group_name(s), worst_dV * 1e3, rest_dV * 1e3, joint * 1e3, worst_W);
  conclude(r, Severity::caution, "A loose joint sags with the current and vanishes at rest.",
           group_name(s),
           fmt::format("{:.0f} mV at load, {:.0f} mV at rest", worst_dV * 1e3, rest_dV * 1e3),
           "It heats, loosens further and can start a fire long before a voltage limit acts.",
           "Measure millivolts across each bar at a known current; take the bank out of service "
           "before touching it.");
}

void broken_lead(Rehearsal& r, const RehearsalInput& in) {
  Setup s = in.setup;
  all_charged_to(s, 0.6);
  Twin twin(s);
  const int g = std::min(group_of(s), std::max(0, s.layout.series - 2));
  const bool neighbour = s.layout.series > 1;
  Recorder record(r, {{"reading of the group", "V", {}},
                      {"reading of its neighbour", "V", {}},
                      {"half of both together", "V", {}}});
  for (int m = 0; m < 40; ++m) {
    if (m == 10) {
      twin.offset_reading(0, g, 0.55);
      if (neighbour) twin.offset_reading(0, g + 1, -0.55);
    }
    twin.step({Demand::Kind::power, -0.3 * in.power_W}, in.room_C);
    const double a = twin.reading_V(0, g), b = neighbour ? twin.reading_V(0, g + 1) : a;
    record.at(twin.time_s(), {a, b, 0.5 * (a + b)});
  }
  take_catch(r, twin, 600.0);
  const double a = twin.reading_V(0, g), b = neighbour ? twin.reading_V(0, g + 1) : a;
  r.seen =
      fmt::format("One group reads {:.2f} V and its neighbour {:.2f} V; their sum is right.", a, b);
  conclude(
      r, Severity::caution,
      "A broken sense lead makes one group read high and its neighbour low by the same amount.",
      group_name(s), fmt::format("{:.2f} V and {:.2f} V, {:.2f} V together", a, b, a + b),
      "The balancer bleeds a cell that needs none, and the BMS guards a voltage that is not there.",
      "Hold a meter on the terminals against what the BMS shows. Charger off and plug out before the lead is mended; an open input may also read a value that looks sound.");
}

void weak_cell(Rehearsal& r, const RehearsalInput& in, bool drifted) {
  Setup s = in.setup;
  all_charged_to(s, 0.99);
  const int c = cell_of(s);
  cell::Model& m = s.cells[std::size_t(c)];
  if (drifted)
    s.start_charge[std::size_t(c)] = 0.91;
  else
    m = cell::Model::scaled(m.capacity * 0.8);
  Twin twin(s);
  const int g = group_of(s), S = s.layout.series;
  Recorder record(r, {{"reading of the group", "V", {}},
                      {"lowest of the pack", "V", {}},
                      {"highest of the pack", "V", {}}});
  const auto note = [&] {
    record.at(twin.time_s(),
              {twin.reading_V(0, g), lowest_reading(twin, 0, S), highest_reading(twin, 0, S)});
  };
  bool first_empty = false, first_full = false;
  double given_Ah = 0.0;
  for (int k = 0; k < 3000 && (twin.bus_A() > 0.0 || k < 2); ++k) {
    twin.step({Demand::Kind::power, 0.5 * in.power_W}, in.room_C);
    note();
    if (twin.bus_A() > 0.0) {
      first_empty = twin.reading_V(0, g) == lowest_reading(twin, 0, S);
      given_Ah = twin.book().discharged_As / 3600.0;
    }
  }
  for (int k = 0; k < 3000; ++k) {
    twin.step({Demand::Kind::power, -0.5 * in.power_W}, in.room_C);
    note();
    if (-twin.bus_A() > 1.0) first_full = twin.reading_V(0, g) == highest_reading(twin, 0, S);
    if (twin.charge_full() || (k > 2 && twin.bus_A() == 0.0)) break;
  }
  take_catch(r, twin, 0.0);
  r.seen = fmt::format("The bank gives {:.0f} Ah; {} is {} empty, and {} full again.", given_Ah,
                       group_name(s), first_empty ? "the first to be" : "not the first to be",
                       first_full ? "the first to be" : "not the first to be");
  if (drifted)
    conclude(
        r, Severity::note, "A drifted cell is first at one end and last at the other.",
        group_name(s), fmt::format("8 % of charge missing, {:.0f} Ah given", given_Ah),
        "It holds as much as the others; it only stands elsewhere in its range.",
        "Balance at the top and watch whether it drifts again; it is not a reason to replace it.");
  else
    conclude(r, Severity::caution,
             "A weak cell is first to be empty, and early to be full when all start full.",
             group_name(s), fmt::format("80 % of its capacity left, {:.0f} Ah given", given_Ah),
             "The pack ends where its weakest group ends; balancing does not change that.",
             "Test that cell's capacity alone; replace it with a spare that matches its pack.");
}

void stuck_contactor(Rehearsal& r, const RehearsalInput& in) {
  Setup s = in.setup;
  all_charged_to(s, 0.15);
  const int c = cell_of(s);
  s.cells[std::size_t(c)] = cell::Model::scaled(s.cells[std::size_t(c)].capacity * 0.85);
  Twin twin(s);
  twin.stick(0);
  const int S = s.layout.series;
  Recorder record(
      r, {{"lowest of the pack", "V", {}}, {"bus", "V", {}}, {"current of the pack", "A", {}}});
  double lowest = 1e300, bms_s = -1.0;
  for (int k = 0; k < 600; ++k) {
    twin.step({Demand::Kind::power, 0.6 * in.power_W}, in.room_C);
    lowest = std::min(lowest, lowest_reading(twin, 0, S));
    record.at(twin.time_s(), {lowest_reading(twin, 0, S), twin.bus_V(), twin.pack_A(0)});
  }
  for (const Event& e : twin.events())
    if (e.kind == EventKind::cell_low && e.pack == 0 && bms_s < 0.0) bms_s = e.time_s;
  r.caught_by = "nothing";
  for (const Event& e : twin.events())
    if (e.kind == EventKind::bus_low) {
      r.caught_by = words(e) + " (bus)";
      r.caught_s = e.time_s - std::max(0.0, bms_s);
      break;
    }
  r.seen =
      bms_s >= 0.0
          ? fmt::format(
                "The BMS says it opened after {:.0f} min, yet current goes on; a group falls to {:.2f} V.",
                bms_s / 60.0, lowest)
          : fmt::format("The inverter stops before the BMS has to; a group falls to {:.2f} V.",
                        lowest);
  conclude(
      r, Severity::stop,
      "A contactor that sticks closed leaves only the inverter between a cell and its end.",
      "pack A", fmt::format("lowest {:.2f} V", lowest),
      "A cell driven below its lower limit is damaged for good and may short when charged again.",
      "Keep the inverter's stop above the BMS limits, prove that each pack opens, once a year; an "
      "isolator that a person can reach stays the last means.");
}

void joined_apart(Rehearsal& r, const RehearsalInput& in) {
  Setup s = in.setup;
  if (s.layout.packs < 2) {
    r.seen = "With one pack there is nothing to join.";
    r.caught_by = "nothing";
    conclude(r, Severity::note, "This bank has one pack: no other can be joined at another charge.",
             "bank", "1 pack", "", "Play it again when a second pack comes.");
    return;
  }
  all_charged_to(s, 0.95);
  const int per = s.layout.places_in_pack();
  std::fill(s.start_charge.begin() + per, s.start_charge.begin() + 2 * per, 0.10);
  Twin twin(s);
  twin.set_step(1.0 * units::s);
  Recorder record(r, {{"current out of pack A", "A", {}}, {"current out of pack B", "A", {}}});
  double first = 0.0, later = 0.0, tenth_s = -1.0;
  for (int k = 0; k < 4 * 3600; ++k) {
    twin.step({Demand::Kind::current, 0.0}, in.room_C);
    const double I = twin.pack_A(1);
    if (k == 0) first = I;
    if (k == 600) later = I;
    if (tenth_s < 0.0 && std::abs(I) < 0.1 * std::abs(first)) tenth_s = twin.time_s();
    if (k < 120 || k % 30 == 0) record.at(twin.time_s(), {twin.pack_A(0), I});
  }
  take_catch(r, twin, 0.0);
  const double own_A = s.rated_capacity.in(units::Ah)*s.layout.parallel;
  r.seen = fmt::format(
      "Pack B takes {:.0f} A in the first second ({:.1f} C) and {:.0f} A after ten minutes{}.",
      -first, -first / own_A, -later,
      tenth_s > 0.0 ? fmt::format("; a tenth of the start after {:.0f} min", tenth_s / 60.0)
                    : "; after four hours more than a tenth of it still flows");
  conclude(
      r,
      in.fuse_A > 0.0 && -first > in.fuse_A                                   ? Severity::stop
      : -first > 0.5 * own_A || (in.fuse_A > 0.0 && -first > 0.8 * in.fuse_A) ? Severity::caution
                                                                              : Severity::note,
      "Packs joined at different charge equalise by themselves, with a current that nobody set.",
      "pack B", fmt::format("{:.0f} A at first, {:.0f} A after ten minutes", -first, -later),
      "It passes through contacts and BMS at the moment they close; in the cold it charges cells too fast.",
      "Charge both alone until full, let them rest, then join within 0.1 V.");
}

void pack_drops_out(Rehearsal& r, const RehearsalInput& in) {
  Setup s = in.setup;
  all_charged_to(s, 0.6);
  Twin twin(s);
  Recorder record(r, {{"current of the first pack", "A", {}},
                      {"current of the last pack", "A", {}},
                      {"bus", "V", {}}});
  double before = 0.0, after = 0.0;
  const int last = s.layout.packs - 1;
  twin.set_step(1.0 * units::s);
  for (int k = 0; k < 600; ++k) {
    if (k == 120) twin.take_off(0, true);
    twin.step({Demand::Kind::power, in.power_W}, in.room_C);
    if (k == 119) before = twin.pack_A(last);
    after = std::max(after, k >= 120 ? twin.pack_A(last) : 0.0);
    record.at(twin.time_s(), {twin.pack_A(0), twin.pack_A(last), twin.bus_V()});
  }
  take_catch(r, twin, 120.0);
  r.seen = last == 0
               ? std::string("The house goes dark: there is no other pack.")
               : fmt::format("The last pack's current goes from {:.0f} A to {:.0f} A at once.",
                             before, after);
  const bool carries = in.fuse_A <= 0.0 || after <= in.fuse_A;
  conclude(
      r,
      last == 0 ? Severity::note
      : carries ? Severity::caution
                : Severity::stop,
      last == 0 ? "One pack alone: when it drops out, everything does."
      : carries ? "The packs that are left take over at once."
                : "The packs that are left would blow their fuses, one after another.",
      "pack A", fmt::format("{:.0f} A instead of {:.0f} A", after, before),
      "Each pack must carry its share with one pack missing, or the bank goes down in a row.",
      in.fuse_A > 0.0
          ? fmt::format(
                "Each pack's fuse: {:.0f} A. Limit the inverter so that one pack fewer still carries it.",
                in.fuse_A)
          : "Say the packs' fuses in [wiring] pack_fuse_A, so that this can be judged.");
}

void cold_morning(Rehearsal& r, const RehearsalInput& in) {
  Setup s = in.setup;
  all_charged_to(s, 0.4);
  s.start = base::Temperature::from_C(-4.0);
  Twin twin(s);
  Recorder record(
      r, {{"coldest cell", "°C", {}}, {"current at the bus", "A", {}}, {"room", "°C", {}}});
  double first_charge_s = -1.0;
  for (int k = 0; k < 10 * 60; ++k) {
    const double room = -4.0 + 14.0 * std::min(1.0, k / 300.0);
    twin.step({Demand::Kind::power, -0.5 * in.power_W}, room);
    double cold = 1e300;
    for (int c = 0; c < twin.cells(); ++c) cold = std::min(cold, twin.temperature_C(c));
    record.at(twin.time_s(), {cold, twin.bus_A(), room});
    if (first_charge_s < 0.0 && twin.time_s() > 900.0 && twin.bus_A() < 0.0)
      first_charge_s = twin.time_s();
  }
  take_catch(r, twin, 0.0);
  r.seen =
      first_charge_s > 0.0
          ? fmt::format(
                "The charge is refused until the coldest cell is warm enough, {:.1f} h after the sun came out.",
                first_charge_s / 3600.0)
          : std::string("The charge is refused all morning.");
  conclude(
      r, r.caught_s >= 0.0 ? Severity::note : Severity::stop,
      r.caught_s >= 0.0 ? "The BMS refuses to charge cold cells."
                        : "Nothing stops the charge of cold cells.",
      "bank", fmt::format("first charge after {:.1f} h", std::max(0.0, first_charge_s) / 3600.0),
      "Charging below freezing plates lithium: the loss is permanent and the danger stays.",
      "Keep the low-temperature stop, put the sensor on the coldest cell, and prove it by moving its limit, as the checklist says.");
}

void wrong_count(Rehearsal& r, const RehearsalInput& in) {
  Setup s = in.setup;
  all_charged_to(s, 0.85);
  const double wrong = (s.layout.series + 1.0) / s.layout.series;
  s.limits.charger.per_cell = s.limits.charger.per_cell * wrong;
  Twin twin(s);
  const int S = s.layout.series;
  Recorder record(r, {{"highest of pack A", "V", {}}, {"bus", "V", {}}});
  double highest = 0.0;
  for (int k = 0; k < 600; ++k) {
    twin.step({Demand::Kind::power, -0.5 * in.power_W}, in.room_C);
    highest = std::max(highest, highest_reading(twin, 0, S));
    record.at(twin.time_s(), {highest_reading(twin, 0, S), twin.bus_V()});
  }
  take_catch(r, twin, 0.0);
  if (r.caught_s < 0.0) r.caught_by = "the inverter's own upper limit, or nothing";
  r.seen = fmt::format(
      "The charger asks for {:.2f} V, as for {} cells in series; a group reaches {:.2f} V.",
      s.limits.charger.per_cell.si() * S, S + 1, highest);
  conclude(
      r, Severity::caution,
      "A charger set for one cell more pushes every cell past what was planned.", "charger",
      fmt::format("{:.2f} V in a group", highest), "Only the BMS is left to stop it, every day.",
      "Set the charger by groups in series times the voltage of one, and read it back at the bus with a meter.");
}

void bus_short(Rehearsal& r, const RehearsalInput& in) {
  Recorder record(
      r, {{"at the low end of resistance", "A", {}}, {"at the high end of resistance", "A", {}}});
  record.at(0.0, {in.short_high_A, in.short_low_A});
  record.at(1.0, {in.short_high_A, in.short_low_A});
  const int packs = std::max(1, in.setup.layout.packs);
  const double low = in.short_low_A / packs, high = in.short_high_A / packs;  // in each pack's fuse
  const auto opens = [&](double A) {
    return wiring::opening_time(in.fuse_A * base::units::A, A * base::units::A);
  };
  const auto weak = opens(low), strong = opens(high);
  r.seen = fmt::format(
      "{:.1f} kA with new, warm cells, {:.1f} kA with old, cold ones; a flash, molten metal, and no "
      "BMS in it that could break this.",
      in.short_high_A / 1e3, in.short_low_A / 1e3);
  constexpr double soon_s = 5.0;  // the adiabatic rule holds up to here
  const bool known = weak && strong, sure = known && weak->latest_s && *weak->latest_s <= soon_s;
  const auto seconds = [](const std::optional<wiring::OpeningTime>& t) {
    if (!t->latest_s) return std::string("never for sure");
    return *t->latest_s < 0.01 ? std::string("within a hundredth of a second")
                               : "within " + base::significant(*t->latest_s, 2) + " s";
  };
  r.caught_by = in.fuse_A <= 0.0 ? std::string("nobody said which fuse")
                : !known         ? fmt::format(
                                       "each pack's fuse of {:.0f} A, whose curve is not known "
                                               "here: {:.0f} to {:.0f} times its rating",
                                       in.fuse_A, low / in.fuse_A, high / in.fuse_A)
                         : fmt::format(
                               "each pack's fuse of {:.0f} A, if it is gG: {} at the "
                               "weak end, {} at the strong one",
                               in.fuse_A, seconds(weak), seconds(strong));
  r.caught_s = sure ? *weak->latest_s : -1.0;
  conclude(
      r, sure ? Severity::note : Severity::stop,
      sure ? "A short on the bus clears by the packs' fuses, in time even at the weak end."
           : "A short on the bus may not clear at the weak end.",
      "bus", fmt::format("{:.0f} to {:.0f} A", in.short_low_A, in.short_high_A),
      "Between a few times its rating and the fuse's opening lie seconds in which cable and terminals burn.",
      "Hold both currents against the fuse's published curve, and its breaking capacity against the larger one.");
}

}  // namespace

const std::vector<RehearsalKind>& rehearsal_kinds() {
  static const std::vector<RehearsalKind> kinds = {
      {"loose-joint", "a joint that loosens under load", findings::Id::rehearsal_loose_joint},
      {"broken-sense-lead", "a sense lead that breaks", findings::Id::rehearsal_broken_sense_lead},
      {"weak-cell", "a cell that has lost a fifth", findings::Id::rehearsal_weak_cell},
      {"drifted-cell", "a cell that stands lower than the others",
       findings::Id::rehearsal_drifted_cell},
      {"stuck-contactor", "a pack that does not open when told",
       findings::Id::rehearsal_stuck_contactor},
      {"joined-apart", "a pack joined at another state of charge",
       findings::Id::rehearsal_joined_apart},
      {"pack-drops-out", "a pack that drops out under load",
       findings::Id::rehearsal_pack_drops_out},
      {"cold-morning", "a charge on a cold morning", findings::Id::rehearsal_cold_morning},
      {"wrong-cell-count", "a charger set for another count of cells",
       findings::Id::rehearsal_wrong_cell_count},
      {"bus-short", "a short on the bus", findings::Id::rehearsal_bus_short}};
  return kinds;
}

Rehearsal rehearse(std::string_view name, const RehearsalInput& input) {
  Rehearsal r;
  for (const RehearsalKind& k : rehearsal_kinds())
    if (k.name == name)
      r.name = std::string(k.name), r.title = std::string(k.title), r.finding.id = k.finding;
  CHECK(!r.name.empty());
  if (name == "loose-joint") loose_joint(r, input);
  if (name == "broken-sense-lead") broken_lead(r, input);
  if (name == "weak-cell") weak_cell(r, input, false);
  if (name == "drifted-cell") weak_cell(r, input, true);
  if (name == "stuck-contactor") stuck_contactor(r, input);
  if (name == "joined-apart") joined_apart(r, input);
  if (name == "pack-drops-out") pack_drops_out(r, input);
  if (name == "cold-morning") cold_morning(r, input);
  if (name == "wrong-cell-count") wrong_count(r, input);
  if (name == "bus-short") bus_short(r, input);
  return r;
}

base::Json to_json(const Rehearsal& r, bool traces) {
  base::Json json = {{"name", r.name},
                     {"title", r.title},
                     {"seen", r.seen},
                     {"caught_by", r.caught_by},
                     {"finding", findings::to_json(r.finding)}};
  json["caught_s"] = r.caught_s < 0.0 ? base::Json(nullptr) : base::Json(r.caught_s);
  if (!traces) return json;
  json["times_s"] = r.times_s;
  json["traces"] = base::Json::array();
  for (const Trace& t : r.traces)
    json["traces"].push_back({{"name", t.name}, {"unit", t.unit}, {"values", t.values}});
  return json;
}

}  // namespace bank

// SPDX-License-Identifier: Apache-2.0
#include "wiring/reckonings.hpp"

#include <fmt/format.h>

#include "base/input_error.hpp"
#include "wiring/busbar.hpp"
#include "wiring/conductor.hpp"
#include "wiring/fault.hpp"
#include "wiring/fuse.hpp"
#include "wiring/sharing.hpp"

namespace wiring {
namespace {

namespace units = base::units;
using base::Answer;
using base::Arguments;
using base::choice_input;
using base::InputError;
using base::InputSpec;
using base::number_input;
using InputKind = base::InputSpec::Kind;

constexpr std::string_view local_codes =
    "Local electrical codes and licensed practice govern; this is an estimate to plan with.";

std::vector<InputSpec> conductor_inputs(std::vector<InputSpec> more) {
  std::vector<InputSpec> inputs = {
      choice_input("material", "metal of the conductor", {"copper", "aluminium"}, "copper"),
      {.key = "area_mm2",
       .suffix = "mm2",
       .unit = "mm2",
       .text = "section, one of the standard's",
       .min = 0.1,
       .max = 1000,
       .optional = true},
      {.key = "class",
       .suffix = "",
       .unit = "",
       .text = "2 stranded, 5 flexible (default 5, aluminium 2)",
       .kind = InputKind::choice,
       .optional = true,
       .choices = {"2", "5"}},
      {.key = "awg",
       .suffix = "",
       .unit = "",
       .text = "wire gauge, 4/0 to 40, instead of a section",
       .kind = InputKind::text,
       .optional = true},
      number_input("length_m", "m", "m", "length, one way", 0.0, 10000),
      number_input("temperature_C", "C", "C", "temperature of the conductor", -50, 250, "20")};
  inputs.insert(inputs.end(), more.begin(), more.end());
  return inputs;
}

std::string section_list() {
  std::string text;
  for (const double s : sections_mm2()) text += fmt::format("{}{:g}", text.empty() ? "" : ", ", s);
  return text;
}

base::OhmsPerMetre resistance_of(const Arguments& in) {
  const Material material =
      in.text("material") == "copper" ? Material::copper : Material::aluminium;
  if (in.has("area_mm2") == in.has("awg"))
    throw InputError({}, in.has("awg") ? "both area_mm2 and awg" : "neither area_mm2 nor awg",
                     "one of the two",
                     "give the section or the gauge that is printed on the cable");
  const auto temperature = base::Temperature::from_C(in.number("temperature_C"));
  if (in.has("awg")) {
    const auto area = gauge_area(in.text("awg"));
    if (!area)
      throw InputError({}, "awg=" + in.text("awg"), "a gauge from 4/0 to 40",
                       "write for example awg=2/0");
    return at_temperature(material, solid_resistance(material, *area), temperature);
  }
  const bool flexible = in.has("class") ? in.text("class") == "5" : material == Material::copper;
  const auto at_20C = table_resistance(material, flexible ? 5 : 2, in.number("area_mm2"));
  if (!at_20C)
    throw InputError({},
                     fmt::format("area_mm2={:g} in {}, class {}", in.number("area_mm2"),
                                 in.text("material"), flexible ? 5 : 2),
                     material == Material::copper
                         ? fmt::format("a section of the standard's table: {}", section_list())
                         : "aluminium is in the table as class 2 only, 10 to 240 mm2",
                     "take the section that is printed on the cable");
  return at_temperature(material, *at_20C, temperature);
}

Answer run_conductor_resistance(const Arguments& in) {
  Answer answer{{{"resistance_mOhm",
                  (resistance_of(in) * (in.number("length_m") * units::m)).in(units::mOhm)}}};
  if (in.has("awg"))
    answer.cautions.emplace_back(
        "Solid wire of this gauge; a stranded cable of the same gauge has about 2 % more.");
  return answer;
}

Answer run_voltage_drop(const Arguments& in) {
  const Drop d = pair_drop(resistance_of(in), in.number("length_m") * units::m,
                           in.number("current_A") * units::A);
  return {{{"drop_V", d.drop.in(units::V)},
           {"drop_percent", d.drop.in(units::V) / in.number("system_V") * 100.0},
           {"loss_W", d.loss.in(units::W)}}};
}

Answer run_ampacity(const Arguments& in) {
  const Insulation insulation = in.text("insulation") == "pvc" ? Insulation::pvc : Insulation::xlpe;
  const Method method = in.text("method") == "C" ? Method::c : Method::f;
  const std::string& group = in.text("grouping");
  const Grouping grouping = group == "bunched" ? Grouping::bunched
                            : group == "wall"  ? Grouping::wall
                            : group == "tray"  ? Grouping::tray
                                               : Grouping::ladder;
  const auto result =
      ampacity(insulation, method, in.number("area_mm2"),
               base::Temperature::from_C(in.number("ambient_C")), in.whole("circuits"), grouping);
  if (!result) {
    std::string sections;
    for (const double s : ampacity_sections_mm2(method))
      sections += fmt::format("{}{:g}", sections.empty() ? "" : ", ", s);
    throw InputError(
        {},
        fmt::format("area_mm2={:g}, method {}, {} circuits", in.number("area_mm2"),
                    in.text("method"), in.whole("circuits")),
        fmt::format("a section of the table: {} mm2; up to 9 circuits (20 where bunched)",
                    sections),
        "take the next section of the table; below 25 mm2 use method C");
  }
  return {{{"current_A", result->current.in(units::A)},
           {"table_A", result->table_current.in(units::A)},
           {"ambient_factor", result->ambient_factor},
           {"grouping_factor", result->grouping_factor}}};
}

Answer run_adiabatic(const Arguments& in) {
  const auto area = adiabatic_area(in.number("fault_current_A") * units::A,
                                   in.number("time_s") * units::s, in.number("k"));
  return {{{"area_mm2", area.in(units::mm2)}}};
}

Answer run_k_factor(const Arguments& in) {
  if (in.number("final_C") <= in.number("initial_C"))
    throw InputError({}, "final_C not above initial_C", "a final temperature above the initial one",
                     "take both from the insulation's sheet, for example 90 and 250");
  return {{{"k", k_factor(in.text("material") == "copper" ? Material::copper : Material::aluminium,
                          base::Temperature::from_C(in.number("initial_C")),
                          base::Temperature::from_C(in.number("final_C")))}}};
}

Answer run_fault_current(const Arguments& in) {
  return {
      {{"current_A", fault_current(in.number("open_circuit_V") * units::V,
                                   in.number("resistance_mOhm") * units::mOhm, in.whole("packs"))
                         .in(units::A)}}};
}

Answer run_precharge(const Arguments& in) {
  const Precharge p =
      precharge(in.number("voltage_V") * units::V, in.number("capacitance_mF") * units::mF,
                in.number("resistance_Ohm") * units::Ohm, in.number("target_percent") / 100.0);
  return {{{"time_constant_s", p.time_constant.in(units::s)},
           {"time_s", p.time.in(units::s)},
           {"peak_current_A", p.peak_current.in(units::A)},
           {"peak_power_W", p.peak_power.in(units::W)},
           {"energy_J", p.energy.si()},
           {"remaining_V", p.remaining.in(units::V)}}};
}

Answer run_pack_sharing(const Arguments& in) {
  const auto count = static_cast<std::size_t>(in.whole("packs"));
  std::vector<double> each = in.list("pack_mOhm");
  if (each.size() == 1) each.resize(count, each.front());
  if (each.size() != count)
    throw InputError({}, fmt::format("{} values in pack_mOhm for {} packs", each.size(), count),
                     "one value for all, or one for each pack",
                     "give as many values as there are packs");
  std::vector<base::Ohms> packs;
  for (const double r : each) packs.push_back(r * units::mOhm);
  const auto take_off = layout::take_off_named(in.text("take_off"));
  Answer answer;
  answer.outputs["currents_A"] = base::Json::array();
  double largest = 0.0;
  for (const base::Amps i : share_current(packs, in.number("link_mOhm") * units::mOhm, *take_off,
                                          in.number("current_A") * units::A)) {
    answer.outputs["currents_A"].push_back(i.in(units::A));
    largest = std::max(largest, i / (in.number("current_A") * units::A) * double(count));
  }
  answer.outputs["largest_over_mean"] = largest;
  return answer;
}

Answer run_joining_current(const Arguments& in) {
  return {{{"current_A", joining_current(in.number("difference_V") * units::V,
                                         in.number("path_mOhm") * units::mOhm)
                             .in(units::A)}}};
}

Answer run_busbar(const Arguments& in) {
  const double w = in.number("width_mm"), t = in.number("thickness_mm");
  const auto bar = base::Temperature::from_C(in.number("bar_C"));
  const auto carries = bar_ampacity(w, t, bar, base::Temperature::from_C(in.number("air_C")));
  if (!carries) {
    std::string sizes;
    for (const Bar& b : bars())
      sizes += fmt::format("{}{:g}x{:g}", sizes.empty() ? "" : ", ", b.width_mm, b.thickness_mm);
    throw InputError({}, fmt::format("a bar of {:g} x {:g} mm", w, t), "one of: " + sizes,
                     "take the next smaller one of the table");
  }
  return {{{"current_A", carries->in(units::A)},
           {"resistance_uOhm_m", bar_resistance(w, t, bar).in(units::mOhm_per_m)*1e3}}};
}

Answer run_fuse_time(const Arguments& in) {
  const base::Amps rated = in.number("rated_A") * units::A,
                   current = in.number("current_A") * units::A;
  const auto t = opening_time(rated, current);
  if (!t) {
    std::string ratings;
    for (const FuseGate& g : fuse_gates())
      ratings += fmt::format("{}{:g}", ratings.empty() ? "" : ", ", g.rated_A);
    throw InputError({}, fmt::format("a gG fuse of {:g} A", rated.si()), "one of: " + ratings,
                     "for any other fuse read its maker's curve");
  }
  Answer answer;
  answer.outputs["earliest_s"] = t->earliest_s;
  answer.outputs["latest_s"] = t->latest_s ? base::Json(*t->latest_s) : base::Json(nullptr);
  const auto through = let_through_A2s(rated, current);
  answer.outputs["let_through_A2s"] = through ? base::Json(*through) : base::Json(nullptr);
  return answer;
}

}  // namespace

std::vector<base::Reckoning> reckonings() {
  return {
      {.name = "conductor-resistance",
       .title = "Resistance of a length of cable",
       .inputs = conductor_inputs({}),
       .outputs = {{"resistance_mOhm", "mΩ", "largest DC resistance, one conductor"}},
       .formula = "R = r20 · [1 + α (T − 20 °C)] · length;  gauge: r20 = ρ / A",
       .source =
           "[IEC60228] tables 2 and 3; [ASTM-B258] gauges; [IEC60028], [IEC60889] resistivity",
       .validity = "cable made to the standard; cable sold below its label or copper-clad has more",
       .cautions = {},
       .run = run_conductor_resistance,
       .example = "area=70mm2 class=5 length=3m temperature=70C"},
      {.name = "voltage-drop",
       .title = "Drop and loss along a pair of conductors",
       .inputs = conductor_inputs(
           {number_input("current_A", "A", "A", "current", 0.0, 10000),
            number_input("system_V", "V", "V", "voltage that the drop is held against", 1, 1500)}),
       .outputs = {{"drop_V", "V", "drop out and back"},
                   {"drop_percent", "%", "share of the system voltage"},
                   {"loss_W", "W", "heat along the run"}},
       .formula = "ΔU = 2 · length · r(T) · I;  loss = ΔU · I",
       .source = "[IEC60364-5-52] annex G, b = 2, direct current",
       .validity =
           "length is one way; joints, fuse, shunt and BMS come on top and are often larger",
       .cautions = {},
       .run = run_voltage_drop,
       .example = "area=70mm2 class=5 length=2m current=200A temperature=70C system=51.2V"},
      {.name = "ampacity",
       .title = "Current that a copper pair may carry for ever",
       .inputs = {choice_input("insulation", "pvc 70 °C or xlpe 90 °C", {"pvc", "xlpe"},
                               std::nullopt),
                  choice_input("method", "C on a surface, F two touching in free air", {"C", "F"},
                               std::nullopt),
                  number_input("area_mm2", "mm2", "mm2", "section of the table", 0.1, 1000),
                  number_input("ambient_C", "C", "C", "air around the cable", 10, 60, "30"),
                  {.key = "circuits",
                   .suffix = "",
                   .unit = "",
                   .text = "pairs side by side",
                   .min = 1,
                   .max = 20,
                   .kind = InputKind::whole,
                   .fallback = "1"},
                  choice_input("grouping", "how they lie together",
                               {"bunched", "wall", "tray", "ladder"}, "bunched")},
       .outputs = {{"current_A", "A", "with both factors"},
                   {"table_A", "A", "as the table gives it at 30 °C"},
                   {"ambient_factor", "", "for the air's temperature"},
                   {"grouping_factor", "", "for the neighbours"}},
       .formula = "I = I_table · k_ambient · k_grouping",
       .source = "[IEC60364-5-52] tables B.52.2, B.52.3, B.52.10, B.52.12, B.52.14, B.52.17 (tray "
                 "and ladder from memory)",
       .validity =
           "two loaded copper conductors; equipment terminals often accept only 60 or 75 °C",
       .cautions = {local_codes},
       .run = run_ampacity,
       .example = "insulation=xlpe method=F area=70mm2 ambient=40C circuits=2 grouping=tray"},
      {.name = "adiabatic",
       .title = "Section that survives a fault until it is cleared",
       .inputs = {number_input("fault_current_A", "A", "A", "fault current", 0.0, 1e6),
                  number_input("time_s", "s", "s", "time until it is cleared", 0.0, 5.0),
                  number_input("k", "", "", "k of conductor and insulation, A·√s/mm²", 10, 300)},
       .outputs = {{"area_mm2", "mm²", "least section"}},
       .formula = "S = I √t / k",
       .source = "[IEC60364-4-43] 434.5.2",
       .validity =
           "up to 5 s; below 0.1 s compare k²S² with the fuse's published let-through instead",
       .cautions = {local_codes},
       .run = run_adiabatic,
       .example = "fault_current=200A time=0.4s k=115"},
      {.name = "k-factor",
       .title = "k of a conductor between two temperatures",
       .inputs = {choice_input("material", "metal of the conductor", {"copper", "aluminium"},
                               "copper"),
                  number_input("initial_C", "C", "C", "temperature before the fault", -50, 250),
                  number_input("final_C", "C", "C", "temperature that the insulation survives", -50,
                               500)},
       .outputs = {{"k", "A·√s/mm²", "adiabatic factor"}},
       .formula = "k = √( Qc (β + 20) / ρ20 · ln[(β + Tf) / (β + Ti)] )",
       .source = "[IEC60364-5-54] annex A",
       .validity = "heating too fast for heat to leave the conductor",
       .cautions = {},
       .run = run_k_factor,
       .example = "material=copper initial=90C final=250C"},
      {.name = "fault-current",
       .title = "Prospective current of a dead short",
       .inputs = {number_input("open_circuit_V", "V", "V", "open-circuit voltage of a pack", 0.1,
                               1500),
                  number_input("resistance_mOhm", "mOhm", "mOhm",
                               "all resistance of one pack's loop", 0.01, 1e7),
                  {.key = "packs",
                   .suffix = "",
                   .unit = "",
                   .text = "packs that feed the fault",
                   .min = 1,
                   .max = 100,
                   .kind = InputKind::whole,
                   .fallback = "1"}},
       .outputs = {{"current_A", "A", "prospective fault current"}},
       .formula = "I = n · U / R",
       .source = "[Gerner2003] open-circuit voltage over total DC resistance",
       .validity = "the steady value; inductance slows the first milliseconds",
       .cautions = {"Use the low end of the resistance (new, warm, 1 kHz, just charged) to choose "
                    "breaking capacity, "
                    "the high end (aged, cold, DC) to see that the fuse still clears.",
                    local_codes},
       .run = run_fault_current,
       .example = "open_circuit=53.28V resistance=7.066mOhm packs=1"},
      {.name = "precharge",
       .title = "Filling an inverter's capacitors through a resistor",
       .inputs = {number_input("voltage_V", "V", "V", "voltage of the bank", 0.1, 1500),
                  number_input("capacitance_mF", "mF", "mF", "capacitance at the inverter's input",
                               0.001, 1000),
                  number_input("resistance_Ohm", "Ohm", "Ohm", "resistor", 0.01, 1e5),
                  number_input("target_percent", "percent", "%",
                               "voltage reached when the contactor closes", 1, 99.9999, "99.326")},
       .outputs = {{"time_constant_s", "s", "time constant"},
                   {"time_s", "s", "time to the target"},
                   {"peak_current_A", "A", "at the start"},
                   {"peak_power_W", "W", "in the resistor, at the start"},
                   {"energy_J", "J", "taken up by the resistor each time"},
                   {"remaining_V", "V", "left across the contactor"}},
       .formula = "τ = R C;  t = −τ ln(1 − target);  P = U²/R;  E = C U² / 2",
       .source = "charging of a capacitor through a resistor, [Horowitz2015] 1.4",
       .validity =
           "nothing draws current meanwhile: a standby load keeps the voltage from its target",
       .cautions = {"Capacitors stay charged after disconnection: measure before you touch."},
       .run = run_precharge,
       .example = "voltage=53.6V capacitance=10mF resistance=50Ohm"},
      {.name = "pack-sharing",
       .title = "How packs in parallel share the current",
       .inputs = {{.key = "packs",
                   .suffix = "",
                   .unit = "",
                   .text = "packs on the bus",
                   .min = 1,
                   .max = 64,
                   .kind = InputKind::whole},
                  {.key = "pack_mOhm",
                   .suffix = "mOhm",
                   .unit = "mOhm",
                   .text = "resistance of a pack, one or a list",
                   .min = 1e-3,
                   .max = 1e7,
                   .kind = InputKind::list},
                  number_input("link_mOhm", "mOhm", "mOhm",
                               "each rail between neighbours; in a star each pole's lead", 0.0,
                               1e4),
                  choice_input("take_off", "where the bus is tapped",
                               {"same-end", "diagonal", "star"}, "diagonal"),
                  number_input("current_A", "A", "A", "current of the whole bank", 0.001, 1e5)},
       .outputs = {{"currents_A", "A", "current of each pack, along the bus"},
                   {"largest_over_mean", "", "the hardest worked pack against the mean"}},
       .formula = "Kirchhoff's laws for the ladder of packs and rails",
       .source = "[Kirchhoff1847]; checked against a published maker's sheet and a circuit "
                 "simulator (docs/models/wiring.md)",
       .validity = "equal open-circuit voltages; towards full and empty the shares shift",
       .cautions = {"Better cells and lower losses make sharing worse: it is the ratio of link to "
                    "pack that counts."},
       .run = run_pack_sharing,
       .example = "packs=4 pack=10mOhm link=0.25mOhm take_off=same-end current=200A"},
      {.name = "joining-current",
       .title = "Current when two packs of unequal voltage are joined",
       .inputs = {number_input("difference_V", "V", "V", "difference of the rested voltages", 0.0,
                               100),
                  number_input("path_mOhm", "mOhm", "mOhm", "all resistance around the loop", 0.01,
                               1e5)},
       .outputs = {{"current_A", "A", "at the moment of joining"}},
       .formula = "I = ΔU / R",
       .source = "Ohm's law",
       .validity = "the first moment; it falls as the charge evens out",
       .cautions = {"On the flat part equal voltage is not equal charge: join packs when full, "
                    "within 0.1 V "
                    "(common practice, no source).",
                    local_codes},
       .run = run_joining_current,
       .example = "difference=0.5V path=4mOhm"},
      {.name = "busbar",
       .title = "Current that a bare copper bar may carry for ever",
       .inputs = {number_input("width_mm", "mm", "mm", "width", 1, 200),
                  number_input("thickness_mm", "mm", "mm", "thickness", 0.5, 50),
                  number_input("bar_C", "C", "C", "how warm the bar may become", 50, 90, "65"),
                  number_input("air_C", "C", "C", "air around it", 20, 50, "35")},
       .outputs = {{"current_A", "A", "one bar a pole, on edge, indoors"},
                   {"resistance_uOhm_m", "µΩ/m", "at that temperature, without holes"}},
       .formula = "I = I_table · k2;  r = ρ / (w t)",
       .source = "[DIN43671] values from memory; checked against [CDA-bars]",
       .validity = "bare copper; in a closed box six to eight tenths of it (common practice)",
       .cautions = {"Bars that touch cells stay near 50 °C or below (common practice, no source).",
                    local_codes},
       .run = run_busbar,
       .example = "width=25mm thickness=3mm bar=65C air=35C"},
      {.name = "fuse-time",
       .title = "When a gG fuse opens",
       .inputs = {number_input("rated_A", "A", "A", "rating", 1, 2000),
                  number_input("current_A", "A", "A", "current through it", 1, 1e6)},
       .outputs = {{"earliest_s", "s", "not before"},
                   {"latest_s", "s", "by then; nothing: it may carry this for hours"},
                   {"let_through_A2s", "A²s", "I²t until it has melted, at most"}},
       .formula = "straight lines in logarithms between the gates; beyond the last I²t stays",
       .source = "[IEC60269-1] gates, from memory",
       .validity = "melting; the arc comes on top. Direct current in loops of few microhenries",
       .cautions = {"Only a breaking capacity printed for direct current counts.", local_codes},
       .run = run_fuse_time,
       .example = "rated=100A current=1450A"},
  };
}

}  // namespace wiring

// SPDX-License-Identifier: Apache-2.0
// The mistakes that builders make and that data can show: a sound bank has none of the findings,
// and each mistake put into it gives its own. All invented.
#include <cmath>
#include <set>

#include <gtest/gtest.h>

#include "base/input_error.hpp"
#include "store/text_form.hpp"
#include "works/plan.hpp"
#include "works/worklist.hpp"

namespace {

store::TextForm sound() {
  store::TextForm files;
  files["project.toml"] = R"([project]
name = "A sound bank, invented"
[cell]
rated_capacity_Ah = 230
dc_resistance_mOhm = 0.5
ac_resistance_mOhm = 0.2
max_V = 3.65
min_V = 2.5
mass_kg = 4.1
[layout]
packs = 2
series = 16
parallel = 1
take_off = "diagonal"
lead_mOhm = 0.3
[bus]
power_W = 5000
surge_W = 9000
[bms]
sensor_on = "cell"
[joint]
thread = "M6"
bolt_mm = 16
stack_mm = 5
depth_mm = 12
torque_Nm = 5
[place]
kind = "garage"
clearance_m = 1
floor_allows_kN_m2 = 10
detector = "yes"
backing = "incombustible"
[rules]
edition = "an invented code, 2024"
[[offer]]
name = "invented"
unit_price = 60
quantity = 40
freight = 300
duty_percent = 3
vat_percent = 20
chosen = true
)";
  files["runs.csv"] =
      "run,from,to,length_m,area_mm2\nlead,pack,bus,0.5,50\nmain,bus,inverter,2.5,50\n";
  files["devices.csv"] =
      "device,kind,at,rated_A,rated_V_dc,breaking_kA_dc,curve,polarised\n"
      "pack fuse,fuse,lead,160,80,50,gG,\nBMS,bms,lead,200,,,,\n"
      "isolator,isolator,main,250,80,,,\nmain fuse,fuse,main,160,80,50,gG,\n"
      "precharge,precharge,main,,,,,\n";
  std::string joints = "joint,current_A,mV\n", sense = "pack,pin,volts\n";
  for (const char* pack : {"A", "B"})
    for (int g = 1; g <= 16; ++g) {
      if (g < 16)
        joints += fmt::format("{}-{:02}/{:02},50,{}\n", pack, g, g + 1, 4.0 + 0.1 * (g % 5));
      sense += fmt::format("{},{},{:.3f}\n", pack, g, 3.31 * g);
    }
  files["joints.csv"] = joints;
  files["sense.csv"] = sense;
  return files;
}

/// Findings that no check of wiring, settings and place is to blame for.
const std::set<findings::Id> not_meant = {findings::Id::too_heavy_for_one,
                                          findings::Id::forecast_extrapolates,
                                          findings::Id::too_few_cells};

std::set<findings::Id> found(const store::TextForm& files) {
  std::set<findings::Id> ids;
  for (const findings::Finding& f : works::plan(store::from_text(files)).findings)
    if (!not_meant.contains(f.id)) ids.insert(f.id);
  return ids;
}

std::string listed(const std::set<findings::Id>& ids) {
  std::string text;
  for (const findings::Id id : ids) text += std::string(findings::word(id)) + " ";
  return text;
}

TEST(Mistakes, none_is_found_in_a_sound_bank) { EXPECT_EQ(listed(found(sound())), ""); }

struct Mistake {
  int number;  // of the trade's usual mistakes, as the project counts them
  const char *file, *from, *to;
  findings::Id finding;
};
constexpr Mistake mistakes[] = {
    {4, "sense.csv", "A,7,23.170", "A,7,-23.170", findings::Id::sense_reversed},
    {4, "sense.csv", "B,5,16.550", "B,5,13.240", findings::Id::sense_doubled},
    {5, "devices.csv", "lead,160,80,50", "lead,160,80,6", findings::Id::fuse_cannot_break},
    {5, "devices.csv", "lead,160,80,50", "lead,160,80,",
     findings::Id::fuse_breaking_capacity_unknown},
    {5, "devices.csv", "lead,160,80,50", "lead,160,32,50", findings::Id::device_voltage_too_low},
    {5, "devices.csv", "pack fuse,fuse,lead,160,80,50,gG,\n", "", findings::Id::no_pack_fuse},
    {5, "devices.csv", "main fuse,fuse,main,160,80,50,gG,",
     "main breaker,breaker,main,160,80,50,,yes", findings::Id::breaker_polarised},
    {5, "devices.csv", "main,160,80,50", "main,315,80,50", findings::Id::fuse_above_cable},
    {7, "devices.csv", "precharge,precharge,main,,,,,\n", "", findings::Id::no_precharge},
    {7, "project.toml", "[bus]", "[inverter]\nstandby_W = 60\n[bus]",
     findings::Id::precharge_never_done},
    {8, "project.toml", "sensor_on = \"cell\"", "sensor_on = \"cell\"\ncharge_stop_C = -5",
     findings::Id::charging_in_the_cold},
    {8, "project.toml", "sensor_on = \"cell\"", "sensor_on = \"wall\"",
     findings::Id::sensor_on_wall},
    {9, "joints.csv", "A-03/04,50,4.3", "A-03/04,50,12", findings::Id::joint_stands_out},
    {11, "project.toml", "[bus]", "[balancer]\nstart_V = 3.3\n[bus]",
     findings::Id::balancer_below_knee},
    {11, "project.toml", "[bus]", "[balancer]\nworks = \"always\"\n[bus]",
     findings::Id::balancer_always_on},
    {12, "project.toml", "[bus]", "[charge]\nper_cell_V = 3.64\n[bus]",
     findings::Id::charger_above_trip},
    {13, "project.toml", "[bus]", "[charge]\nequalise = \"on\"\n[bus]", findings::Id::equalise_on},
    {13, "project.toml", "[bus]", "[charge]\ncompensation_mV_K = -72\n[bus]",
     findings::Id::temperature_compensated},
    {13, "project.toml", "[bus]", "[charge]\nabsorption_h = 4\n[bus]",
     findings::Id::absorption_too_long},
    {13, "project.toml", "[bus]", "[charge]\nfloat_per_cell_V = 3.45\n[bus]",
     findings::Id::float_too_high},
    {14, "project.toml", "[bus]", "[inverter]\nstop_per_cell_V = 2.75\n[bus]",
     findings::Id::inverter_stop_below_bms},
    {15, "project.toml", "sensor_on = \"cell\"", "sensor_on = \"cell\"\ndrain_mA = 500",
     findings::Id::flat_in_one_missed_month},
    {15, "project.toml", "[bus]", "[storage]\ncharge = 0.1\n[bus]", findings::Id::stored_too_low},
    {19, "project.toml", "bolt_mm = 16", "bolt_mm = 10", findings::Id::thread_engagement},
    {19, "project.toml", "stack_mm = 5", "stack_mm = 3", findings::Id::bolt_bottoms_out},
    {22, "project.toml", "take_off = \"diagonal\"\nlead_mOhm = 0.3",
     "take_off = \"same-end\"\nlead_mOhm = 2", findings::Id::uneven_sharing},
    {23, "devices.csv", "lead,160,80,50", "lead,100,80,50", findings::Id::one_pack_open},
    {31, "project.toml", "kind = \"garage\"", "kind = \"bedroom\"",
     findings::Id::place_where_people_sleep_or_flee},
    {31, "project.toml", "backing = \"incombustible\"", "backing = \"combustible\"",
     findings::Id::burns_behind},
    {31, "project.toml", "detector = \"yes\"", "detector = \"no\"", findings::Id::no_detector},
    {32, "devices.csv", "isolator,isolator,main,250,80,,,\n", "", findings::Id::no_isolator},
};

TEST(Mistakes, each_gives_its_finding) {
  std::set<int> caught;
  for (const Mistake& m : mistakes) {
    store::TextForm files = sound();
    std::string& text = files[m.file];
    const std::size_t at = text.find(m.from);
    ASSERT_NE(at, std::string::npos) << m.number << ' ' << m.from;
    text.replace(at, std::string(m.from).size(), m.to);
    const std::set<findings::Id> ids = found(files);
    EXPECT_TRUE(ids.contains(m.finding))
        << m.number << " " << findings::word(m.finding) << ": " << listed(ids);
    caught.insert(m.number);
  }
  EXPECT_EQ(caught.size(), 15u);  // two more are refused at signing, below
}

TEST(Mistakes, a_reading_that_hurts_is_not_signed_without_a_reason) {
  project::Project p = store::from_text(sound());
  const works::Plan plan = works::plan(p);
  const auto refused = [&](const project::Signature& s) {
    EXPECT_THROW(works::sign(p, plan, s), base::InputError) << s.what;
  };
  const std::string who = "invented", day = "2026-11-26";
  // What has to be signed before.
  const auto done = [&](const char* what, std::optional<double> value = {}, const char* note = "") {
    works::sign(p, plan, {what, who, day, value, note});
  };
  refused({"sense/plug@A", who, day, {}, ""});
  for (const char* each : {"assembly/fuse@A", "assembly/fuse@B", "sense/pins@A", "sense/pins@B",
                           "sense/plug@A", "sense/plug@B", "first-power/settings"})
    done(each);
  refused({"first-power/joined", who, day, 50.0, ""});  // polarity was not measured
  done("first-power/polarity", 52.9);
  p.signatures.clear();
  for (const char* each : {"assembly/fuse@A", "assembly/fuse@B", "sense/pins@A", "sense/pins@B",
                           "sense/plug@A", "sense/plug@B", "first-power/settings"})
    done(each);
  done("first-power/polarity", 52.9);
  const std::size_t before = p.signatures.size();
  refused({"balance/supply@A", who, day, 4.2, ""});   // 2: the supply set too high
  refused({"balance/supply@A", who, day, 3.40, ""});  // nothing is balanced there
  refused({"balance/supply@A", who, day, {}, ""});    // 2: by its display, not measured
  refused({"balance/supply@A", who, day, std::nan(""), ""});
  refused({"first-power/joined", who, day, 400.0, ""});    // 6: packs at different charge
  refused({"first-power/precharge", who, day, 30.0, ""});  // 7: capacitors not filled
  refused({"first-power/precharge", who, day, 30.0, "  "});
  refused({"first-power/nothing", who, day, {}, ""});
  refused({"full-load/sharing", " ", day, {}, ""});
  refused({"full-load/sharing", who, "2026-02-30", {}, ""});
  refused({"full-load/sharing", who, "1066-10-14", {}, ""});
  refused({"full-load/sharing", who, day, 3.0, ""});
  refused({"proof/high@A", who, day, 3.40, ""});  // what opened, and when?
  EXPECT_EQ(p.signatures.size(), before);
  works::sign(p, plan, {"first-power/precharge", who, day, 30.0, "measured before it had ended"});
  works::sign(p, plan, {"full-load/sharing", who, day, {}, ""});
  const auto lists = works::work_lists(p, plan);
  std::size_t over = 0, signed_steps = 0;
  for (const auto& list : lists)
    for (const auto& w : list.steps) {
      over += w.state == works::WorkStep::State::done_over;
      signed_steps += w.state == works::WorkStep::State::done;
    }
  EXPECT_EQ(over, 1u);
  EXPECT_EQ(signed_steps, before + 1);
  // A later reading counts, whatever was written down last; an earlier one stays to be seen.
  works::sign(p, plan, {"first-power/precharge", who, "2026-11-25", 0.3, ""});
  for (const auto& list : works::work_lists(p, plan))
    for (const auto& w : list.steps)
      if (w.id == "first-power/precharge") {
        EXPECT_EQ(w.record->value, 30.0);
        EXPECT_EQ(w.earlier.size(), 1u);
      }
  // With a finding at stop, the steps that it holds wait for it.
  store::TextForm files = sound();
  files["devices.csv"].replace(files["devices.csv"].find("lead,160,80,50"), 14, "lead,160,80,6");
  project::Project bad = store::from_text(files);
  const works::Plan bad_plan = works::plan(bad);
  EXPECT_THROW(works::sign(bad, bad_plan, {"assembly/fuse@A", who, day, {}, ""}), base::InputError);
  EXPECT_THROW(works::sign(bad, bad_plan, {"first-power/first-charge", who, day, {}, ""}),
               base::InputError);
  works::sign(bad, bad_plan, {"assembly/tools@A", who, day, {}, ""});
  works::sign(bad, bad_plan, {"assembly/fuse@A", who, day, {}, "for a photograph, no link on yet"});
  EXPECT_EQ(bad.signatures.size(), 2u);
  // What was signed clean does not stay signed when a finding comes that speaks against it.
  project::Project later = bad;
  later.signatures = {{"assembly/fuse@A", who, day, {}, ""}};
  for (const auto& list : works::work_lists(later, bad_plan))
    for (const auto& w : list.steps)
      if (w.id == "assembly/fuse@A") {
        EXPECT_EQ(w.state, works::WorkStep::State::held);
      }
  // Records survive text.
  const project::Project again = store::from_text(store::to_text(bad));
  EXPECT_EQ(again.signatures, bad.signatures);
}

}  // namespace

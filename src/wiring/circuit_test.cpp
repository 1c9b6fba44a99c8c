// SPDX-License-Identifier: Apache-2.0
#include "wiring/circuit.hpp"

#include <algorithm>

#include <gtest/gtest.h>

#include "base/input_error.hpp"

namespace {

namespace units = base::units;
using wiring::Circuit;
using wiring::Supply;

Supply supply() {
  return {.packs = 2,
          .max = 58.4 * units::V,
          .just_charged = 57.6 * units::V,
          .nearly_empty = 48.0 * units::V,
          .nominal = 51.2 * units::V,
          .pack_low = 3.8 * units::mOhm,
          .pack_high = 40.0 * units::mOhm,
          .design = 104.0 * units::A,
          .pack_worst = 52.0 * units::A,
          .surge = 180.0 * units::A};
}

constexpr const char* runs_text =
    "run,from,to,length_m,area_mm2,awg\n"
    "lead,pack,bus,0.5,50,\n"
    "main,bus,inverter,2.5,70,\n"
    "sun,bus,solar,3,,\n";
constexpr const char* devices_text =
    "device,kind,at,rated_A,rated_V_dc,breaking_kA_dc,curve,polarised\n"
    "pack fuse,fuse,lead,125,80,50,gG,\n"
    "BMS,bms,lead,150,,,,\n"
    "isolator,isolator,main,250,80,,,\n"
    "main fuse,fuse,main,160,80,50,gG,\n"
    "precharge,precharge,main,,,,,\n"
    "sun fuse,fuse,sun,63,80,50,gG,\nsun isolator,isolator,sun,80,80,,,\n"
    "controller,solar-controller,sun,40,,,,\n";

Circuit circuit(const std::string& runs = runs_text, const std::string& devices = devices_text) {
  Circuit c;
  c.runs = wiring::read_runs(runs, {});
  c.devices = wiring::read_devices(devices, c.runs);
  c.devices_given = true;
  return c;
}

std::string replaced(std::string text, const std::string& from, const std::string& to) {
  const std::size_t at = text.find(from);
  EXPECT_NE(at, std::string::npos) << from;
  return text.replace(at, from.size(), to);
}

std::string found(const Circuit& c, const Supply& s = supply()) {
  std::string ids;
  for (const findings::Finding& f : wiring::check(c, s).findings)
    ids += std::string(findings::word(f.id)) + " ";
  return ids;
}
std::string with_devices(const std::string& from, const std::string& to) {
  return found(circuit(runs_text, replaced(devices_text, from, to)));
}
std::string with_runs(const std::string& from, const std::string& to) {
  return found(circuit(replaced(runs_text, from, to)));
}

TEST(CircuitCheck, finds_nothing_in_a_sound_design) { EXPECT_EQ(found(circuit()), ""); }

TEST(CircuitCheck, finds_each_mistake_and_only_that) {
  EXPECT_EQ(with_devices("160,80,50,gG", "160,80,20,gG"), "fuse-cannot-break ");
  EXPECT_EQ(with_devices("160,80,50,gG", "160,58,50,gG"), "device-voltage-too-low ");
  EXPECT_EQ(with_devices("160,80,50,gG", "160,80,,gG"), "fuse-breaking-capacity-unknown ");
  EXPECT_EQ(with_devices("250,80,,,", "250,,,,"), "device-rating-unknown ");
  EXPECT_EQ(with_devices("250,80,,,", "80,80,,,"), "device-below-fuse device-carries-too-little ");
  EXPECT_EQ(with_devices("250,80,,,", "110,80,,,"), "device-below-fuse ");
  EXPECT_EQ(
      with_devices("main fuse,fuse,main,160,80,50,gG,", "main breaker,breaker,main,160,80,50,,yes"),
      "curve-not-known breaker-polarised ");
  EXPECT_EQ(
      with_devices("main fuse,fuse,main,160,80,50,gG,", "main breaker,breaker,main,160,80,50,,no"),
      "curve-not-known ");
  EXPECT_EQ(
      with_devices("main fuse,fuse,main,160,80,50,gG,", "main breaker,breaker,main,160,80,50,,"),
      "curve-not-known polarity-unknown ");
  EXPECT_EQ(with_devices("isolator,isolator,main,250,80,,,", "isolator,isolator,main,250,80,,,yes"),
            "breaker-polarised ");
  EXPECT_EQ(with_devices("sun fuse,fuse,sun,63,80,50,gG,", "sun breaker,breaker,sun,63,80,50,,yes"),
            "curve-not-known breaker-polarised ");
  EXPECT_EQ(with_devices("sun isolator,isolator,sun,80,80,,,\n", ""), "no-solar-isolator ");
  EXPECT_EQ(with_devices("isolator,isolator,main,250,80,,,\n", ""), "no-isolator ");
  EXPECT_EQ(with_devices("precharge,precharge,main,,,,,\n", ""), "no-precharge ");
  EXPECT_EQ(with_devices("pack fuse,fuse,lead,125,80,50,gG,\n", ""), "no-pack-fuse ");
  EXPECT_EQ(with_devices("sun fuse,fuse,sun,63,80,50,gG,\n", ""), "unprotected-run ");
  EXPECT_EQ(with_devices("controller,solar-controller,sun,40,,,,\n", ""), "run-cannot-be-checked ");
  EXPECT_EQ(with_devices("160,80,50,gG", "160,80,50,fast"), "curve-not-known ");
  EXPECT_EQ(with_devices("lead,125", "lead,80"), "fuses-not-selective ");
  EXPECT_EQ(with_devices("lead,125", "lead,50"), "fuse-carries-too-little fuses-not-selective ");
  EXPECT_EQ(with_runs("2.5,70", "2.5,35"), "fuse-above-cable ");
  EXPECT_EQ(
      found(circuit("run,from,to,length_m,area_mm2,terminal_C\n"
                    "lead,pack,bus,0.5,50,\nmain,bus,inverter,2.5,16,90\nsun,bus,solar,3,,\n")),
      "conductor-too-small drop-too-large fuse-above-cable ");
  EXPECT_EQ(with_runs("2.5,70", "12,70"), "drop-too-large ");
  Supply jerk = supply();
  jerk.surge = 600.0 * units::A;
  EXPECT_EQ(found(circuit(), jerk), "fuse-opens-on-surge ");
  // A weak store behind a large fuse: it takes minutes, and meanwhile the cable burns.
  Supply weak = supply();
  weak.pack_high = 400.0 * units::mOhm;
  EXPECT_NE(found(circuit(), weak).find(findings::word(findings::Id::fuse_may_not_clear)),
            std::string::npos);
  // A thin lead behind a large fuse burns before it opens.
  const Circuit thin = circuit(replaced(runs_text, "0.5,50", "0.5,4"),
                               replaced(devices_text, "lead,125", "lead,400"));
  EXPECT_NE(found(thin).find(findings::word(findings::Id::cable_burns_first)), std::string::npos);
  EXPECT_NE(found(thin).find(findings::word(findings::Id::fuse_above_cable)), std::string::npos);
  // Terminals that may not become warm let less through than the cable would.
  EXPECT_EQ(
      found(circuit("run,from,to,length_m,area_mm2,terminal_C\n"
                    "lead,pack,bus,0.5,50,\nmain,bus,inverter,2.5,50,50\nsun,bus,solar,3,,\n")),
      "terminals-too-hot fuse-above-cable ");
}

// A short on one pack's lead is fed by all the others, each through its own fuse: the lead carries
// seven times what any fuse sees, and 49 times its I²t.
TEST(CircuitCheck, counts_what_the_other_packs_send_into_a_lead) {
  Supply s = supply();
  s.packs = 8;
  s.design = 366.0 * units::A, s.pack_worst = 52.0 * units::A;
  const std::string devices =
      "device,kind,at,rated_A,rated_V_dc,breaking_kA_dc,curve\npack fuse,fuse,lead,160,80,150,gG\n"
      "main fuse,fuse,main,500,80,200,gG\nisolator,isolator,main,1000,80,,\n"
      "precharge,precharge,main,,,,\n";
  const auto of = [&](int packs, const char* area) {
    s.packs = packs;
    const auto result = wiring::check(
        circuit(fmt::format("run,from,to,length_m,area_mm2,terminal_C\nlead,pack,bus,2,{},90\n"
                            "main,bus,inverter,1.5,240,90\n",
                            area),
                devices),
        s);
    for (const wiring::RunResult& r : result.runs)
      for (const wiring::Check& c : r.checks)
        if (r.run.name == "lead" && c.name == "short circuit") return c;
    return wiring::Check{};
  };
  EXPECT_TRUE(of(2, "35").passed());
  EXPECT_FALSE(of(8, "35").passed());
  EXPECT_NEAR(of(8, "35").value / of(2, "35").value, 49.0, 1e-9);
}

TEST(CircuitCheck, holds_all_sources_and_loads_against_the_packs) {
  EXPECT_NE(found(circuit("run,from,to,length_m,area_mm2\nmain,bus,inverter,2.5,70\n",
                          "device,kind,at,rated_A,rated_V_dc,breaking_kA_dc,curve\n"
                          "main fuse,fuse,main,160,80,50,gG\n"))
                .find(findings::word(findings::Id::no_pack_run)),
            std::string::npos);
  EXPECT_NE(found(circuit("run,from,to,length_m\nlead,pack,bus,1\n",
                          "device,kind,at,rated_A,rated_V_dc,breaking_kA_dc,curve\n"
                          "pack fuse,fuse,lead,160,80,50,gG\n"))
                .find(findings::word(findings::Id::no_inverter_run)),
            std::string::npos);
  const std::string two =
      "run,from,to,length_m,area_mm2,current_A\nlead,pack,bus,0.5,70,\n"
      "main,bus,inverter,2.5,70,120\nmain2,bus,inverter,2.5,70,120\n";
  const std::string devices =
      "device,kind,at,rated_A,rated_V_dc,breaking_kA_dc,curve\npack fuse,fuse,lead,125,80,50,gG\n"
      "f1,fuse,main,160,80,50,gG\nf2,fuse,main2,160,80,50,gG\n"
      "i1,isolator,main,250,80,,\ni2,isolator,main2,250,80,,\n"
      "p1,precharge,main,,,,\np2,precharge,main2,,,,\n";
  const std::string ids = found(circuit(two, devices));
  EXPECT_NE(ids.find(findings::word(findings::Id::loads_above_design)), std::string::npos) << ids;
  EXPECT_NE(ids.find(findings::word(findings::Id::fuse_carries_too_little)), std::string::npos)
      << ids;  // the pack's own
  // Chargers that give more than the cells take.
  Supply s = supply();
  s.charge_max = 230.0 * units::A;
  const std::string strong = replaced(devices_text, "controller,solar-controller,sun,40",
                                      "controller,solar-controller,sun,400");
  EXPECT_NE(
      found(circuit(runs_text, strong), s).find(findings::word(findings::Id::charge_above_cells)),
      std::string::npos);
  // Two inverters share what is not said, and each gets what its share needs.
  Circuit shared;
  shared.runs = wiring::read_runs(
      "run,from,to,length_m\nlead,pack,bus,0.5\nmain,bus,inverter,2.5\nmain2,bus,inverter,2.5\n",
      {});
  shared.devices = wiring::usual_devices(shared.runs, supply());
  for (const wiring::RunResult& r : wiring::check(shared, supply()).runs)
    if (r.run.to == wiring::Point::inverter) {
      EXPECT_DOUBLE_EQ(*r.current_A, 52.0);
      EXPECT_EQ(r.fuse_A, 80.0);
    }
  // Leads that are not alike, and something in the earth lead.
  EXPECT_NE(found(circuit("run,from,to,length_m,area_mm2\nlead,pack,bus,0.5,50\nfar,pack,bus,8,50\n"
                          "main,bus,inverter,2.5,70\nsun,bus,solar,3,\n"))
                .find(findings::word(findings::Id::unequal_leads)),
            std::string::npos);
  const std::string earth =
      found(circuit(std::string(runs_text) + "earth,bus,earth,4,16,\n",
                    std::string(devices_text) + "earth fuse,fuse,earth,10,32,1,gG,\n"));
  EXPECT_NE(earth.find(findings::word(findings::Id::device_in_earth)), std::string::npos) << earth;
}

TEST(CircuitCheck, proposes_the_smallest_section_and_says_what_decided) {
  const auto result = wiring::check(
      circuit("run,from,to,length_m\nlead,pack,bus,0.5\nmain,bus,inverter,2.5\nsun,bus,solar,3\n"),
      supply());
  ASSERT_EQ(result.runs.size(), 3u);
  for (const wiring::RunResult& r : result.runs) {
    EXPECT_TRUE(r.proposed);
    for (const wiring::Check& c : r.checks) EXPECT_TRUE(c.passed()) << r.run.name << ' ' << c.name;
    // The next smaller one fails just that check.
    const auto sections = wiring::ampacity_sections_mm2(wiring::Method::c);
    const auto at = std::find(sections.begin(), sections.end(), r.area_mm2);
    ASSERT_NE(at, sections.begin());
    Circuit smaller = result.circuit;
    for (wiring::Run& run : smaller.runs)
      if (run.name == r.run.name) run.area_mm2 = *(at - 1);
    for (const wiring::RunResult& again : wiring::check(smaller, supply()).runs) {
      if (again.run.name != r.run.name) continue;
      const auto failed = std::find_if(again.checks.begin(), again.checks.end(),
                                       [](const wiring::Check& c) { return !c.passed(); });
      ASSERT_NE(failed, again.checks.end());
      EXPECT_EQ(failed->name, r.decided_by);
    }
  }
  // A long thin way: the drop decides.
  const auto far = wiring::check(
      circuit("run,from,to,length_m\nlead,pack,bus,0.5\nmain,bus,inverter,30\nsun,bus,solar,3\n"),
      supply());
  EXPECT_EQ(far.runs[1].decided_by, "drop");
}

TEST(CircuitText, names_line_and_column_of_what_it_cannot_take) {
  const auto refused = [](const std::string& text, std::size_t line, std::size_t column,
                          const std::string& word) {
    try {
      (void)wiring::read_runs(text, {});
      ADD_FAILURE() << text;
    } catch (const base::InputError& e) {
      EXPECT_EQ(e.place().file, "runs.csv");
      EXPECT_EQ(e.place().line, line) << text;
      EXPECT_EQ(e.place().column, column) << text;
      EXPECT_NE((e.found() + e.expected()).find(word), std::string::npos) << e.found();
    }
  };
  const std::string head = "run,from,to,length_m,area_mm2,awg,insulation,ambient_C\n";
  refused(head + "main,bus,inverter,0,,,,\n", 2, 4, "length of 0");
  refused(head + "main,bus,inverter,-1,,,,\n", 2, 4, "500");
  refused(head + "main,bus,inverter,,,,,\n", 2, 4, "no length");
  refused(head + "main,bus,inverter,2,50,1/0,,\n", 2, 5, "gauge 1/0");
  refused(head + "main,bus,inverter,2,51,,,\n", 2, 5, "standard section");
  refused(head + "main,bus,inverter,2,,5/0,,\n", 2, 6, "gauge");
  refused(head + "main,bus,inverter,2,,,rubber,\n", 2, 7, "pvc, xlpe");
  refused(head + "main,bus,inverter,2,,,,-5\n", 2, 8, "10 to 60");
  refused(head + "main,bus,moon,2,,,,\n", 2, 3, "inverter");
  refused(head + "main,inverter,bus,2,,,,\n", 2, 1, "from pack to bus");
  refused(head + "main,bus,inverter,2,,,,\nmain,bus,charger,2,,,,\n", 3, 1, "two runs");
  refused("run,from,to,length_m,colour\n", 1, 5, "colour");
  const auto runs = wiring::read_runs(head + "main,bus,inverter,2,53.5,1/0,pvc,40\n", {});
  EXPECT_NEAR(*runs[0].area_mm2, 53.475, 0.01);  // ASTM B258
  for (const auto& [text, word] :
       {std::pair<std::string, std::string>{"device,kind,at,rated_A\nf,fuse,nowhere,1\n",
                                            "nowhere"},
        {"device,kind,at\nf,magic,main\n", "magic"},
        {"device,kind,at,rated_A\nf,fuse,main,-3\n", "-3"},
        {"device,kind,at,polarised\nf,breaker,main,perhaps\n", "perhaps"},
        {"device,kind,at\nf,fuse,main\nf,fuse,main\n", "two devices"}}) {
    try {
      (void)wiring::read_devices(text, runs);
      ADD_FAILURE() << text;
    } catch (const base::InputError& e) {
      EXPECT_EQ(e.place().file, "devices.csv");
      EXPECT_GT(e.place().line, 1u);
      EXPECT_NE(e.found().find(word), std::string::npos) << e.found();
    }
  }
}

}  // namespace

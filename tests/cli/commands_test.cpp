// SPDX-License-Identifier: Apache-2.0
// The command as people and scripts use it: contract, exit codes, and what it says of bad input.
#include <algorithm>
#include <map>
#include <sstream>

#include <gtest/gtest.h>

#include "cell/model.hpp"
#include "tests/support/support.hpp"

namespace {

using support::Folder;
using support::packhouse;
using support::Ran;

/// A whole test in few rows: charge with taper from empty, rest, discharge to the cut-off. Charging
/// positive.
std::string small_log(const std::string& header = "time_s,voltage_V,current_A", char comma = ',',
                      double volts = 1.0, double amps = 1.0) {
  std::string text = header + "\n";
  const auto row = [&](int t, double v, double i) {
    text += std::to_string(t) + comma + std::to_string(v * volts) + comma +
            std::to_string(i * amps) + "\n";
  };
  int t = 0;
  for (int k = 0; k < 10; ++k) row(t += 60, 2.80, 0.0);
  for (int k = 0; k < 200; ++k)
    row(t += 60,
        k < 10    ? 2.83 + 0.042 * k
        : k < 180 ? 3.25 + 0.001 * k
                  : 3.43 + 0.011 * (k - 179),
        30.0);
  for (int k = 1; k <= 20; ++k) row(t += 60, 3.65, 30.0 - 1.4 * k);
  for (int k = 0; k < 30; ++k) row(t += 60, 3.40, 0.0);
  for (int k = 0; k < 200; ++k)
    row(t += 60, k < 180 ? 3.32 - 0.0006 * k : 3.21 - 0.035 * (k - 179), -30.0);
  for (int k = 0; k < 10; ++k) row(t += 60, 2.75, 0.0);
  return text;
}

TEST(BenchCommand, gives_the_contract) {
  const Folder folder;
  support::write(folder / "a.csv", small_log());
  const Ran ran = packhouse("bench a.csv --json", folder.path());
  ASSERT_EQ(ran.code, 0) << ran.err;
  const base::Json report = ran.json().at(0);
  for (const char* key :
       {"file", "rows", "rows_rejected", "sha256", "columns", "phases", "measures", "findings"})
    EXPECT_TRUE(report.contains(key)) << key;
  EXPECT_EQ(report["sha256"].get<std::string>().size(), 64u);
  const base::Json& m = report["measures"];
  for (const char* key :
       {"discharge_capacity_Ah", "charge_capacity_Ah", "discharge_energy_Wh", "charge_energy_Wh",
        "charged_Ah", "discharged_Ah", "net_Ah", "coulombic_efficiency", "energy_efficiency",
        "dc_resistance_mOhm", "resistance_time_s", "mean_temperature_C"})
    EXPECT_TRUE(m.contains(key)) << key;
  EXPECT_NEAR(m["discharge_capacity_Ah"]["value"].get<double>(), 100.0,
              0.01);  // 200 rows of a minute at 30 A
  EXPECT_GT(m["discharge_capacity_Ah"]["u"].get<double>(), 0.0);
  EXPECT_NEAR(m["charged_Ah"].get<double>() - m["discharged_Ah"].get<double>(),
              m["net_Ah"].get<double>(), 1e-12);
  EXPECT_NEAR(m["coulombic_efficiency"]["value"].get<double>(),
              100.0 / m["charge_capacity_Ah"]["value"].get<double>(), 1e-9);
  std::string kinds;
  double charged = 0.0;
  for (const auto& p : report["phases"]) {
    kinds += p["kind"].get<std::string>() + "/" + p["mode"].get<std::string>() + " ";
    if (p["kind"] == "charge") charged += p["charge_Ah"].get<double>();
    if (p["kind"] == "discharge") {
      EXPECT_GT(p["mean_current_A"].get<double>(), 0.0);
    }
  }
  EXPECT_EQ(kinds,
            "rest/other charge/constant_current charge/constant_voltage rest/other "
            "discharge/constant_current rest/other ");
  EXPECT_NEAR(charged, m["charged_Ah"].get<double>(), 0.3);
}

TEST(BenchCommand, reads_the_same_from_every_shape_of_the_same_log) {
  const Folder folder;
  const auto capacity = [&](const std::string& name, const std::string& text,
                            const std::string& options = "") {
    support::write(folder / name, text);
    const Ran ran = packhouse("bench " + name + " --json " + options, folder.path());
    EXPECT_EQ(ran.code, 0) << name << ": " << ran.out << ran.err;
    return ran.code == 0
               ? ran.json().at(0)["measures"]["discharge_capacity_Ah"]["value"].get<double>()
               : 0.0;
  };
  EXPECT_NEAR(capacity("plain.csv", small_log()), 100.0, 0.01);
  EXPECT_NEAR(capacity("turned.csv", small_log("time_s,voltage_V,current_A", ',', 1.0, -1.0)),
              100.0, 0.01);
  EXPECT_NEAR(capacity("milli.csv", small_log("Time (s);Voltage [mV];Current [mA]", ';', 1e3, 1e3)),
              100.0, 0.01);
  EXPECT_NEAR(capacity("tab.txt", small_log("t/s\tU/V\tI/A", '\t')), 100.0, 0.01);
  EXPECT_NEAR(capacity("nounit.csv", small_log("time,voltage,current")), 100.0,
              0.01);  // as minutes or milliamperes no cell could be like this
  std::string comma = small_log("Zeit s;Spannung V;Strom A", ';');
  std::replace(comma.begin(), comma.end(), '.', ',');
  EXPECT_NEAR(capacity("comma.csv", comma), 100.0, 0.01);
  std::string crlf;
  for (const char c : small_log()) crlf += c == '\n' ? "\r\n" : std::string(1, c);
  EXPECT_NEAR(capacity("crlf.csv", "\xEF\xBB\xBF" + crlf), 100.0, 0.01);
  std::string wide("\xFF\xFE", 2);
  for (const char c : small_log()) wide += c, wide += '\0';
  EXPECT_NEAR(capacity("wide.csv", wide), 100.0, 0.01);
  std::string clock, iso;
  std::istringstream rows(small_log());
  for (std::string line; std::getline(rows, line);) {
    if (line.front() == 't') {
      clock += "Elapsed (h:mm:ss),Voltage (V),Current (A)\n";
      iso += "timestamp,voltage_V,current_A\n";
      continue;
    }
    const int t = std::stoi(line), h = t / 3600;
    char text[64];
    std::snprintf(text, sizeof text, "%d:%02d:%02d", h, t / 60 % 60, t % 60);
    clock += text + line.substr(line.find(',')) + "\n";
    std::snprintf(text, sizeof text, "2026-02-%02dT%02d:%02d:%02dZ", 11 + (h + 20) / 24,
                  (h + 20) % 24, t / 60 % 60, t % 60);
    iso += text + line.substr(line.find(',')) + "\n";
  }
  EXPECT_NEAR(capacity("clock.csv", clock), 100.0, 0.01);
  EXPECT_NEAR(capacity("iso.csv", iso), 100.0, 0.01);
}

TEST(BenchCommand, asks_where_two_readings_are_possible) {
  const Folder folder;
  support::write(folder / "two.csv",
                 "time_s,voltage_V,current A,Current 2 A\n0,3.3,1,2\n1,3.3,1,2\n2,3.3,1,2\n");
  const Ran ran = packhouse("bench two.csv --json", folder.path());
  EXPECT_EQ(ran.code, 2);
  EXPECT_EQ(ran.json().at(0)["question"]["readings"].size(), 2u);
  EXPECT_NE(ran.err.find("--columns"), std::string::npos);
  EXPECT_EQ(packhouse("bench two.csv --columns 'current=Current 2 A' --sign discharge-positive",
                      folder.path())
                .code,
            0);
}

struct BadLog {
  const char* name;
  std::string text;
  const char* says;  ///< must stand in the message
};

TEST(BenchCommand, refuses_bad_logs_with_one_message_each) {
  const Folder folder;
  const std::string good = "time_s,voltage_V,current_A\n0,3.30,0\n10,3.28,5\n20,3.27,5\n";
  for (const BadLog& bad :
       {BadLog{"empty.csv", "", "an empty log"}, BadLog{"blank.csv", "\n\n  \n", "an empty log"},
        BadLog{"header.csv", "time_s,voltage_V,current_A\n", "a header and no rows"},
        BadLog{"novolt.csv", "time_s,power_W,current_A\n0,1,0\n1,1,5\n", "no voltage column"},
        BadLog{"words.csv", good + "30,3.2x,5\n40,3.26,5\n", "'3.2x' as voltage"},
        BadLog{"nan.csv", good + "30,nan,5\n40,3.26,5\n", "'nan' as voltage"},
        BadLog{"inf.csv", good + "30,3.26,inf\n40,3.26,5\n", "'inf' as current"},
        BadLog{"back.csv", good + "15,3.26,5\n40,3.26,5\n", "a time that goes back by 5 s"},
        BadLog{"short.csv", good + "30\n40,3.26,5\n", "1 field in"},
        BadLog{"sentinel.csv", good + "30,65.535,5\n40,3.26,5\n", "65.535 V"},
        BadLog{"binary.csv", std::string("PK\x03\x04\0\0\0\0\x01\x02", 10),
               "a spreadsheet file or an archive"},
        BadLog{"prose.csv", "this is\nno log\n", "no rows of readings"}}) {
    support::write(folder / bad.name, bad.text);
    const Ran ran = packhouse(std::string("bench ") + bad.name, folder.path());
    EXPECT_EQ(ran.code, 2) << bad.name << ran.out;
    EXPECT_NE(ran.err.find(bad.says), std::string::npos) << bad.name << ": " << ran.err;
    EXPECT_NE(ran.err.find(bad.name), std::string::npos) << ran.err;
    for (const char* part : {"found:", "expected:", "to do:"})
      EXPECT_NE(ran.err.find(part), std::string::npos) << ran.err;
  }
  // A last row that the log's end cuts is left out, and said.
  support::write(folder / "cut.csv", good + "30,3.2");
  const Ran cut = packhouse("bench cut.csv", folder.path());
  EXPECT_EQ(cut.code, 0) << cut.err;
  EXPECT_NE(cut.out.find("last-row-cut"), std::string::npos) << cut.out;
  const Ran placed = packhouse("bench words.csv", folder.path());
  EXPECT_NE(placed.err.find("line 5, column 2"), std::string::npos) << placed.err;
  const Ran left_out = packhouse("bench words.csv --leave-out-bad-rows --json", folder.path());
  EXPECT_EQ(left_out.code, 0);
  EXPECT_EQ(left_out.json().at(0)["rows_rejected"], 1);
}

TEST(BenchCommand, prints_the_readable_logs_beside_the_unreadable) {
  const Folder folder;
  support::write(folder / "good.csv", small_log());
  support::write(folder / "bad.csv", "");
  const Ran ran = packhouse("bench good.csv bad.csv missing.csv --json", folder.path());
  EXPECT_EQ(ran.code, 2);
  EXPECT_TRUE(ran.json().at(0).contains("measures"));
  EXPECT_TRUE(ran.json().at(1).contains("error"));
  EXPECT_TRUE(ran.json().at(2).contains("error"));
}

TEST(MatchCommand, gives_the_contract_and_refuses_what_cannot_be) {
  const Folder folder;
  support::write(
      folder / "cells.csv",
      "label,capacity_Ah,resistance_mOhm\na,100,0.5\nb,101,0.5\nc,99,0.4\nd,103,0.5\ne,98,0.5\n");
  const Ran ran =
      packhouse("match cells.csv --packs 2 --series 2 --parallel 1 --json", folder.path());
  ASSERT_EQ(ran.code, 0) << ran.err;
  const base::Json a = ran.json();
  for (const char* key : {"packs", "spares", "bank_capacity_Ah", "smallest_pack_Ah",
                          "upper_bound_Ah", "gap", "proven_optimal", "method", "findings"})
    EXPECT_TRUE(a.contains(key)) << key;
  EXPECT_EQ(a["bank_capacity_Ah"], 200.0);
  EXPECT_EQ(a["spares"], base::Json::array({"e"}));
  EXPECT_TRUE(a["proven_optimal"]);
  struct Bad {
    const char* text;
    const char* words;
    const char* says;
  };
  for (const Bad& bad :
       {Bad{"label,capacity_Ah\na,100\na,101\n", "--packs 1 --series 2", "two cells labelled 'a'"},
        Bad{"label,capacity_Ah\na,100\n", "--packs 1 --series 2", "1 cells for 2 places"},
        Bad{"label,Ah\na,100\n", "--packs 1 --series 1", "no column 'capacity_Ah'"},
        Bad{"label,capacity_Ah\na,1oo\n", "--packs 1 --series 1", "'1oo' as capacity_Ah"},
        Bad{"label,capacity_Ah\na,nan\n", "--packs 1 --series 1", "'nan' as capacity_Ah"},
        Bad{"label,capacity_Ah\na,\n", "--packs 1 --series 1", "a cell without capacity"},
        Bad{"label,capacity_Ah\na,100\n", "--packs 0 --series 1", "--packs 0"},
        Bad{"", "--packs 1 --series 1", "an empty table"}}) {
    support::write(folder / "bad.csv", bad.text);
    const Ran refused = packhouse(std::string("match bad.csv ") + bad.words, folder.path());
    EXPECT_EQ(refused.code, 2) << bad.text;
    EXPECT_NE(refused.err.find(bad.says), std::string::npos) << refused.err;
  }
}

TEST(ReckonCommand, takes_keys_with_and_without_suffix_and_values_with_units) {
  for (const char* words :
       {"length_m=3.5", "length=3.5m", "length=350cm", "length=3500 mm", "Length_M=3.5"}) {
    const Ran ran = packhouse("reckon conductor-resistance area_mm2=70 class=5 temperature_C=70 '" +
                              std::string(words) + "' --json");
    ASSERT_EQ(ran.code, 0) << words << ran.err;
    EXPECT_NEAR(ran.json()["outputs"]["resistance_mOhm"].get<double>(), 1.13911, 0.0005) << words;
    for (const char* key : {"name", "inputs", "outputs", "units", "formula", "source", "cautions"})
      EXPECT_TRUE(ran.json().contains(key)) << key;
  }
  EXPECT_NEAR(packhouse("reckon cell-heat current=115 resistance=0.5 temperature=77F --json")
                  .json()["inputs"]["temperature_C"]
                  .get<double>(),
              25.0, 1e-9);
  for (const char* bad :
       {"reckon nothing", "reckon precharge voltage=5",
        "reckon precharge voltage=5kg capacitance=1 resistance=1",
        "reckon spares needed=1.5 reject=1", "reckon calendar-loss days=10 state_of_charge=1.2",
        "reckon ampacity insulation=rubber method=F area=70",
        "reckon conductor-resistance area=71 length=1",
        "reckon conductor-resistance area=70 awg=4 length=1", "reckon precharge voltage",
        "reckon fault-current open_circuit=5 open_circuit_V=6 resistance=1"}) {
    const Ran ran = packhouse(bad);
    EXPECT_EQ(ran.code, 2) << bad;
    EXPECT_NE(ran.err.find("to do:"), std::string::npos) << ran.err;
  }
}

TEST(DemoCommand, leaves_project_plan_and_book_and_says_so) {
  const Folder folder;
  const Ran ran = packhouse("demo out", folder.path());
  ASSERT_EQ(ran.code, 0) << ran.err;
  for (const char* file :
       {"out/smallholding.packhouse", "out/plan.json", "out/book.pdf", "out/book.html"}) {
    EXPECT_TRUE(std::filesystem::exists(folder / file)) << file;
    EXPECT_NE(ran.out.find(file), std::string::npos) << file;
  }
  EXPECT_NE(ran.out.find("invented"), std::string::npos);
  const base::Json plan = base::Json::parse(support::read(folder / "out/plan.json"));
  for (const char* step : {"brief", "choose", "size", "order", "receive", "test", "match", "wire",
                           "commission", "forecast", "watch", "book"})
    EXPECT_TRUE(plan.contains(step)) << step;
  // 38 cells for 32 places: the weak one is found short, the resistive one set aside, and neither
  // is placed.
  std::map<std::string, std::string> place, verdict;
  for (const auto& c : plan["test"]["cells"])
    place[c["label"]] = c["place"], verdict[c["label"]] = c["verdict"];
  EXPECT_EQ(place.size(), 38u);
  EXPECT_EQ(verdict["C23"], "reject");
  EXPECT_EQ(place["C23"], "spare");
  EXPECT_EQ(place["C09"], "set aside");
  EXPECT_EQ(verdict["C07"], "accept");  // the two logs in awkward formats
  EXPECT_EQ(verdict["C16"], "accept");
  EXPECT_EQ(packhouse("demo out", folder.path()).code, 0) << "a second run replaces its own files";
  EXPECT_EQ(packhouse("check out/smallholding.packhouse", folder.path()).code, 0);
  const Ran why =
      packhouse("plan out/smallholding.packhouse --why wire.fault_current_pack_kA", folder.path());
  EXPECT_NE(why.out.find("packhouse reckon fault-current"), std::string::npos);
  EXPECT_EQ(packhouse("plan out/smallholding.packhouse --why no.such", folder.path()).code, 2);
  EXPECT_EQ(packhouse("plan out/smallholding.packhouse --json", folder.path()).json(), plan);
}

TEST(BookCommand, prints_the_same_bytes_for_the_same_day) {
  const Folder folder;
  ASSERT_EQ(packhouse("demo out", folder.path()).code, 0);
  ::setenv("SOURCE_DATE_EPOCH", "1772323200", 1);
  ASSERT_EQ(packhouse("book out/smallholding.packhouse --out one", folder.path()).code, 0);
  ASSERT_EQ(packhouse("book out/smallholding.packhouse --out two", folder.path()).code, 0);
  ::unsetenv("SOURCE_DATE_EPOCH");
  EXPECT_EQ(support::read(folder / "one/book.pdf"), support::read(folder / "two/book.pdf"));
  const std::string html = support::read(folder / "one/book.html");
  EXPECT_EQ(html, support::read(folder / "two/book.html"));
  EXPECT_EQ(html.find("http://"), std::string::npos) << "nothing is loaded from elsewhere";
  EXPECT_EQ(html.find("<script"), std::string::npos);
}

std::string output_of(const std::string& command) {
  FILE* pipe = ::popen(command.c_str(), "r");
  std::string text;
  char block[4096];
  for (std::size_t n = 0; (n = std::fread(block, 1, sizeof block, pipe)) > 0;)
    text.append(block, n);
  ::pclose(pipe);
  return text;
}

TEST(BookCommand, prints_real_text_with_contents_and_no_pictures_of_text) {
  const Folder folder;
  ASSERT_EQ(packhouse("demo out", folder.path()).code, 0);
  const std::string pdf = (folder / "out/book.pdf").string();
  const std::string text = output_of("pdftotext -layout '" + pdf + "' -");
  for (const char* words :
       {"Contents", "In an emergency", "What can hurt", "Which cell goes where", "Settings",
        "Checklists", "Where the numbers come from", "common practice, no source"}) {
    EXPECT_NE(text.find(words), std::string::npos) << words;
  }
  for (int i = 1; i <= 38; ++i) {
    const std::string label = (i < 10 ? "C0" : "C") + std::to_string(i);
    EXPECT_NE(text.find(label), std::string::npos) << label;
  }
  const std::string images = output_of("pdfimages -list '" + pdf + "' | tail -n +3");
  EXPECT_EQ(images, "") << "vector all through";
}

TEST(Commands, make_text_from_labels_inert) {
  const Folder folder;
  ASSERT_EQ(packhouse("example cabin text", folder.path()).code, 0);
  std::string cells = support::read(folder / "text/cells.csv");
  cells.replace(cells.find("C01,"), 4, "\"<img src=x onerror=alert(1)>\",");
  support::write(folder / "text/cells.csv", cells);
  std::filesystem::rename(folder / "text/logs/C01.csv", folder / "text/logs/other.csv");
  ASSERT_EQ(packhouse("import text p.packhouse && '" PACKHOUSE_COMMAND "' book p.packhouse --out b",
                      folder.path())
                .code,
            0);
  const std::string html = support::read(folder / "b/book.html");
  EXPECT_EQ(html.find("<img"), std::string::npos);
  EXPECT_NE(html.find("&lt;img"), std::string::npos);
}

TEST(Commands, write_nothing_where_they_may_not_or_something_is_there) {
  const Folder folder;
  ASSERT_EQ(packhouse("example cabin text", folder.path()).code, 0);
  ASSERT_EQ(packhouse("import text p.packhouse", folder.path()).code, 0);
  const std::string before = support::read(folder / "p.packhouse");
  EXPECT_EQ(packhouse("import text p.packhouse", folder.path()).code, 2);
  EXPECT_EQ(support::read(folder / "p.packhouse"), before);
  EXPECT_EQ(packhouse("example cabin text", folder.path()).code, 2);
  EXPECT_EQ(packhouse("export p.packhouse text", folder.path()).code, 2);
  // A file where a folder should be: unwritable for everybody, root too.
  support::write(folder / "file", "x");
  for (const char* words :
       {"book p.packhouse --out file/b", "book p.packhouse --out file", "demo file/d",
        "export p.packhouse file/e", "import text file/p.packhouse", "example cabin file/c"}) {
    const Ran ran = packhouse(words, folder.path());
    EXPECT_EQ(ran.code, 2) << words << ran.err;
    EXPECT_NE(ran.err.find("file"), std::string::npos);
  }
  EXPECT_EQ(support::read(folder / "file"), "x");
  for (const auto& entry : std::filesystem::recursive_directory_iterator(folder.path()))
    EXPECT_EQ(entry.path().string().find(".part-"), std::string::npos) << entry.path();
}

TEST(Commands, name_file_line_and_column_of_a_bad_project_text) {
  const Folder folder;
  ASSERT_EQ(packhouse("example cabin good", folder.path()).code, 0);
  const std::string toml = support::read(folder / "good/project.toml"),
                    cells = support::read(folder / "good/cells.csv");
  struct Bad {
    const char* from;
    const char* to;
    const char* says;
  };
  int n = 0;
  for (const Bad& bad :
       {Bad{"rated_capacity_Ah = 105", "rated_capacity_Ah = -1", "rated_capacity_Ah = -1"},
        Bad{"rated_capacity_Ah = 105", "rated_capacity_Ah = \"105\"", "rated_capacity_Ah"},
        Bad{"series = 8", "serie = 8", "the key 'serie' in [layout]"},
        Bad{"[bus]", "[buss]", "[buss]"}, Bad{"series = 8", "series = 8.5", "whole number"},
        Bad{"power_W = 1500", "power_W = ", "line"}, Bad{"min_V = 2.5", "min_V = 3.7", "min_V"},
        Bad{"quantity = 18", "quantity = 0", "quantity"}}) {
    const std::string name = "bad" + std::to_string(++n);
    std::string text = toml;
    text.replace(text.find(bad.from), std::string(bad.from).size(), bad.to);
    support::write(folder / (name + "/project.toml"), text);
    const Ran ran = packhouse("import " + name + " " + name + ".packhouse", folder.path());
    EXPECT_EQ(ran.code, 2) << bad.to;
    EXPECT_NE(ran.err.find(name + "/project.toml"), std::string::npos) << ran.err;
    EXPECT_NE(ran.err.find(bad.says), std::string::npos) << ran.err;
    EXPECT_FALSE(std::filesystem::exists(folder / (name + ".packhouse")));
  }
  support::write(folder / "twice/project.toml", toml);
  support::write(folder / "twice/cells.csv", cells + "C02,,,,,,\n");
  const Ran twice = packhouse("import twice t.packhouse", folder.path());
  EXPECT_EQ(twice.code, 2);
  EXPECT_NE(twice.err.find("two cells labelled 'C02'"), std::string::npos) << twice.err;
  EXPECT_NE(twice.err.find("line 20"), std::string::npos) << twice.err;
}

TEST(Commands, report_stop_findings_by_exit_code_1) {
  const Folder folder;
  ASSERT_EQ(packhouse("example cabin text", folder.path()).code, 0);
  std::string toml = support::read(folder / "text/project.toml");
  toml += "\n[charge]\nper_cell_V = 3.65\n";
  support::write(folder / "text/project.toml", toml);
  ASSERT_EQ(packhouse("import text p.packhouse", folder.path()).code, 0);
  const Ran ran = packhouse("check p.packhouse --json", folder.path());
  EXPECT_EQ(ran.code, 1);
  EXPECT_NE(ran.out.find("charger-above-trip"), std::string::npos);
  EXPECT_EQ(packhouse("plan p.packhouse", folder.path()).code, 1);
}

TEST(Commands, have_help_with_an_example_each) {
  for (const char* verb : {"demo", "example", "new", "import", "export", "bench", "match", "reckon",
                           "plan", "check", "book"}) {
    const Ran ran = packhouse(std::string(verb) + " --help");
    EXPECT_EQ(ran.code, 0);
    EXPECT_NE(ran.out.find("Example:"), std::string::npos) << verb;
  }
  EXPECT_EQ(packhouse("nonsense").code, 2);
  EXPECT_EQ(packhouse("").code, 2);
}

TEST(NewCommand, makes_a_project_that_plans) {
  const Folder folder;
  ASSERT_EQ(packhouse("new n.packhouse --name 'Barn' --capacity-Ah 230 --resistance-mOhm 0.5 "
                      "--power-W 5000 --packs 2",
                      folder.path())
                .code,
            0);
  const Ran ran = packhouse("plan n.packhouse --json", folder.path());
  EXPECT_EQ(ran.code, 0) << ran.err;
  EXPECT_NEAR(ran.json()["size"]["figures"]["energy_kWh"]["value"].get<double>(),
              2 * 16 * 3.2 * 0.230, 1e-9);
}

std::string least_project(const std::string& more) {
  return "[project]\nname = \"n\"\ncurrency = \"EUR\"\n[cell]\nchemistry = \"lfp\"\nrated_capacity_Ah = 230\ndc_resistance_mOhm = 0.5\nmax_V = 3.65\nmin_V = 2.5\n" +
         more;
}

TEST(Plan, works_out_whatever_import_accepts) {
  const Folder folder;
  int n = 0;
  for (const std::string area : {"1.5", "6", "16", "25", "240"})
    for (const std::string power : {"1000", "5000", "60000", "200000"}) {
      const std::string name = "p" + std::to_string(++n);
      support::write(
          folder / (name + "/project.toml"),
          least_project("[layout]\npacks = 1\nseries = 16\nparallel = 1\n[bus]\npower_W = " +
                        power + "\n[wiring]\narea_mm2 = " + area + "\n"));
      ASSERT_EQ(packhouse("import " + name + " " + name + ".packhouse", folder.path()).code, 0)
          << area << " " << power;
      const Ran ran = packhouse("plan " + name + ".packhouse --json", folder.path());
      EXPECT_LE(ran.code, 1) << area << " " << power << ran.err;
      const base::Json figures = ran.json()["wire"]["figures"];
      for (const char* fuse : {"main_fuse_A", "pack_fuse_A"}) {
        if (figures.contains(fuse)) {
          EXPECT_GT(figures[fuse]["value"].get<double>(), 0.0);
        } else {
          EXPECT_NE(ran.out.find("no-fuse-rating"), std::string::npos);
        }
      }
      EXPECT_EQ(packhouse("book " + name + ".packhouse --out " + name + "b", folder.path()).code,
                ran.code);
    }
  support::write(
      folder / "bad/project.toml",
      least_project(
          "[layout]\npacks = 1\nseries = 16\nparallel = 1\n[bus]\npower_W = 1000\n[wiring]\narea_mm2 = 17\n"));
  const Ran refused = packhouse("import bad bad.packhouse", folder.path());
  EXPECT_EQ(refused.code, 2);
  EXPECT_NE(refused.err.find("wiring.area_mm2 = 17"), std::string::npos) << refused.err;
}

TEST(Plan, chooses_a_section_that_its_own_fuse_protects) {
  const Folder folder;
  for (const std::string power : {"2000", "5000", "10000", "15000"}) {
    support::write(
        folder / (power + "/project.toml"),
        least_project("[layout]\npacks = 2\nseries = 16\nparallel = 1\n[bus]\npower_W = " + power +
                      "\n"));
    ASSERT_EQ(packhouse("import " + power + " " + power + ".packhouse", folder.path()).code, 0);
    EXPECT_EQ(packhouse("check " + power + ".packhouse --json", folder.path())
                  .out.find("fuse-above-cable"),
              std::string::npos)
        << power;
  }
}

TEST(Commands, say_when_their_answer_cannot_be_written) {
  for (const char* words : {"reckon --json", "reckon spares needed=32 reject=3"}) {
    const Ran ran = packhouse(std::string(words) + " >/dev/full");
    EXPECT_EQ(ran.code, 2) << words;
    EXPECT_NE(ran.err.find("standard output"), std::string::npos) << ran.err;
  }
}

TEST(BenchCommand, gives_no_resistance_where_no_current_flowed) {
  const Folder folder;
  support::write(folder / "rest.csv",
                 "time_s,voltage_V,current_A\n0,3.30,0\n10,3.30,0\n20,3.30,0\n");
  const base::Json m = packhouse("bench rest.csv --json", folder.path()).json().at(0)["measures"];
  EXPECT_TRUE(m["dc_resistance_mOhm"].is_null());
  EXPECT_TRUE(m["resistance_time_s"].is_null());
}

TEST(MatchCommand, names_the_wrong_separator_and_a_doubled_column) {
  const Folder folder;
  support::write(folder / "semi.csv", "label;capacity_Ah\na;100\n");
  EXPECT_NE(packhouse("match semi.csv --packs 1 --series 1", folder.path()).err.find("semicolons"),
            std::string::npos);
  support::write(folder / "twice.csv", "label,capacity_Ah,capacity_Ah\na,100,99\n");
  EXPECT_NE(packhouse("match twice.csv --packs 1 --series 1", folder.path())
                .err.find("two columns named"),
            std::string::npos);
  support::write(folder / "blank.csv", "label,capacity_Ah\na,100\n a ,99\n");
  EXPECT_NE(packhouse("match blank.csv --packs 1 --series 1", folder.path())
                .err.find("two cells labelled"),
            std::string::npos);
}

TEST(ClaimCommand, writes_a_sheet_and_the_log_of_every_cell_that_falls_short) {
  const Folder folder;
  ASSERT_EQ(packhouse("example smallholding sm && '" PACKHOUSE_COMMAND "' import sm sm.packhouse",
                      folder.path())
                .code,
            0);
  const Ran ran = packhouse("claim sm.packhouse --out claim --json", folder.path());
  ASSERT_EQ(ran.code, 0) << ran.err;
  const auto cells = ran.json()["cells"];
  ASSERT_EQ(cells.size(), 1u);
  const std::string label = cells[0].get<std::string>();
  EXPECT_EQ(support::read(folder / "claim" / "logs" / (label + ".csv")),
            support::read(folder / "sm" / "logs" / (label + ".csv")));
  const std::string page = support::read(folder / "claim" / "claim.html");
  for (const char* word :
       {"ordered", "method", "SHA-256", "standard uncertainty", "below 0.1", "JCGM106"})
    EXPECT_NE(page.find(word), std::string::npos) << word;
  EXPECT_EQ(support::read(folder / "claim" / "claim.pdf").substr(0, 4), "%PDF");
  EXPECT_NE(support::read(folder / "claim" / "SHA256SUMS").find("logs/" + label),
            std::string::npos);
}

TEST(QueueCommand, plans_what_has_no_log_yet_and_forgets_what_has) {
  const Folder folder;
  ASSERT_EQ(packhouse("example smallholding sm", folder.path()).code, 0);
  for (const char* label : {"C30", "C31", "C32", "C33"})
    support::fs::remove(folder / "sm" / "logs" / (std::string(label) + ".csv"));
  ASSERT_EQ(packhouse("import sm sm.packhouse", folder.path()).code, 0);
  const Ran ran = packhouse("queue sm.packhouse --testers 50/50,20/40 --json", folder.path());
  ASSERT_EQ(ran.code, 0) << ran.err;
  EXPECT_EQ(ran.json()["slots"].size(), 4u);
  EXPECT_GT(ran.json()["days"].get<double>(), 0.5);
  EXPECT_EQ(ran.json()["slots"][0]["end_charge"], 0.5);
  const Ran text = packhouse("queue sm.packhouse", folder.path());
  EXPECT_NE(text.out.find("C31"), std::string::npos);
  EXPECT_EQ(text.out.find("C01"), std::string::npos);
}

TEST(Channels, correct_the_capacities_of_the_plan) {
  const Folder folder;
  ASSERT_EQ(packhouse("example smallholding sm", folder.path()).code, 0);
  support::write(folder / "sm" / "channels.csv",
                 "label,channel,charge_Ah,hours\nreference,1,232.0,5\nreference,2,228.0,5\n"
                 "C01,1\nC02,2\n");
  ASSERT_EQ(packhouse("import sm sm.packhouse", folder.path()).code, 0);
  const base::Json test = packhouse("plan sm.packhouse --json", folder.path()).json()["test"];
  EXPECT_NEAR(test["testers"]["reference_Ah"].get<double>(), 230.0, 1e-3);
  for (const auto& cell : test["cells"]) {
    if (cell["label"] != "C01") continue;
    EXPECT_NEAR(cell["capacity_Ah"]["value"].get<double>(),
                cell["capacity_before_Ah"]["value"].get<double>() / (232.0 / 230.0), 1e-3);
  }
  support::write(folder / "sm" / "channels.csv",
                 "label,channel,charge_Ah,hours\nreference,1,x,5\n");
  const Ran bad = packhouse("import sm bad.packhouse", folder.path());
  EXPECT_EQ(bad.code, 2);
  EXPECT_NE(bad.err.find("channels.csv"), std::string::npos) << bad.err;
}

TEST(BenchCommand, fits_a_model_and_judges_against_a_limit) {
  const Folder folder;
  ASSERT_EQ(packhouse("example smallholding sm", folder.path()).code, 0);
  const Ran ran =
      packhouse("bench sm/logs/C01.csv sm/logs/C01.csv --model --limit 230 --json", folder.path());
  ASSERT_EQ(ran.code, 0) << ran.err;
  const base::Json both = ran.json(), log = both.at(0);
  EXPECT_GT(log["model"]["r0_mOhm"]["value"].get<double>(), 0.0);
  EXPECT_LT(log["model"]["residual_rms_mV"].get<double>(), 5.0);
  EXPECT_EQ(log["verdict"]["verdict"], "accept");
  bool twice = false;
  for (const auto& f : both.at(1)["findings"]) twice = twice || f["id"] == "same-log-twice";
  EXPECT_TRUE(twice);
}

TEST(LabelsCommand, prints_a_sheet_for_every_pack_and_refuses_where_nothing_is_placed) {
  const Folder folder;
  ASSERT_EQ(packhouse("example smallholding sm", folder.path()).code, 0);
  ASSERT_EQ(packhouse("import sm sm.packhouse", folder.path()).code, 0);
  const Ran ran = packhouse("labels sm.packhouse --out labels.pdf --json", folder.path());
  ASSERT_EQ(ran.code, 0) << ran.err;
  EXPECT_EQ(ran.json()["sheets"], 3);
  EXPECT_EQ(support::read(folder / "labels.pdf").substr(0, 4), "%PDF");
  ASSERT_EQ(
      packhouse("new bare.packhouse --name bare --capacity-Ah 100 --resistance-mOhm 1 --packs 1 "
                "--series 16 --parallel 1 --power-W 1000",
                folder.path())
          .code,
      0);
  EXPECT_EQ(packhouse("labels bare.packhouse --out none.pdf", folder.path()).code, 2);
  EXPECT_FALSE(support::fs::exists(folder / "none.pdf"));
}

TEST(MatchCommand, answers_what_if_and_what_it_is_worth) {
  const Folder folder;
  std::string csv = "label,capacity_Ah,resistance_mOhm\n";
  for (int i = 0; i < 20; ++i)
    csv += "c" + std::to_string(i) + "," + std::to_string(228 + i % 7) + ".5,0.4\n";
  support::write(folder / "cells.csv", csv);
  const std::string ask = "match cells.csv --packs 1 --series 8 --parallel 2 --json ";
  const base::Json plain = packhouse(ask, folder.path()).json();
  EXPECT_LE(plain["random_Ah"]["mean"].get<double>(), plain["bank_capacity_Ah"].get<double>());
  EXPECT_LE(plain["sorted_Ah"].get<double>(), plain["bank_capacity_Ah"].get<double>() + 1e-9);
  const std::string in = plain["packs"][0]["groups"][0]["cells"][0].get<std::string>(),
                    out = plain["spares"][0].get<std::string>();
  const base::Json swapped = packhouse(ask + "--exchange " + in + "," + out, folder.path()).json();
  EXPECT_LE(swapped["change"]["bank_change_Ah"].get<double>(), 1e-9);
  EXPECT_EQ(packhouse(ask + "--without " + in, folder.path()).json()["change"]["bank_change_Ah"],
            swapped["change"]["bank_change_Ah"]);
  EXPECT_EQ(packhouse(ask + "--exchange c1", folder.path()).code, 2);
  EXPECT_EQ(packhouse(ask + "--without nobody", folder.path()).code, 2);
}

TEST(MatchRules, are_kept_in_the_plan_and_a_conflict_is_said) {
  const Folder folder;
  ASSERT_EQ(packhouse("example smallholding sm", folder.path()).code, 0);
  const std::string text = support::read(folder / "sm" / "project.toml");
  support::write(folder / "sm" / "project.toml",
                 text + "\n[match]\nfixed = \"C01@B-03\"\nkept_out = \"C02\"\n");
  ASSERT_EQ(packhouse("import sm sm.packhouse", folder.path()).code, 0);
  const base::Json plan = packhouse("plan sm.packhouse --json", folder.path()).json();
  for (const auto& cell : plan["test"]["cells"]) {
    if (cell["label"] == "C01") {
      EXPECT_EQ(cell["place"], "B-03");
    }
    if (cell["label"] == "C02") {
      EXPECT_EQ(cell["place"], "");
    }
  }
  support::write(folder / "sm" / "project.toml",
                 text + "\n[match]\nspares = 20\nfixed = \"C01@A-01, C01@A-02\"\n");
  ASSERT_EQ(packhouse("import sm no.packhouse", folder.path()).code, 0);
  const Ran conflict = packhouse("plan no.packhouse --json", folder.path());
  EXPECT_EQ(conflict.code, 1);
  EXPECT_NE(conflict.out.find("rules-conflict"), std::string::npos);
  EXPECT_NE(conflict.out.find("fixed in two places"), std::string::npos);
}

TEST(MatchCommand, answers_for_a_project_in_years_too_and_keeps_the_builders_order_of_aims) {
  const Folder folder;
  ASSERT_EQ(packhouse("example smallholding sm", folder.path()).code, 0);
  ASSERT_EQ(packhouse("import sm sm.packhouse", folder.path()).code, 0);
  const base::Json plain = packhouse("match sm.packhouse --json", folder.path()).json();
  ASSERT_FALSE(plain["spares"].empty());
  const std::string weak = plain["packs"][0]["groups"][0]["cells"][0];
  const base::Json change =
      packhouse("match sm.packhouse --json --without " + weak, folder.path()).json()["change"];
  EXPECT_LE(change["bank_change_Ah"].get<double>(), 1e-9);
  // A smaller bank falls too low sooner; neither answer is merely where the search ended.
  EXPECT_LT(change["years"]["after"].get<double>(), change["years"]["before"].get<double>());
  EXPECT_GT(change["years"]["before"].get<double>(), 1.0);
  const Ran other = packhouse("match sm.packhouse --json --other-layout 1x8S2P", folder.path());
  EXPECT_EQ(other.code, 0);
  EXPECT_LT(other.json()["change"]["energy_change"].get<double>(), 0.0);
  EXPECT_EQ(packhouse("match sm.packhouse --other-layout 99x99S2P", folder.path()).code, 2);
  EXPECT_EQ(packhouse("match sm.packhouse --packs 2 --series 4", folder.path()).code, 2);
  const std::string text = support::read(folder / "sm" / "project.toml");
  support::write(folder / "sm" / "project.toml",
                 text + "\n[match]\nlater_aims = \"leak, sparkle\"\nlot_is = \"date-made\"\n");
  ASSERT_EQ(packhouse("import sm other.packhouse", folder.path()).code, 0);
  EXPECT_NE(packhouse("check other.packhouse", folder.path()).out.find("'sparkle' is no aim"),
            std::string::npos);
}

TEST(SimulateCommand, gives_the_contract_and_writes_the_series) {
  const Folder folder;
  ASSERT_EQ(packhouse("example smallholding sm", folder.path()).code, 0);
  ASSERT_EQ(packhouse("import sm sm.packhouse", folder.path()).code, 0);
  support::write(folder / "p.csv", "time_s,power_W\n0,3000\n3600,0\n4000,-2000\n7630,0\n");
  const Ran ran = packhouse(
      "simulate sm.packhouse --profile p.csv --start-soc 0.8 --series s.csv --json", folder.path());
  ASSERT_EQ(ran.code, 0) << ran.err;
  const base::Json json = ran.json();
  EXPECT_EQ(json["steps"], 60 + 7 + 61);  // rows are met exactly
  EXPECT_DOUBLE_EQ(json["end"]["time_s"].get<double>(), 7630.0);
  EXPECT_NEAR(json["end"]["delivered_Wh"].get<double>(), 3000.0 - 2000.0 * 3630.0 / 3600.0, 2.0);
  EXPECT_TRUE(json["stopped_by"].is_null());
  ASSERT_EQ(json["packs"].size(), 2u);
  double packs_Ah = 0.0;
  for (const auto& p : json["packs"]) {
    EXPECT_LT(p["lowest_V"].get<double>(), p["highest_V"].get<double>());
    EXPECT_FALSE(p["lowest_cell"].get<std::string>().empty());
    packs_Ah += p["delivered_Ah"].get<double>();
  }
  EXPECT_NEAR(packs_Ah, json["end"]["delivered_Ah"].get<double>(), 1e-6);
  const std::string series = support::read(folder / "s.csv");
  EXPECT_EQ(series.rfind("time_s,bus_V,bus_A,A_A,B_A,", 0), 0u);
  EXPECT_EQ(std::count(series.begin(), series.end(), '\n'), 1 + 128);
  EXPECT_NE(series.substr(0, series.find('\n')).find("C01_V,C01_soc,C01_C"), std::string::npos);
  // A quarter of an hour more of power than the bank can give: it stops, and says by what.
  support::write(folder / "q.csv", "time_s,power_W\n0,9000\n36000,0\n");
  const base::Json emptied =
      packhouse("simulate sm.packhouse --profile q.csv --json", folder.path()).json();
  EXPECT_EQ(emptied["stopped_by"]["where"], "bus");
  EXPECT_GT(emptied["stopped_by"]["time_s"].get<double>(), 600.0);
}

TEST(SimulateCommand, plays_several_profiles_as_each_alone_and_follows_the_room) {
  const Folder folder;
  ASSERT_EQ(packhouse("example cabin c", folder.path()).code, 0);
  ASSERT_EQ(packhouse("import c c.packhouse", folder.path()).code, 0);
  support::write(folder / "p.csv", "time_s,power_W\n0,60\n36000,0\n");
  support::write(folder / "q.csv",
                 "time_s,power_W,room_C\n0,60,20\n1800,60,\n7200,60,2\n36000,0,\n");
  const auto played = [&](const std::string& profiles) {
    return packhouse("simulate c.packhouse --profile " + profiles + " --json", folder.path())
        .json();
  };
  const base::Json both = played("p.csv q.csv");
  ASSERT_EQ(both["runs"].size(), 2u);
  for (const int i : {0, 1}) {
    base::Json run = both["runs"][std::size_t(i)];
    run.erase("profile");
    EXPECT_EQ(run, played(i == 0 ? "p.csv" : "q.csv"));
  }
  // Colder cells resist more, and warm their wires no less.
  EXPECT_LT(both["runs"][1]["end"]["bus_V"], both["runs"][0]["end"]["bus_V"]);
  EXPECT_GT(both["runs"][1]["heat"]["cells_Wh"], both["runs"][0]["heat"]["cells_Wh"]);
  EXPECT_EQ(
      packhouse("simulate c.packhouse --profile p.csv q.csv --series s.csv", folder.path()).code,
      2);
  support::write(folder / "q.csv", "time_s,power_W,room_C\n0,300,200\n36000,0,\n");
  EXPECT_EQ(packhouse("simulate c.packhouse --profile q.csv", folder.path()).code, 2);
}

TEST(SimulateCommand, stands_a_cell_by_the_model_that_its_log_shows) {
  namespace units = base::units;
  const Folder folder;
  ASSERT_EQ(packhouse("example smallholding sm", folder.path()).code, 0);
  // A log every two seconds, charged and discharged with pauses, of a cell with its own R0.
  const cell::Model model = cell::Model::scaled(236.0 * units::Ah, 0.42 * units::mOhm);
  cell::State state{.charge = 0.0, .v1 = {}, .v2 = {}, .branch = -1.0};
  const auto warm = base::Temperature::from_C(25.0);
  std::string csv = "time_s,voltage_V,current_A\n";
  double s = 0.0;
  const auto run = [&](double amps, double seconds) {
    for (double t = 0.0; t < seconds; t += 2.0) {
      state = cell::after(model, state, amps * units::A, 2.0 * units::s, warm);
      s += 2.0;
      csv += fmt::format("{:.0f},{:.5f},{:.3f}\n", s,
                         cell::terminal_voltage(model, state, amps * units::A, warm).in(units::V),
                         -amps);
    }
  };
  run(0.0, 600.0);
  for (int k = 0; k < 10; ++k) run(-100.0, 0.0995 * 8496.0), run(0.0, 900.0);
  for (const double taper_A : {60.0, 40.0, 25.0, 16.0, 10.0})
    run(-taper_A, 0.0006 * 849600.0 / taper_A);
  run(0.0, 1800.0);
  for (int k = 0; k < 10; ++k) run(100.0, 0.0990 * 8496.0), run(0.0, 900.0);
  support::write(folder / "sm" / "logs" / "C01.csv", csv);
  ASSERT_EQ(packhouse("import sm sm.packhouse", folder.path()).code, 0);
  support::write(folder / "p.csv", "time_s,power_W\n0,300\n3600,0\n");
  const std::string out =
      packhouse("simulate sm.packhouse --profile p.csv --json", folder.path()).out;
  EXPECT_NE(out.find("1 of 32 cells stand by the model fitted to their own log"),
            std::string::npos);
}

TEST(SimulateCommand, refuses_profiles_that_leave_something_open) {
  const Folder folder;
  ASSERT_EQ(packhouse("example cabin c", folder.path()).code, 0);
  ASSERT_EQ(packhouse("import c c.packhouse", folder.path()).code, 0);
  const auto refused = [&](const std::string& csv, const std::string& word,
                           const std::string& more = "") {
    support::write(folder / "p.csv", csv);
    const Ran ran = packhouse("simulate c.packhouse --profile p.csv " + more, folder.path());
    EXPECT_EQ(ran.code, 2) << csv;
    EXPECT_NE(ran.err.find(word), std::string::npos) << ran.err;
  };
  refused("time_s,power_W\n0,100\n60,\n120,0\n", "no value");
  refused("time_s,power_W\n0,100\n60,50\n30,0\n", "ascend");
  refused("time_s,power_W\n0,100\n", "at least two");
  refused("time_s,power_W,current_A\n0,1,1\n60,0,0\n", "both power_W and current_A");
  refused("time_s,watts\n0,1\n60,0\n", "neither");
  refused("time_s,power_W\n0,1e12\n60,0\n", "this world");
  refused("time_s,power_W\n0,100\n60,0\n", "", "--step-s 600");
  refused("time_s,power_W\n0,100\n60,0\n", "", "--start-soc 1.5");
  EXPECT_EQ(packhouse("simulate c.packhouse --profile nowhere.csv", folder.path()).code, 2);
}

TEST(RehearseCommand, plays_one_or_all_and_names_them) {
  const Folder folder;
  ASSERT_EQ(packhouse("example cabin c", folder.path()).code, 0);
  ASSERT_EQ(packhouse("import c c.packhouse", folder.path()).code, 0);
  const Ran all = packhouse("rehearse c.packhouse --json", folder.path());
  ASSERT_EQ(all.code, 0) << all.err;
  EXPECT_EQ(all.json().size(), 10u);
  const Ran one = packhouse("rehearse c.packhouse loose-joint --series j.csv", folder.path());
  EXPECT_EQ(one.code, 0);
  EXPECT_NE(one.out.find("Caught by"), std::string::npos);
  EXPECT_EQ(support::read(folder / "j.csv").rfind("time_s,", 0), 0u);
  const Ran none = packhouse("rehearse c.packhouse thunder", folder.path());
  EXPECT_EQ(none.code, 2);
  EXPECT_NE(none.err.find("bus-short"), std::string::npos);
}

}  // namespace

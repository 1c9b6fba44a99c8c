// SPDX-License-Identifier: Apache-2.0
// Every option of every verb, given what it cannot be: refused with a reason, never passed over.
#include <map>
#include <set>
#include <sstream>

#include <gtest/gtest.h>

#include "tests/support/support.hpp"

namespace {

struct Verb {
  std::string with;                                          ///< what it needs besides
  std::map<std::string, std::vector<std::string>> nonsense;  ///< by option
  std::set<std::string> free;  ///< options that take any text or any place
};

const std::map<std::string, Verb>& verbs() {
  const std::vector<std::string> number = {"abc", "-1", "''", "1e999", "nan"};
  static const std::map<std::string, Verb> all = {
      {"demo", {"", {}, {}}},
      {"example", {"", {}, {}}},
      {"import", {"", {}, {}}},
      {"export", {"", {}, {}}},
      {"check", {"", {}, {}}},
      {"new",
       {"new.packhouse --capacity-Ah 100 --resistance-mOhm 1 --power-W 1000",
        {{"--capacity-Ah", number},
         {"--resistance-mOhm", number},
         {"--power-W", number},
         {"--packs", {"abc", "-1", "0", "1.5"}},
         {"--series", {"abc", "-1", "0", "1.5"}},
         {"--parallel", {"abc", "-1", "0", "1.5"}}},
        {"--name"}}},
      {"serve",
       {"p.packhouse --no-open",
        {{"--port", {"abc", "-1", "70000"}},
         {"--certificate", {"/nowhere/c.pem --key /nowhere/k.pem"}},
         {"--key", {"/nowhere/k.pem"}},
         {"--lan-address", {"'not an address' --lan"}}},
        {}}},
      {"bench",
       {"'" + (support::fs::path(SOURCE_ROOT) / "tests/files/logs/accept/base.csv").string() + "'",
        {{"--sign", {"abc", "''"}},
         {"--tester", {"/nowhere/tester.toml"}},
         {"--columns", {"abc", "voltage=zzz", "time='time (s)[zzz]'", "zzz=1"}},
         {"--dates", {"abc"}},
         {"--channel", {"zzz"}},
         {"--decimal", {"abc"}},
         {"--limit", number},
         {"--risk", {"abc", "0", "60", "-1"}}},
        {}}},
      {"match",
       {"cells.csv --packs 1 --series 2",
        {{"--packs", {"abc", "0", "-1"}},
         {"--series", {"abc", "0", "-1"}},
         {"--parallel", {"abc", "0", "-1"}},
         {"--aim", {"abc"}},
         {"--exchange", {"abc", "A,zzz", "A", "A,A"}},
         {"--without", {"zzz"}},
         {"--other-layout", {"abc", "1x", "0x2S1P"}},
         {"--seconds", {"abc", "-1", "0"}}},
        {}}},
      {"simulate",
       {"p.packhouse --profile profile.csv",
        {{"--profile", {"/nowhere/p.csv"}},
         {"--start-soc", {"abc", "2", "-1"}},
         {"--room-C", {"abc", "200"}},
         {"--step-s", {"abc", "0", "-1"}},
         {"--series", {"/nowhere/s.csv"}}},
        {}}},
      {"checklist", {"p.packhouse", {{"", {"zzz"}}}, {}}},
      {"sign",
       {"p.packhouse first-power/precharge --by me",
        {{"--on", {"abc", "2026-13-01", "31.2.2026"}}, {"--value", {"abc"}}},
        {"--by", "--note"}}},
      {"rehearse", {"p.packhouse", {{"", {"zzz"}}, {"--series", {"/nowhere/s.csv"}}}, {}}},
      {"reckon", {"", {{"", {"zzz", "precharge voltage=abc", "precharge zzz=1"}}}, {}}},
      {"plan", {"p.packhouse", {{"--why", {"zzz", "zzz.zzz"}}}, {}}},
      {"forecast",
       {"p.packhouse", {{"--tariff", {"/nowhere/t.csv"}}, {"--futures", {"abc", "1", "-1"}}}, {}}},
      {"book", {"p.packhouse", {}, {"--out"}}},
      {"queue",
       {"p.packhouse",
        {{"--testers", {"abc", "50/abc", "-1/50", "0", "''", "50/50,,20", "50V/50V"}}},
        {}}},
      {"labels", {"p.packhouse", {{"--out", {"/nowhere/l.pdf"}}}, {}}},
      {"claim", {"p.packhouse", {}, {"--out"}}}};
  return all;
}

std::vector<std::string> words_after(const std::string& text, const std::string& start) {
  std::vector<std::string> words;
  std::istringstream lines(text);
  for (std::string line; std::getline(lines, line);) {
    const std::size_t at = line.find_first_not_of(' ');
    if (at == std::string::npos || line.compare(at, start.size(), start) != 0) continue;
    words.push_back(line.substr(at));
  }
  return words;
}

class Nonsense : public testing::Test {
 protected:
  void SetUp() override {
    ASSERT_EQ(support::packhouse("example cabin text", folder_.path()).code, 0);
    ASSERT_EQ(support::packhouse("import text p.packhouse", folder_.path()).code, 0);
    support::write(folder_ / "cells.csv", "label,capacity_Ah\nA,100\nB,101\nC,102\n");
    support::write(folder_ / "profile.csv", "time_s,power_W\n0,100\n60,100\n");
  }
  support::Folder folder_;
};

TEST_F(Nonsense, is_refused_by_every_option_of_every_verb) {
  for (const auto& [name, verb] : verbs())
    for (const auto& [option, values] : verb.nonsense)
      for (const std::string& value : values) {
        const std::string words = name + " " + verb.with + " " + option + " " + value;
        const support::Ran ran = support::packhouse(words, folder_.path());
        EXPECT_EQ(ran.code, 2) << words << "\n" << ran.out.substr(0, 300) << ran.err;
        EXPECT_FALSE(ran.err.empty() && ran.out.empty()) << words;
      }
}

TEST_F(Nonsense, leaves_no_verb_and_no_option_out) {
  std::set<std::string> named;
  const std::string help = support::packhouse("--help", folder_.path()).out;
  for (const auto& [name, verb] : verbs()) {
    EXPECT_NE(help.find("  " + name + " "), std::string::npos) << name;
    named.insert(name);
    for (const std::string& line :
         words_after(support::packhouse(name + " --help", folder_.path()).out, "--")) {
      const std::string option = line.substr(0, line.find_first_of(" ,"));
      const bool takes_a_value =
          line.find(option + " TEXT") == 0 || line.find(option + " INT") == 0 ||
          line.find(option + " FLOAT") == 0 || line.find(option + " UINT") == 0;
      if (takes_a_value) {
        EXPECT_TRUE(verb.nonsense.contains(option) || verb.free.contains(option))
            << name << " " << option << " is not tried";
      }
    }
  }
  EXPECT_EQ(named.size(), verbs().size());
}

}  // namespace

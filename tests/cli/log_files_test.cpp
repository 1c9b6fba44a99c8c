// SPDX-License-Identifier: Apache-2.0
// The command against the files of tests/files/logs: what must be read, refused and asked.
#include <algorithm>
#include <cmath>
#include <map>

#include <gtest/gtest.h>

#include "base/delimited_text.hpp"
#include "base/number.hpp"
#include "tests/support/support.hpp"

namespace {

const support::fs::path folder = support::fs::path(SOURCE_ROOT) / "tests" / "files" / "logs";

struct Expectation {
  std::string options, outcome, check, expected;
};

std::map<std::string, std::vector<Expectation>> table() {
  std::map<std::string, std::vector<Expectation>> rows;
  base::RowScanner scanner({',', '\n'});
  const auto take = [&](const base::Row& row) {
    if (row.line == 1 || row.fields.size() < 6) return;
    rows[std::string(row.fields[0])].push_back(
        {std::string(row.fields[1]), std::string(row.fields[3]), std::string(row.fields[4]),
         std::string(row.fields[5])});
  };
  scanner.feed(support::read(folder / "table.csv"), take);
  scanner.finish(take);
  return rows;
}

bool has_finding(const base::Json& log, const std::string& id) {
  return std::any_of(log["findings"].begin(), log["findings"].end(),
                     [&](const base::Json& f) { return f["id"] == id; });
}

void expect_accepted(const support::Ran& ran, const base::Json& log, const Expectation& e,
                     const std::string& what) {
  ASSERT_LE(ran.code, 1) << what << ran.err;
  ASSERT_TRUE(log.contains("measures")) << what;
  if (e.check == "finding") {
    EXPECT_TRUE(has_finding(log, e.expected)) << what << " finds no " << e.expected;
  } else if (e.check == "no-finding") {
    EXPECT_FALSE(has_finding(log, e.expected)) << what << " finds " << e.expected;
  } else if (e.check == "rows" || e.check == "rows_rejected") {
    const bool at_least = e.expected.starts_with(">=");
    const auto wanted = base::parse_number(e.expected.substr(at_least ? 2 : 0)).value();
    if (at_least)
      EXPECT_GE(log[e.check].get<double>(), wanted) << what;
    else
      EXPECT_EQ(log[e.check].get<double>(), wanted) << what << " " << e.check;
  } else {
    const base::Json& measure = log["measures"][e.check];
    if (e.expected == "null") {
      EXPECT_TRUE(measure.is_null()) << what << " " << e.check;
      return;
    }
    ASSERT_FALSE(measure.is_null()) << what << " " << e.check;
    const double value =
        measure.is_object() ? measure["value"].get<double>() : measure.get<double>();
    const double wanted = base::parse_number(e.expected).value();
    EXPECT_NEAR(value, wanted, 0.003 * std::abs(wanted)) << what << " " << e.check;
  }
}

void expect_stopped(const support::Ran& ran, const base::Json& log, const Expectation& e,
                    const std::string& what) {
  EXPECT_EQ(ran.code, 2) << what;
  if (e.outcome == "ask") {
    ASSERT_TRUE(log.contains("question")) << what << log.dump();
    EXPECT_GE(log["question"]["readings"].size(), 2u) << what;
    EXPECT_FALSE(log["question"]["option"].get<std::string>().empty()) << what;
    return;
  }
  ASSERT_TRUE(log.contains("error")) << what << log.dump();
  for (const char* part : {"found", "expected", "remedy"})
    EXPECT_FALSE(log["error"][part].get<std::string>().empty()) << what << part;
  if (e.check == "line") {
    EXPECT_EQ(std::to_string(log["error"]["line"].get<long>()), e.expected) << what;
  }
}

/// Every file whose place in the table leaves this remainder: in parts, so that they run at once.
void run_part(std::size_t part, std::size_t parts) {
  std::size_t k = 0, files = 0;
  for (const auto& [file, expectations] : table()) {
    if (k++ % parts != part) continue;
    ++files;
    std::map<std::string, support::Ran> ran;
    for (const Expectation& e : expectations) {
      if (!ran.contains(e.options))
        ran[e.options] =
            support::packhouse("bench '" + file + "' " + e.options + " --json", folder);
      const support::Ran& r = ran[e.options];
      const std::string what = file + " " + e.options + ": ";
      ASSERT_FALSE(r.out.empty()) << what << r.err;
      const base::Json log = r.json().at(0);
      if (e.outcome == "accept")
        expect_accepted(r, log, e, what);
      else
        expect_stopped(r, log, e, what);
    }
  }
  EXPECT_GT(files, 20u);
}

TEST(LogFiles, come_out_as_the_table_says_part_1) { run_part(0, 4); }
TEST(LogFiles, come_out_as_the_table_says_part_2) { run_part(1, 4); }
TEST(LogFiles, come_out_as_the_table_says_part_3) { run_part(2, 4); }
TEST(LogFiles, come_out_as_the_table_says_part_4) { run_part(3, 4); }

}  // namespace

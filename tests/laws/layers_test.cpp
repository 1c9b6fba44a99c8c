// SPDX-License-Identifier: Apache-2.0
// The house rules that a machine can hold: includes point down, the core is pure, maps and lists
// are whole.
#include <map>
#include <regex>
#include <set>
#include <sstream>

#include <gtest/gtest.h>

#include "book/content.hpp"
#include "findings/finding.hpp"
#include "project/settings.hpp"
#include "project/settings_page.hpp"
#include "tests/support/support.hpp"
#include "works/reckonings.hpp"

namespace {

namespace fs = std::filesystem;
const fs::path root = SOURCE_ROOT;

/// What each folder may include beside itself. The floors of ARCHITECTURE.md, and the few edges
/// named there.
const std::map<std::string, std::set<std::string>> allowed = [] {
  std::map<std::string, std::set<std::string>> a;
  a["base"] = {};
  a["findings"] = {"base"};
  for (const char* floor_3 : {"cell", "layout", "logs", "money", "drawing"})
    a[floor_3] = {"base", "findings"};
  for (const char* floor_4 : {"bench", "match", "wiring", "life"})
    a[floor_4] = {"base", "findings", "cell", "layout", "logs", "money", "drawing"};
  const std::set<std::string> below_5 = {"base",    "findings", "cell",  "layout", "logs", "money",
                                         "drawing", "bench",    "match", "wiring", "life"};
  a["bank"] = below_5;
  for (const char* floor_6 : {"site", "commission", "watch"})
    a[floor_6] = below_5, a[floor_6].insert("bank");
  a["project"] = a["site"];
  a["project"].insert({"site", "commission", "watch"});
  a["works"] = a["project"];
  a["works"].insert("project");
  for (const char* floor_9 : {"store", "book", "feed"})
    a[floor_9] = a["works"], a[floor_9].insert("works");
  a["server"] = a["store"];
  a["server"].insert({"store", "feed", "book"});
  a["cli"] = a["server"];
  a["cli"].insert("server");
  return a;
}();

std::vector<fs::path> sources() {
  std::vector<fs::path> files;
  for (const auto& entry : fs::recursive_directory_iterator(root / "src"))
    if (const auto e = entry.path().extension();
        e == ".cpp" || e == ".hpp" || e == ".inc" || e == ".def")
      files.push_back(entry.path());
  std::sort(files.begin(), files.end());
  return files;
}

std::vector<std::string> lines_of(const fs::path& path) {
  std::vector<std::string> lines;
  std::ifstream in(path);
  for (std::string line; std::getline(in, line);) lines.push_back(line);
  return lines;
}

TEST(Layers, point_down) {
  const std::regex include(R"(^\s*#include "([a-z_]+)/)");
  int seen = 0;
  for (const fs::path& file : sources()) {
    const std::string folder = fs::relative(file, root / "src").begin()->string();
    if (!allowed.contains(folder)) continue;  // src/main.cpp and its like
    if (file.stem().string().ends_with("_test")) continue;
    const auto lines = lines_of(file);
    for (std::size_t i = 0; i < lines.size(); ++i) {
      std::smatch m;
      if (!std::regex_search(lines[i], m, include) || m[1] == folder) continue;
      ++seen;
      EXPECT_TRUE(allowed.at(folder).contains(m[1]))
          << fs::relative(file, root).string() << ":" << i + 1
          << " points up or across: " << lines[i];
    }
  }
  EXPECT_GT(seen, 100);
}

TEST(Layers, keep_the_core_pure) {
  const std::set<std::string> core = {"base",  "cell",       "layout", "money", "drawing",
                                      "bench", "match",      "wiring", "life",  "bank",
                                      "site",  "commission", "watch",  "works"};
  const std::regex impure(
      R"(#include <(fstream|iostream|filesystem|cstdio|chrono|ctime|random|thread|unistd\.h|sqlite3\.h)>|\b(printf|std::cout|std::exit|getenv|fmt::print|std::random_device|std::time)\b)");
  for (const fs::path& file : sources()) {
    if (!core.contains(fs::relative(file, root / "src").begin()->string())) continue;
    if (file.stem().string().ends_with("_test")) continue;
    const auto lines = lines_of(file);
    for (std::size_t i = 0; i < lines.size(); ++i) {
      if (file.filename() == "examples.cpp" && lines[i] == "#include <random>")
        continue;  // an engine with a fixed seed
      if (file.filename() == "side_by_side.hpp" && lines[i] == "#include <thread>")
        continue;  // the one place for threads; what comes out does not depend on their order
      EXPECT_FALSE(std::regex_search(lines[i], impure))
          << fs::relative(file, root).string() << ":" << i + 1 << ": " << lines[i];
    }
  }
}

TEST(Sources, begin_with_their_licence_and_stay_of_readable_size) {
  for (const fs::path& file : sources()) {
    const auto lines = lines_of(file);
    ASSERT_FALSE(lines.empty()) << file;
    EXPECT_EQ(lines[0], "// SPDX-License-Identifier: Apache-2.0") << file;
    EXPECT_LE(lines.size(), 800u) << file;
  }
}

TEST(Map, names_every_folder_and_no_other) {
  const std::string map = support::read(root / "ARCHITECTURE.md");
  for (const auto& [folder, below] : allowed) {
    EXPECT_TRUE(fs::is_directory(root / "src" / folder)) << folder;
    EXPECT_NE(map.find("`" + folder + "/`"), std::string::npos) << folder;
  }
  for (const auto& entry : fs::directory_iterator(root / "src"))
    if (entry.is_directory()) {
      EXPECT_TRUE(allowed.contains(entry.path().filename().string())) << entry.path();
    }
}

TEST(References, stand_in_the_list_and_are_used) {
  std::string code;
  for (const fs::path& file : sources()) code += support::read(file);
  const std::string list = support::read(root / "docs" / "references.md");
  std::string pages;
  for (const auto& entry : fs::directory_iterator(root / "docs" / "models"))
    pages += support::read(entry.path());
  for (const std::string& key : book::reference_keys(code))
    EXPECT_FALSE(book::reference_text(key).empty())
        << "[" << key << "] is not in docs/references.md";
  const std::regex entry(R"(- \*\*\[([A-Za-z0-9-]+)\]\*\*)");
  const std::string tests = support::read(root / "tests" / "outside" / "open_data_test.cpp") +
                            support::read(root / "tests" / "outside" / "bench_test.cpp") +
                            support::read(root / "tests" / "outside" / "reckonings_test.cpp") +
                            support::read(root / "tests" / "laws" / "uncertainty_test.cpp");
  for (auto it = std::sregex_iterator(list.begin(), list.end(), entry);
       it != std::sregex_iterator(); ++it) {
    const std::string key = "[" + (*it)[1].str() + "]";
    EXPECT_TRUE(code.find(key) != std::string::npos || pages.find(key) != std::string::npos ||
                tests.find(key) != std::string::npos)
        << key << " is used nowhere";
  }
}

/// What stands in a page behind its mark is written from a catalogue. `make docs` writes it anew.
void expect_written(const fs::path& page, const std::string& made) {
  const std::string mark = "<!-- written from the catalogue: make docs -->\n";
  const std::string text = support::read(page);
  const std::size_t at = text.find(mark);
  ASSERT_NE(at, std::string::npos) << page;
  if (std::getenv("PACKHOUSE_WRITE_DOCS") != nullptr)
    support::write(page, text.substr(0, at + mark.size()) + made);
  else
    EXPECT_EQ(text.substr(at + mark.size()), made) << page << ": make docs";
}

TEST(Docs, of_the_findings_are_what_the_catalogue_says) {
  expect_written(root / "docs" / "findings.md", findings::catalogue_page());
}

TEST(Docs, of_the_settings_are_what_the_catalogue_says) {
  expect_written(root / "docs" / "howto" / "project.md", project::settings_page());
}

TEST(Register, has_unique_names_sources_and_examples_that_run) {
  std::set<std::string_view> names;
  for (const base::Reckoning& r : works::reckonings()) {
    EXPECT_TRUE(names.insert(r.name).second) << r.name;
    EXPECT_FALSE(r.source.empty() || r.formula.empty() || r.validity.empty()) << r.name;
    std::vector<std::string> typed;
    std::istringstream words{std::string(r.example)};
    for (std::string word; words >> word;) typed.push_back(word);
    const base::Json answer =
        base::run_to_json(r, base::read_arguments(r, std::span<const std::string>(typed)));
    for (const base::OutputSpec& o : r.outputs)
      EXPECT_TRUE(answer["outputs"].contains(std::string(o.key))) << r.name << " " << o.key;
  }
  EXPECT_GE(names.size(), 28u);
}

}  // namespace

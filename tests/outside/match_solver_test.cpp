// SPDX-License-Identifier: Apache-2.0
// Matching against a general-purpose solver of integer programmes (CBC, Debian's coinor-cbc): the
// same problem written as equations, solved to proven optimality.
#include <algorithm>
#include <cmath>
#include <random>
#include <regex>

#include <fmt/format.h>
#include <gtest/gtest.h>

#include "match/match.hpp"
#include "tests/support/support.hpp"

namespace {

namespace units = base::units;

/// maximise the packs' smallest groups; each cell in one group at most, each group full.
std::string programme(const std::vector<double>& c, match::Shape s) {
  const std::size_t groups = s.places() / std::size_t(s.parallel);
  std::string text = "Maximize\n obj:";
  for (int k = 0; k < s.packs; ++k) text += fmt::format(" + m{}", k);
  text += "\nSubject To\n";
  for (std::size_t i = 0; i < c.size(); ++i) {
    text += fmt::format(" once{}:", i);
    for (std::size_t g = 0; g < groups; ++g) text += fmt::format(" + x{}_{}", i, g);
    text += " <= 1\n";
  }
  for (std::size_t g = 0; g < groups; ++g) {
    text += fmt::format(" full{}:", g);
    for (std::size_t i = 0; i < c.size(); ++i) text += fmt::format(" + x{}_{}", i, g);
    text += fmt::format(" = {}\n least{}: m{}", s.parallel, g, g / std::size_t(s.series));
    for (std::size_t i = 0; i < c.size(); ++i) text += fmt::format(" - {:.6f} x{}_{}", c[i], i, g);
    text += " <= 0\n";
  }
  for (int k = 1; k < s.packs; ++k) text += fmt::format(" order{}: m{} - m{} >= 0\n", k, k - 1, k);
  text += "Binary\n";
  for (std::size_t i = 0; i < c.size(); ++i)
    for (std::size_t g = 0; g < groups; ++g) text += fmt::format(" x{}_{}\n", i, g);
  return text + "End\n";
}

TEST(Matching, agrees_with_a_general_solver_of_integer_programmes) {
  if (std::system("command -v cbc >/dev/null 2>&1") != 0)
    GTEST_SKIP() << "cbc is not installed (Debian: coinor-cbc)";
  const support::Folder folder;
  std::mt19937_64 engine(12);
  for (const match::Shape shape : {match::Shape{2, 4, 1}, match::Shape{1, 4, 2},
                                   match::Shape{2, 2, 2}, match::Shape{3, 3, 1}}) {
    std::vector<match::Candidate> cells;
    std::vector<double> c;
    for (std::size_t i = 0; i < shape.places() + 1; ++i) {
      const double Ah = std::round(1e3 * (220.0 + 20.0 * double(engine() >> 11) * 0x1.0p-53)) / 1e3;
      c.push_back(Ah);
      cells.push_back({"c" + std::to_string(i), Ah * units::Ah, 0, 0});
    }
    support::write(folder / "m.lp", programme(c, shape));
    const std::string command =
        fmt::format("cd '{}' && cbc m.lp ratio 0 allow 0 sec 60 solve solu out.txt > log.txt 2>&1",
                    folder.path().string());
    ASSERT_EQ(std::system(command.c_str()), 0);
    const std::string out = support::read(folder / "out.txt");
    ASSERT_NE(out.find("Optimal"), std::string::npos) << out.substr(0, 200);
    std::smatch value;
    ASSERT_TRUE(std::regex_search(out, value, std::regex(R"(objective value\s+(-?[0-9.]+))")));
    const auto a = match::assign(cells, shape, match::Aim::most_energy);
    EXPECT_NEAR(a.bank_capacity.in(units::Ah), std::abs(std::stod(value[1])), 2e-3)
        << shape.packs << "x" << shape.series << "S" << shape.parallel << "P";
  }
}

// Twelve capacities whose best smallest sums were found elsewhere by brute force: 901 in four
// groups of three, 1201 in three groups of four; both are the bound, total over groups.
TEST(Matching, reaches_the_published_partitions) {
  const auto smallest = [](const std::vector<double>& c, int groups, int parallel) {
    std::vector<match::Candidate> cells;
    for (const double x : c) cells.push_back({std::to_string(cells.size()), x * units::Ah, 0, 0});
    return match::assign(cells, {1, groups, parallel}, match::Aim::even_packs)
        .smallest_pack.in(units::Ah);
  };
  const std::vector<double> twelve = {298, 301, 305, 296, 303, 299, 302, 300, 294, 304, 297, 306};
  EXPECT_NEAR(smallest(twelve, 4, 3), 901, 1e-9);
  EXPECT_NEAR(smallest(twelve, 3, 4), 1201, 1e-9);
}

}  // namespace

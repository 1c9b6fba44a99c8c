// SPDX-License-Identifier: Apache-2.0
// Matching of large lots, invented and normal: gap to the bound and seconds; with a file name, the
// same lot as an integer programme for a general solver. `match_speed [CASE FILE.lp]`.
#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <random>
#include <string>

#include "match/what_if.hpp"

namespace {

namespace units = base::units;

struct Case {
  int cells;
  match::Shape shape;
  double sd;
};
constexpr Case cases[] = {{54, {3, 16, 1}, 0.015},
                          {106, {3, 16, 2}, 0.015},
                          {106, {3, 16, 2}, 0.004},
                          {522, {15, 16, 2}, 0.015},
                          {1500, {30, 16, 3}, 0.015}};

std::vector<match::Candidate> lot(const Case& c, unsigned seed) {
  std::mt19937 engine(seed);
  std::normal_distribution<double> capacity(230.0, 230.0 * c.sd);
  std::vector<match::Candidate> cells;
  for (int i = 0; i < c.cells; ++i)
    cells.push_back({"c" + std::to_string(i), capacity(engine) * units::Ah, 0.4, 0.0});
  return cells;
}

template <class Work>
double seconds_of(Work work) {
  const auto start = std::chrono::steady_clock::now();
  work();
  return std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
}

void write_programme(const Case& c, const char* path) {
  const auto cells = lot(c, 1);
  std::FILE* out = std::fopen(path, "w");
  if (out == nullptr) return;
  const int groups = c.shape.packs * c.shape.series;
  std::fputs("Maximize\n obj:", out);
  for (int k = 0; k < c.shape.packs; ++k) std::fprintf(out, " + m%d", k);
  std::fputs("\nSubject To\n", out);
  for (int i = 0; i < c.cells; ++i) {
    std::fprintf(out, " once%d:", i);
    for (int g = 0; g < groups; ++g)
      std::fprintf(out, " + x%d_%d%s", i, g, g % 20 == 19 ? "\n" : "");
    std::fputs(" <= 1\n", out);
  }
  for (int g = 0; g < groups; ++g) {
    std::fprintf(out, " full%d:", g);
    for (int i = 0; i < c.cells; ++i)
      std::fprintf(out, " + x%d_%d%s", i, g, i % 20 == 19 ? "\n" : "");
    std::fprintf(out, " = %d\n least%d: m%d", c.shape.parallel, g, g / c.shape.series);
    for (int i = 0; i < c.cells; ++i)
      std::fprintf(out, " - %.6f x%d_%d%s", cells[std::size_t(i)].capacity.in(units::Ah), i, g,
                   i % 20 == 19 ? "\n" : "");
    std::fputs(" <= 0\n", out);
  }
  std::fputs("Binary\n", out);
  for (int i = 0; i < c.cells; ++i)
    for (int g = 0; g < groups; ++g) std::fprintf(out, " x%d_%d\n", i, g);
  std::fputs("End\n", out);
  std::fclose(out);
}

}  // namespace

int main(int argc, char** argv) {
  if (argc == 3) {
    const Case& c = cases[std::atoi(argv[1])];
    write_programme(c, argv[2]);
    match::Assignment a;
    const double s =
        seconds_of([&] { a = match::assign(lot(c, 1), c.shape, match::Aim::most_energy); });
    std::printf("%.4f %.4f %.4f\n", s, a.bank_capacity.in(units::Ah), a.upper_bound.in(units::Ah));
    return 0;
  }
  for (const Case& c : cases)
    for (unsigned seed = 1; seed <= 4; ++seed) {
      const auto cells = lot(c, seed);
      match::Assignment a;
      const double s =
          seconds_of([&] { a = match::assign(cells, c.shape, match::Aim::most_energy); });
      std::printf(
          "%4zu of %4d as %2d x %dS%dP, sd %.1f %%: bank %.3f, bound %.3f Ah, gap %.5f %%%s, %.3f s\n",
          c.shape.places(), c.cells, c.shape.packs, c.shape.series, c.shape.parallel, 100.0 * c.sd,
          a.bank_capacity.in(units::Ah), a.upper_bound.in(units::Ah), 100.0 * a.gap,
          a.proven_optimal ? ", proven" : "", s);
    }
  // What if: 480 cells.
  const auto cells = lot(cases[3], 1);
  const auto a = match::assign(cells, cases[3].shape, match::Aim::most_energy);
  const std::size_t x = a.packs[0].groups[0].cells[0], y = a.packs[9].groups[3].cells[1];
  double sink = 0.0;
  const double exchange = seconds_of([&] {
    sink += match::effect_of(a, match::with_exchange(a, cells, x, y), cells).bank_change_Ah;
  });
  const double without = seconds_of(
      [&] { sink += match::effect_of(a, match::without(a, cells, x), cells).bank_change_Ah; });
  const double layout = seconds_of([&] {
    sink += match::in_layout(cells, {30, 16, 1}, match::Aim::most_energy)->gap;
    sink += match::in_layout(cells, {10, 16, 3}, match::Aim::most_energy)->gap;
  });
  std::printf(
      "480 cells: exchange %.2f ms, without a cell %.2f ms, two other layouts %.2f ms (%.3f)\n",
      1e3 * exchange, 1e3 * without, 1e3 * layout, sink);
}

// SPDX-License-Identifier: Apache-2.0
#include "bench/same_cell.hpp"

#include <algorithm>
#include <cmath>

namespace bench {
namespace {

bool digit(char c) { return c >= '0' && c <= '9'; }

/// "C01-2" before "C01-10": runs of digits count as numbers.
bool before_by_name(std::string_view a, std::string_view b) {
  std::size_t i = 0, j = 0;
  while (i < a.size() && j < b.size()) {
    if (digit(a[i]) && digit(b[j])) {
      std::size_t p = i, q = j;
      while (p < a.size() && digit(a[p])) ++p;
      while (q < b.size() && digit(b[q])) ++q;
      while (i < p && a[i] == '0') ++i;
      while (j < q && b[j] == '0') ++j;
      const std::string_view x = a.substr(i, p - i), y = b.substr(j, q - j);
      if (x.size() != y.size()) return x.size() < y.size();
      if (x != y) return x < y;
      i = p, j = q;
      continue;
    }
    if (a[i] != b[j]) return a[i] < b[j];
    ++i, ++j;
  }
  return a.size() - i < b.size() - j;
}

}  // namespace

std::optional<ChosenTest> choose_test(std::span<const CellTest> tests, const std::string& picked) {
  if (tests.empty()) return std::nullopt;
  std::vector<std::size_t> complete;
  for (std::size_t k = 0; k < tests.size(); ++k)
    if (tests[k].capacity_Ah) complete.push_back(k);
  ChosenTest chosen;
  for (std::size_t a = 0; a < complete.size(); ++a)
    for (std::size_t b = a + 1; b < complete.size(); ++b) {
      const Measure &x = *tests[complete[a]].capacity_Ah, &y = *tests[complete[b]].capacity_Ah;
      const double apart = std::abs(x.value - y.value), allowed = 2.0 * std::hypot(x.u, y.u);
      if (apart > allowed)
        chosen.disagreements.push_back({complete[a], complete[b], apart, allowed});
    }
  const auto named =
      std::find_if(tests.begin(), tests.end(), [&](const CellTest& t) { return t.log == picked; });
  if (!picked.empty() && named != tests.end()) {
    chosen.index = static_cast<std::size_t>(named - tests.begin());
    chosen.rule = "picked by the builder";
    return chosen;
  }
  std::vector<std::size_t> among = complete;
  if (among.empty())
    for (std::size_t k = 0; k < tests.size(); ++k) among.push_back(k);
  const bool dated = std::all_of(among.begin(), among.end(),
                                 [&](std::size_t k) { return tests[k].ended_s.has_value(); });
  chosen.index = *std::max_element(among.begin(), among.end(), [&](std::size_t a, std::size_t b) {
    if (dated && *tests[a].ended_s != *tests[b].ended_s)
      return *tests[a].ended_s < *tests[b].ended_s;
    return before_by_name(tests[a].log, tests[b].log);
  });
  chosen.rule = among.size() == 1
                    ? (complete.empty() ? "the only test, not complete" : "the only complete test")
                : complete.empty() ? "none is complete: the newest"
                : dated
                    ? "the newest complete test, by the dates in the logs"
                    : "the newest complete test, by the logs' names: not all of them hold a date";
  return chosen;
}

std::optional<double> repeatability_percent(std::span<const std::vector<CellTest>> cells) {
  double squares = 0.0, pairs = 0.0;
  for (const std::vector<CellTest>& tests : cells) {
    const CellTest* before = nullptr;
    for (const CellTest& t : tests) {
      if (!t.capacity_Ah || t.capacity_Ah->value <= 0.0) continue;
      if (before != nullptr && before->channel == t.channel) {
        const double a = before->capacity_Ah->value, b = t.capacity_Ah->value;
        squares += std::pow((b - a) / (0.5 * (a + b)), 2.0);
        pairs += 1.0;
      }
      before = &t;
    }
  }
  if (pairs < 3.0) return std::nullopt;
  return 100.0 * std::sqrt(0.5 * squares / pairs);
}

}  // namespace bench

// SPDX-License-Identifier: Apache-2.0
#include "site/tariff.hpp"

#include <optional>

#include <fmt/format.h>

#include "base/csv_table.hpp"
#include "base/input_error.hpp"

namespace site {
namespace {

/// Bits of "1-5", "10-3" or "2+4-6", from 1 to `most`; nothing where it is none of these.
std::optional<unsigned> bits(std::string_view text, int most) {
  unsigned mask = 0;
  while (true) {
    const std::size_t end = std::min(text.find('+'), text.size());
    const std::string_view part = text.substr(0, end);
    int values[2] = {0, 0}, n = 0;
    bool digit = false;
    for (const char c : part) {
      if (c >= '0' && c <= '9') {
        values[n] = values[n] * 10 + (c - '0'), digit = true;
        if (values[n] > most) return std::nullopt;
      } else if (c == '-' && n == 0 && digit) {
        n = 1, digit = false;
      } else {
        return std::nullopt;
      }
    }
    if (!digit) return std::nullopt;
    if (n == 0) values[1] = values[0];
    if (values[0] < 1 || values[1] < 1) return std::nullopt;
    for (int k = values[0];; k = k % most + 1) {
      mask |= 1U << unsigned(k - 1);
      if (k == values[1]) break;
    }
    if (end == text.size()) return mask;
    text.remove_prefix(end + 1);
  }
}

bool within(const PriceBand& b, double hour) {
  return b.from_h < b.to_h ? hour >= b.from_h && hour < b.to_h : hour >= b.from_h || hour < b.to_h;
}

}  // namespace

std::vector<PriceBand> read_tariff(std::string_view bytes, const std::string& file) {
  const base::CsvTable table(bytes, file);
  const std::size_t price = table.must_have({"price", "price_kWh"});
  const auto name = table.column({"name"}), from = table.column({"from_h"}),
             to = table.column({"to_h"}), days = table.column({"days"}),
             months = table.column({"months"});
  std::vector<PriceBand> bands;
  std::vector<std::size_t> lines;
  for (const auto& row : table.rows()) {
    PriceBand b;
    const auto value = table.number(row, price);
    if (!value) table.refuse(row, price, "no price", "what a kilowatt-hour costs", "write it");
    b.name = table.text(row, name);
    b.price = *value;
    const auto hour = [&](const std::optional<std::size_t>& column, double fallback) {
      const auto given = table.number(row, column);
      if (given && !(*given >= 0.0 && *given <= 24.0))
        table.refuse(row, *column, fmt::format("{:g} h", *given), "an hour from 0 to 24",
                     "write the clock's hour, half past six as 6.5");
      return given.value_or(fallback);
    };
    b.from_h = hour(from, 0.0), b.to_h = hour(to, 24.0);
    if (b.from_h == b.to_h)
      table.refuse(row, *from, "a price that holds for no time", "from_h and to_h that differ",
                   "leave both empty for the whole day");
    const auto mask = [&](const std::optional<std::size_t>& column, int most, const char* like) {
      const std::string text = table.text(row, column);
      if (text.empty() || text == "all") return (1U << unsigned(most)) - 1U;
      if (most == 7 && text == "workdays") return 0x1FU;
      if (most == 7 && text == "weekend") return 0x60U;
      const auto found = bits(text, most);
      if (!found)
        table.refuse(row, *column, fmt::format("'{}'", text), like, "write numbers, such as 1-5");
      return *found;
    };
    b.weekdays = mask(days, 7, "all, workdays, weekend, or days from 1 (Monday) to 7");
    b.months = mask(months, 12, "all, or months from 1 to 12");
    bands.push_back(std::move(b));
    lines.push_back(row.line);
  }
  if (bands.empty())
    throw base::InputError({file, 1, 0}, "a tariff without a price", "at least one row",
                           "add a row: price,from_h,to_h");
  for (unsigned m = 0; m < 12; ++m)
    for (unsigned d = 0; d < 7; ++d)
      for (int q = 0; q < 96; ++q) {
        const double h = q / 4.0 + 1e-9;
        std::optional<std::size_t> holds;
        for (std::size_t k = 0; k < bands.size(); ++k) {
          if ((bands[k].months >> m & 1U) == 0 || (bands[k].weekdays >> d & 1U) == 0 ||
              !within(bands[k], h))
            continue;
          const std::string when = fmt::format("{:02}:{:02} on day {} of the week in month {}",
                                               q / 4, q % 4 * 15, d + 1, m + 1);
          if (holds)
            throw base::InputError(
                {file, lines[k], 0},
                fmt::format("a second price at {}; line {} has one", when, lines[*holds]),
                "one price for every hour", "part their hours, days or months");
          holds = k;
        }
        if (!holds)
          throw base::InputError(
              {file, 0, 0},
              fmt::format("no price at {:02}:{:02} on day {} of the week in month {}", q / 4,
                          q % 4 * 15, d + 1, m + 1),
              "one price for every hour", "add a row for the rest");
      }
  return bands;
}

}  // namespace site

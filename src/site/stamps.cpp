// SPDX-License-Identifier: Apache-2.0
#include "site/stamps.hpp"

#include <algorithm>

#include <fmt/format.h>

#include "base/calendar.hpp"
#include "base/number.hpp"

namespace site {

std::optional<Stamp> stamp_of(std::string_view text) {
  text = base::trimmed(text);
  if (text.size() < 16 || (text[10] != ' ' && text[10] != 'T') || text[13] != ':')
    return std::nullopt;
  const auto day = base::day_of(text.substr(0, 10));
  const auto two = [&](std::size_t at) -> std::optional<long> {
    const char a = text[at], b = text[at + 1];
    if (a < '0' || a > '9' || b < '0' || b > '9') return std::nullopt;
    return (a - '0') * 10 + (b - '0');
  };
  const auto h = two(11), m = two(14);
  if (!day || !h || !m || *h > 23 || *m > 59) return std::nullopt;
  Stamp s{*day * 1440 + *h * 60 + *m, std::nullopt};
  std::string_view rest = text.substr(16);
  if (rest.size() >= 3 && rest[0] == ':') rest.remove_prefix(3);
  if (!rest.empty() && rest[0] == '.')
    rest.remove_prefix(std::min(rest.find_first_of("Z+-"), rest.size()));
  if (rest == "Z")
    s.offset_min = 0;
  else if (rest.size() == 6 && (rest[0] == '+' || rest[0] == '-') && rest[3] == ':') {
    const long hours = (rest[1] - '0') * 10 + (rest[2] - '0'),
               minutes = (rest[4] - '0') * 10 + (rest[5] - '0');
    s.offset_min = (rest[0] == '-' ? -1 : 1) * (hours * 60 + minutes);
  } else if (!rest.empty()) {
    return std::nullopt;
  }
  return s;
}

std::size_t time_column(const base::CsvTable& table) {
  return table.must_have({"time", "start", "datetime", "date"});
}
Stamp stamp_in(const base::CsvTable& table, const base::CsvTable::Row& row, std::size_t time) {
  const auto stamp = stamp_of(table.text(row, time));
  if (!stamp)
    table.refuse(row, time, fmt::format("'{}' as a time", table.text(row, time)),
                 "a time such as 2025-03-30 01:45", "write year, month, day, hour and minute");
  return *stamp;
}

}  // namespace site

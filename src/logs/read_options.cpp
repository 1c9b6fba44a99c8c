// SPDX-License-Identifier: Apache-2.0
#include "logs/read_options.hpp"

#include "base/input_error.hpp"
#include "logs/header.hpp"

namespace logs {

ReadOptions options_named(std::string_view sign, std::string_view dates, std::string_view decimal) {
  ReadOptions read;
  read.sign = sign == "discharge-positive" ? SignRule::discharge_positive
              : sign == "charge-positive"  ? SignRule::charge_positive
              : sign == "by-voltage"       ? SignRule::by_voltage
                                           : SignRule::automatic;
  read.dates = dates == "dmy"   ? DateOrder::dmy
               : dates == "mdy" ? DateOrder::mdy
               : dates == "ymd" ? DateOrder::ymd
                                : DateOrder::unknown;
  read.decimal = decimal == "point"   ? DecimalRule::point
                 : decimal == "comma" ? DecimalRule::comma
                                      : DecimalRule::automatic;
  return read;
}

std::map<Meaning, NamedColumn> named_columns(const std::vector<std::string>& said) {
  std::map<Meaning, NamedColumn> columns;
  for (const std::string& text : said) {
    const std::size_t equals = text.find('=');
    const auto meaning = meaning_named(text.substr(0, equals));
    if (equals == std::string::npos || !meaning || *meaning == Meaning::other)
      throw base::InputError({}, "columns " + text,
                             "meaning=HEADER, the meaning one of time, date, voltage, current, "
                             "temperature, capacity, energy, state",
                             "write for example 'current=Strom 2'");
    std::string header = text.substr(equals + 1), unit;
    if (header.ends_with(']') && header.rfind('[') != std::string::npos && header.rfind('[') > 0) {
      const std::size_t open = header.rfind('[');
      const std::string inside = header.substr(open + 1, header.size() - open - 2);
      if (read_unit(inside)) unit = inside, header.resize(open);
    }
    columns[*meaning] = {header, unit};
  }
  return columns;
}

}  // namespace logs

// SPDX-License-Identifier: Apache-2.0
#include "base/number.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <cstdint>

namespace base {
namespace {

constexpr std::array<double, 23> powers_of_ten = {1e0,  1e1,  1e2,  1e3,  1e4,  1e5,  1e6,  1e7,
                                                  1e8,  1e9,  1e10, 1e11, 1e12, 1e13, 1e14, 1e15,
                                                  1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22};

/// The careful way: std::from_chars on a copy with a decimal point.
std::optional<double> parse_slowly(std::string_view text, char decimal_mark) {
  if (!text.empty() && text.front() == '+') text.remove_prefix(1);
  std::string copy;
  for (const char c : text) {
    if (c == decimal_mark)
      copy += '.';
    else if ((c >= '0' && c <= '9') || c == '-' || c == '+' || c == 'e' || c == 'E')
      copy += c;
    else
      return std::nullopt;  // letters (nan, inf, 0x…), a second kind of mark, blanks
  }
  double value = 0.0;
  const auto [end, error] = std::from_chars(copy.data(), copy.data() + copy.size(), value);
  if (error != std::errc() || end != copy.data() + copy.size() || !std::isfinite(value))
    return std::nullopt;
  return value;
}

}  // namespace

std::optional<double> parse_number(std::string_view text, char decimal_mark) {
  const char* p = text.data();
  const char* const end = p + text.size();
  const bool negative = p != end && *p == '-';
  if (p != end && (*p == '-' || *p == '+')) ++p;
  std::uint64_t mantissa = 0;
  int digits = 0, decimals = 0;
  bool seen_mark = false;
  for (; p != end; ++p) {
    const auto digit = static_cast<unsigned char>(*p - '0');
    if (digit <= 9) {
      mantissa = mantissa * 10 + digit;
      ++digits;
      decimals += seen_mark;
    } else if (*p == decimal_mark && !seen_mark) {
      seen_mark = true;
    } else {
      return parse_slowly(text, decimal_mark);
    }
    if (digits > 18) return parse_slowly(text, decimal_mark);
  }
  if (digits == 0) return std::nullopt;
  if (mantissa >= (std::uint64_t{1} << 53)) return parse_slowly(text, decimal_mark);
  // Exact mantissa divided by an exact power of ten: one rounding, so the nearest double.
  const double value =
      static_cast<double>(mantissa) / powers_of_ten[static_cast<std::size_t>(decimals)];
  return negative ? -value : value;
}

std::string_view trimmed(std::string_view text) {
  const auto blank_ahead = [](std::string_view t) -> std::size_t {
    if (t.empty()) return 0;
    if (t.front() == ' ' || t.front() == '\t') return 1;
    if (t.starts_with("\xC2\xA0")) return 2;                                       // no-break space
    if (t.starts_with("\xE2\x80\x89") || t.starts_with("\xE2\x80\xAF")) return 3;  // thin spaces
    return 0;
  };
  while (const std::size_t n = blank_ahead(text)) text.remove_prefix(n);
  for (;;) {
    if (!text.empty() && (text.back() == ' ' || text.back() == '\t' || text.back() == '\r'))
      text.remove_suffix(1);
    else if (text.ends_with("\xC2\xA0"))
      text.remove_suffix(2);
    else if (text.ends_with("\xE2\x80\x89") || text.ends_with("\xE2\x80\xAF"))
      text.remove_suffix(3);
    else
      return text;
  }
}

std::vector<std::string_view> listed(std::string_view text) {
  std::vector<std::string_view> parts;
  for (;;) {
    const std::size_t comma = std::min(text.find(','), text.size());
    parts.push_back(trimmed(text.substr(0, comma)));
    if (comma == text.size()) return parts;
    text.remove_prefix(comma + 1);
  }
}

std::string lower(std::string_view text) {
  std::string result(text);
  for (char& c : result)
    if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
  return result;
}

std::optional<NumberWithUnit> parse_with_unit(std::string_view text, char decimal_mark) {
  text = trimmed(text);
  std::size_t end = 0;
  while (end < text.size()) {
    const char c = text[end];
    const bool exponent =
        (c == 'e' || c == 'E') && end + 1 < text.size() && end > 0 &&
        ((text[end + 1] >= '0' && text[end + 1] <= '9') ||
         ((text[end + 1] == '-' || text[end + 1] == '+') && end + 2 < text.size()));
    const bool after_exponent = end > 0 && (text[end - 1] == 'e' || text[end - 1] == 'E');
    const bool sign = (c == '-' || c == '+') && (end == 0 || after_exponent);
    if (!((c >= '0' && c <= '9') || c == decimal_mark || sign || exponent)) break;
    ++end;
  }
  const auto value = parse_number(text.substr(0, end), decimal_mark);
  if (!value) return std::nullopt;
  return NumberWithUnit{*value, trimmed(text.substr(end))};
}

namespace {

struct Unit {
  std::string_view symbol;
  std::string_view kind;
  double factor;
  double offset = 0.0;  ///< added after the factor, for temperatures
};

constexpr Unit unit_table[] = {
    {"m", "length", 1.0},
    {"cm", "length", 1e-2},
    {"mm", "length", 1e-3},
    {"in", "length", 0.0254},
    {"ft", "length", 0.3048},
    {"km", "length", 1e3},
    {"m2", "area", 1.0},
    {"cm2", "area", 1e-4},
    {"mm2", "area", 1e-6},
    {"m²", "area", 1.0},
    {"cm²", "area", 1e-4},
    {"mm²", "area", 1e-6},
    {"A", "current", 1.0},
    {"mA", "current", 1e-3},
    {"kA", "current", 1e3},
    {"V", "voltage", 1.0},
    {"mV", "voltage", 1e-3},
    {"kV", "voltage", 1e3},
    {"Ohm", "resistance", 1.0},
    {"mOhm", "resistance", 1e-3},
    {"uOhm", "resistance", 1e-6},
    {"Ω", "resistance", 1.0},
    {"mΩ", "resistance", 1e-3},
    {"µΩ", "resistance", 1e-6},
    {"F", "capacitance", 1.0},
    {"mF", "capacitance", 1e-3},
    {"uF", "capacitance", 1e-6},
    {"µF", "capacitance", 1e-6},
    {"s", "time", 1.0},
    {"ms", "time", 1e-3},
    {"min", "time", 60.0},
    {"h", "time", 3600.0},
    {"hours", "time", 3600.0},
    {"d", "time", 86400.0},
    {"days", "time", 86400.0},
    {"a", "time", 31557600.0},
    {"years", "time", 31557600.0},
    {"Ah", "charge", 1.0},
    {"mAh", "charge", 1e-3},
    {"Wh", "energy", 1.0},
    {"kWh", "energy", 1e3},
    {"J", "energy", 1.0 / 3600.0},
    {"kJ", "energy", 1.0 / 3.6},
    {"W", "power", 1.0},
    {"kW", "power", 1e3},
    {"%", "share", 1.0},
    {"percent", "share", 1.0},
    {"ppm", "share", 1e-4},
    {"Pa", "pressure", 1.0},
    {"kPa", "pressure", 1e3},
    {"mbar", "pressure", 1e2},
    {"bar", "pressure", 1e5},
    {"psi", "pressure", 6894.757},
    {"N", "force", 1.0},
    {"kN", "force", 1e3},
    {"kgf", "force", 9.80665},
    {"Nm", "torque", 1.0},
    {"kg", "mass", 1.0},
    {"g", "mass", 1e-3},
    {"K", "difference", 1.0},
    {"C", "temperature", 1.0},
    {"°C", "temperature", 1.0},
    {"degC", "temperature", 1.0},
    {"F", "temperature", 5.0 / 9.0, -160.0 / 9.0},
    {"°F", "temperature", 5.0 / 9.0, -160.0 / 9.0},
    {"degF", "temperature", 5.0 / 9.0, -160.0 / 9.0},
    {"K", "temperature", 1.0, -273.15},
    {"deg", "angle", 1.0},
    {"°", "angle", 1.0},
};

}  // namespace

std::optional<double> convert(double value, std::string_view from, std::string_view to) {
  if (from == to) return value;
  for (const Unit& target : unit_table) {
    if (target.symbol != to) continue;
    for (const Unit& source : unit_table)
      if (source.symbol == from && source.kind == target.kind)
        return (value * source.factor + source.offset - target.offset) / target.factor;
  }
  return std::nullopt;
}

}  // namespace base

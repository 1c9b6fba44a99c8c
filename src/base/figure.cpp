// SPDX-License-Identifier: Apache-2.0
#include "base/figure.hpp"

#include <cmath>

#include <fmt/format.h>

namespace base {
namespace {

std::string with_real_minus(std::string text) {
  if (text.empty() || text.front() != '-') return text;
  if (text.find_first_of("123456789") == std::string::npos) return text.substr(1);  // no "-0.0"
  return "−" + text.substr(1);
}

}  // namespace

std::string fixed(double value, int decimals) {
  if (!std::isfinite(value)) return "–";
  return with_real_minus(fmt::format("{:.{}f}", value, std::max(0, decimals)));
}

std::string significant(double value, int digits) {
  if (!std::isfinite(value)) return "–";
  if (value == 0.0) return "0";
  const int exponent = static_cast<int>(std::floor(std::log10(std::abs(value))));
  return fixed(value, std::max(0, digits - 1 - exponent));
}

int decimals_for(double u) {
  if (!(u > 0.0) || !std::isfinite(u)) return 3;
  const int exponent = static_cast<int>(std::floor(std::log10(u)));
  const double leading = u / std::pow(10.0, exponent);
  return std::max(0, -exponent + (leading < 2.95 ? 1 : 0));
}

std::string show_value(const Figure& f) {
  if (f.u && *f.u > 0.0) return fixed(f.value, decimals_for(*f.u));
  std::string text = significant(f.value, 3);
  if (text.find('.') == std::string::npos) return text;
  while (text.back() == '0') text.pop_back();
  if (text.back() == '.') text.pop_back();
  return text;
}

std::string show_uncertainty(const Figure& f) {
  return f.u && *f.u > 0.0 ? "± " + fixed(*f.u, decimals_for(*f.u)) : "";
}

std::string show(const Figure& f) {
  std::string text = show_value(f);
  if (const std::string u = show_uncertainty(f); !u.empty()) text += " " + u;
  return f.unit.empty() ? text : text + " " + f.unit;
}

Json to_json(const Figure& f) {
  Json json = {{"value", f.value}, {"u", nullptr}, {"unit", f.unit}};
  if (f.u) json["u"] = *f.u;
  if (!f.reckoning.empty()) {
    json["reckoning"] = f.reckoning;
    json["inputs"] = f.inputs;
  }
  if (!f.basis.empty()) json["basis"] = f.basis;
  return json;
}

}  // namespace base

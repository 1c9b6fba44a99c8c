// SPDX-License-Identifier: Apache-2.0
#include "feed/mapping.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "base/csv_table.hpp"
#include "base/json.hpp"
#include "base/number.hpp"

namespace feed {

bool topic_matches(std::string_view pattern, std::string_view topic) {
  if (topic.starts_with('$') && !pattern.starts_with('$')) return false;
  for (;;) {
    const std::size_t p = pattern.find('/'), t = topic.find('/');
    const std::string_view level = pattern.substr(0, p), here = topic.substr(0, t);
    if (level == "#") return true;
    if (level != "+" && level != here) return false;
    if (p == std::string_view::npos || t == std::string_view::npos) {
      if (p == std::string_view::npos) return t == std::string_view::npos;
      return pattern.substr(p + 1) == "#";  // "a/#" is also "a"
    }
    pattern.remove_prefix(p + 1);
    topic.remove_prefix(t + 1);
  }
}

Mapping::Mapping(std::string_view csv, const std::string& file) {
  const base::CsvTable table(csv, file);
  const std::size_t topic = table.must_have({"topic"}), quantity = table.must_have({"quantity"});
  const auto path = table.column({"path"}), pack = table.column({"pack"}),
             number = table.column({"number"}), scale = table.column({"scale"});
  constexpr std::array<std::string_view, 5> quantities = {"cell", "current", "temperature",
                                                          "voltage", "soc"};
  for (const auto& row : table.rows()) {
    MappedTopic m;
    m.topic = table.text(row, topic);
    m.path = table.text(row, path);
    m.quantity = table.text(row, quantity);
    if (m.topic.empty())
      table.refuse(row, topic, "no topic", "the topic that the device writes to",
                   "copy it as it is seen on the wire");
    if (std::find(quantities.begin(), quantities.end(), m.quantity) == quantities.end())
      table.refuse(row, quantity, "the quantity '" + m.quantity + "'",
                   "cell, current, temperature, voltage or soc", "write one of these");
    m.pack = int(table.number(row, pack).value_or(1.0));
    m.number = int(table.number(row, number).value_or(0.0));
    m.scale = table.number(row, scale).value_or(1.0);
    if (m.quantity == "cell" && m.number < 1)
      table.refuse(row, quantity, "a cell without its number", "the group's number from 1",
                   "fill the column 'number'");
    for (const MappedTopic& other : rows_)
      if (other.quantity == m.quantity && other.pack == m.pack && other.number == m.number)
        table.refuse(row, topic,
                     "a second source for " + m.quantity +
                         (m.number > 0 ? " " + std::to_string(m.number) : ""),
                     "one source a quantity", "keep the better one");
    rows_.push_back(std::move(m));
  }
}

namespace {

std::optional<double> number_at(const base::Json& json, std::string_view path) {
  const base::Json* at = &json;
  while (!path.empty()) {
    const std::size_t dot = path.find('.');
    const std::string step(path.substr(0, dot));
    if (at->is_object()) {
      const auto found = at->find(step);
      if (found == at->end()) return std::nullopt;
      at = &*found;
    } else if (at->is_array()) {
      const auto index = base::parse_number(step);
      if (!index || *index < 0.0 || *index >= double(at->size())) return std::nullopt;
      at = &(*at)[std::size_t(*index)];
    } else {
      return std::nullopt;
    }
    path = dot == std::string_view::npos ? std::string_view() : path.substr(dot + 1);
  }
  if (at->is_number()) return at->get<double>();
  if (at->is_string()) return base::parse_number(base::trimmed(at->get_ref<const std::string&>()));
  return std::nullopt;
}

}  // namespace

std::vector<MappedValue> Mapping::values(std::string_view topic, std::string_view payload) const {
  std::vector<MappedValue> found;
  std::optional<base::Json> json;
  for (std::size_t i = 0; i < rows_.size(); ++i) {
    const MappedTopic& row = rows_[i];
    if (!topic_matches(row.topic, topic)) continue;
    std::optional<double> value;
    if (row.path.empty()) {
      value = base::parse_number(base::trimmed(payload));
    } else {
      if (!json) json = base::Json::parse(payload, nullptr, false);
      if (!json->is_discarded()) value = number_at(*json, row.path);
    }
    if (value && std::isfinite(*value)) found.push_back({i, *value * row.scale});
  }
  return found;
}

}  // namespace feed

// SPDX-License-Identifier: Apache-2.0
#include "feed/columns.hpp"

#include <algorithm>
#include <cctype>
#include <cmath>

#include "base/encoding.hpp"
#include "base/input_error.hpp"
#include "base/number.hpp"
#include "base/statistics.hpp"
#include "logs/header.hpp"

namespace feed {
namespace {

bool digit(char c) { return c >= '0' && c <= '9'; }

/// The unit at a header's end: "cell_1_mV", "Zelle 3 [V]", "T1 (°C)".
std::string unit_at_end(std::string_view header) {
  std::string h(base::trimmed(header));
  while (!h.empty() && (h.back() == ']' || h.back() == ')')) h.pop_back();
  std::size_t from = h.find_last_of("_ [(-/");
  const std::string last = from == std::string::npos ? h : h.substr(from + 1);
  for (const char* unit : {"mV", "V", "A", "mA", "C", "°C", "F", "°F", "%"})
    if (last == unit) return unit;
  const std::string small = base::lower(last);
  if (small == "degc" || small == "celsius") return "C";
  if (small == "degf" || small == "fahrenheit") return "F";
  if (small == "mv") return "mV";
  if (small == "v" || small == "volt" || small == "volts") return "V";
  return {};
}

bool holds(std::string_view text, std::initializer_list<const char*> words) {
  return std::any_of(words.begin(), words.end(),
                     [&](const char* w) { return text.find(w) != std::string_view::npos; });
}

double typical(const std::vector<double>& values) {
  std::vector<double> finite;
  for (const double v : values)
    if (std::isfinite(v) && v != 0.0) finite.push_back(std::abs(v));
  return finite.empty() ? 0.0 : base::median(finite);
}

void set_temperature(Channel& c, const std::string& unit, double usual) {
  if (unit == "F" || unit == "°F") {
    c.scale = 5.0 / 9.0;
    c.offset = -160.0 / 9.0;
    c.unit = "C";
  } else if (unit == "C" || unit == "°C" || usual < 45.0) {
    c.unit = usual > 0.0 || !unit.empty() ? "C" : "";
  }  // above 45 without a unit: °F or hot, nobody knows; told as it stands
}

void name_single(Channel& c, const std::vector<double>& values) {
  const std::string small = base::folded(c.header), unit = unit_at_end(c.header);
  const double usual = typical(values);
  const logs::HeaderField field = logs::read_header_field(c.header);
  if (holds(small, {"temp"}) || unit == "C" || unit == "°C" || unit == "F" || unit == "°F" ||
      field.meaning == logs::Meaning::temperature) {
    c.quantity = Quantity::temperature;
    set_temperature(c, unit.empty() ? field.unit : unit, usual);
  } else if (holds(small, {"soc", "state_of_charge", "state of charge"})) {
    c.quantity = Quantity::state_of_charge;
  } else if (holds(small, {"current", "strom", "courant", "corriente", "stroom"}) || unit == "A" ||
             unit == "mA" || field.meaning == logs::Meaning::current) {
    c.quantity = Quantity::current;
    c.scale = unit == "mA" || field.unit == "mA" ? 1e-3 : 1.0;
    c.unit = "A";
  } else if (holds(small, {"volt", "spannung", "tension"}) || unit == "V" || unit == "mV" ||
             field.meaning == logs::Meaning::voltage) {
    c.quantity = Quantity::pack_voltage;
    c.scale = unit == "mV" || (unit.empty() && usual > 2000.0) ? 1e-3 : 1.0;
    c.unit = "V";
  } else if (field.meaning == logs::Meaning::time) {
    c.quantity = Quantity::time;
  }
}

}  // namespace

std::string Channel::key() const {
  const std::string tail = unit.empty() ? "" : "_" + unit;
  const std::string before = pack > 0 ? "pack_" + std::to_string(pack + 1) + "_" : "";
  switch (quantity) {
    case Quantity::cell_voltage:
      return before + "cell_" + std::to_string(number) + tail;
    case Quantity::cell_temperature:
      return before + "cell_" + std::to_string(number) + "_temperature" + tail;
    case Quantity::pack_voltage:
      return before + "voltage" + tail;
    case Quantity::current:
      return before + "current" + tail;
    case Quantity::temperature:
      return before + "temperature" + tail;
    case Quantity::state_of_charge:
      return before + "state_of_charge" + tail;
    default:
      return header;
  }
}

std::optional<Numbered> numbered(std::string_view header) {
  std::size_t end = header.size();
  while (end > 0 && !digit(header[end - 1])) --end;
  if (end == 0) return std::nullopt;
  std::size_t from = end;
  while (from > 0 && digit(header[from - 1])) --from;
  if (end - from > 4) return std::nullopt;
  Numbered n;
  n.number = std::stoi(std::string(header.substr(from, end - from)));
  n.stem = std::string(header.substr(0, from)) + "#" + std::string(header.substr(end));
  return n;
}

bool natural_less(std::string_view a, std::string_view b) {
  std::size_t i = 0, j = 0;
  while (i < a.size() && j < b.size()) {
    if (digit(a[i]) && digit(b[j])) {
      std::size_t p = i, q = j;
      while (p < a.size() && digit(a[p])) ++p;
      while (q < b.size() && digit(b[q])) ++q;
      while (i < p && a[i] == '0') ++i;
      while (j < q && b[j] == '0') ++j;
      if (p - i != q - j) return p - i < q - j;
      const int order = a.substr(i, p - i).compare(b.substr(j, q - j));
      if (order != 0) return order < 0;
      i = p, j = q;
    } else {
      if (a[i] != b[j]) return a[i] < b[j];
      ++i, ++j;
    }
  }
  return a.size() - i < b.size() - j;
}

namespace {

/// Headers that differ only in a number, with voltages or temperatures of cells under them.
struct Family {
  std::string stem;
  std::vector<std::size_t> members;
  bool temperature = false;
  double scale = 1.0;
};

std::vector<Family> families(const std::vector<std::string>& headers,
                             const std::vector<std::vector<double>>& values, const Told& told) {
  std::map<std::string, std::vector<std::size_t>> by_stem;
  for (std::size_t i = 0; i < headers.size(); ++i)
    if (const auto n = numbered(headers[i])) by_stem[n->stem].push_back(i);
  std::vector<Family> found;
  const auto told_cells = told.find("cells");
  for (auto& [stem, members] : by_stem) {
    const bool by_hand = told_cells != told.end() && told_cells->second == stem;
    if (told_cells != told.end() && !by_hand && !holds(base::folded(stem), {"temp"})) continue;
    if (members.size() < (by_hand ? 1u : 2u)) continue;
    const std::string small = base::folded(stem), unit = unit_at_end(stem);
    Family f{stem, {}, false, 1.0};
    std::vector<double> typicals;
    for (const std::size_t m : members)
      if (const double t = typical(values[m]); t > 0.0) typicals.push_back(t);
    if (typicals.empty()) continue;
    const double usual = base::median(typicals);
    if (holds(small, {"temp"}) || unit == "C" || unit == "°C") {
      f.temperature = true;
    } else if (unit == "mV" || (unit.empty() && usual > 1000.0 && usual < 5000.0)) {
      f.scale = 1e-3;
    } else if (!(unit == "V" || unit.empty()) || usual < 1.0 || usual > 5.0 ||
               holds(small, {"curr", "amp", "power", "soc", "resist", "balanc"})) {
      if (!by_hand) continue;
    }
    const double low = f.temperature ? -60.0 : 1.0 / f.scale,
                 high = f.temperature ? 150.0 : 5.0 / f.scale;
    // A table may have more columns than the pack has cells: those never read anything.
    for (const std::size_t m : members)
      if (const double t = typical(values[m]); by_hand || (t >= low && t <= high && t != 0.0))
        f.members.push_back(m);
    if (f.members.size() < (by_hand ? 1u : 2u)) continue;
    std::sort(f.members.begin(), f.members.end(),
              [&](std::size_t a, std::size_t b) { return natural_less(headers[a], headers[b]); });
    found.push_back(std::move(f));
  }
  std::sort(found.begin(), found.end(),
            [](const Family& a, const Family& b) { return natural_less(a.stem, b.stem); });
  return found;
}

}  // namespace

std::vector<Channel> name_channels(const std::vector<std::string>& headers,
                                   const std::vector<std::vector<double>>& values,
                                   const Told& told) {
  std::vector<Channel> channels(headers.size());
  std::vector<bool> named(headers.size(), false);
  for (std::size_t i = 0; i < headers.size(); ++i) channels[i].header = headers[i];
  int packs = 0;
  std::vector<std::string> prefixes;
  const std::vector<Family> all = families(headers, values, told);
  for (const Family& f : all) {
    if (f.temperature) continue;
    for (const std::size_t m : f.members) {
      Channel& c = channels[m];
      c.quantity = Quantity::cell_voltage;
      c.pack = packs;
      c.number = numbered(headers[m])->number;
      c.scale = f.scale;
      c.unit = "V";
      named[m] = true;
    }
    prefixes.push_back(f.stem.substr(0, std::min(f.stem.find('#'), f.stem.find("cell"))));
    ++packs;
  }
  for (const Family& f : all) {
    if (!f.temperature) continue;
    for (const std::size_t m : f.members) {
      channels[m].quantity = Quantity::cell_temperature;
      channels[m].number = numbered(headers[m])->number;
      channels[m].unit = "C";
      named[m] = true;
    }
  }
  for (std::size_t i = 0; i < headers.size(); ++i) {
    if (named[i]) continue;
    name_single(channels[i], values[i]);
    for (std::size_t p = 0; p < prefixes.size() && packs > 1; ++p)
      if (!prefixes[p].empty() && headers[i].starts_with(prefixes[p])) channels[i].pack = int(p);
  }
  constexpr std::pair<const char*, Quantity> meanings[] = {{"current", Quantity::current},
                                                           {"voltage", Quantity::pack_voltage},
                                                           {"temperature", Quantity::temperature},
                                                           {"time", Quantity::time},
                                                           {"soc", Quantity::state_of_charge}};
  for (const auto& [word, quantity] : meanings) {
    const auto said = told.find(word);
    if (said == told.end()) continue;
    std::string header = said->second, unit;
    if (const auto open = header.rfind('[');
        open != std::string::npos && header.back() == ']' &&
        std::find(headers.begin(), headers.end(), header) == headers.end()) {
      unit = header.substr(open + 1, header.size() - open - 2);
      header = std::string(base::trimmed(header.substr(0, open)));
    }
    bool there = false;
    for (Channel& c : channels) {
      if (c.header != header) {
        if (c.quantity == quantity) c.quantity = Quantity::other;
        continue;
      }
      there = true;
      c.quantity = quantity;
      if (quantity == Quantity::temperature) set_temperature(c, unit, 0.0);
      if (unit == "mA" || unit == "mV") c.scale = 1e-3;
    }
    if (!there)
      throw base::InputError({}, "no column '" + header + "'", "one of the record's headers",
                             "copy the header as it stands in the record");
  }
  return channels;
}

std::vector<std::vector<std::size_t>> cells_by_pack(const std::vector<Channel>& channels) {
  std::vector<std::vector<std::size_t>> packs;
  for (std::size_t i = 0; i < channels.size(); ++i) {
    const Channel& c = channels[i];
    if (c.quantity != Quantity::cell_voltage) continue;
    if (packs.size() <= std::size_t(c.pack)) packs.resize(std::size_t(c.pack) + 1);
    packs[std::size_t(c.pack)].push_back(i);
  }
  for (auto& pack : packs)
    std::stable_sort(pack.begin(), pack.end(), [&](std::size_t a, std::size_t b) {
      return channels[a].number < channels[b].number;
    });
  return packs;
}

std::optional<LongTable> long_table(const std::vector<std::string>& headers, const Told& told) {
  const auto find = [&](const char* meaning, std::initializer_list<const char*> words) {
    std::optional<std::size_t> found;
    const auto said = told.find(meaning);
    for (std::size_t i = 0; i < headers.size() && !found; ++i) {
      const std::string small = base::folded(base::trimmed(headers[i]));
      if (said != told.end()
              ? headers[i] == said->second
              : std::any_of(words.begin(), words.end(), [&](const char* w) { return small == w; }))
        found = i;
    }
    return found;
  };
  const auto name = find("name", {"name", "entity", "entity_id", "sensor", "topic", "series", "id",
                                  "channel", "quantity", "metric"});
  const auto value = find("value", {"value", "state", "reading", "wert", "payload"});
  const auto time = find("time", {"time", "timestamp", "last_changed", "last_updated", "date",
                                  "zeit", "datetime", "utc", "ts"});
  if (!name || !value || !time) return std::nullopt;
  return LongTable{*name, *value, *time};
}

}  // namespace feed

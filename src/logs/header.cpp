// SPDX-License-Identifier: Apache-2.0
#include "logs/header.hpp"

#include <algorithm>
#include <array>
#include <span>
#include <vector>

#include "base/encoding.hpp"
#include "base/number.hpp"

namespace logs {
namespace {

struct UnitWord {
  std::string_view text;  // exact spelling; letters matter (mA is not MA)
  Meaning meaning;
  std::string_view unit;
  double scale;
};

constexpr UnitWord unit_words[] = {
    {"s", Meaning::time, "s", 1.0},           {"sec", Meaning::time, "s", 1.0},
    {"secs", Meaning::time, "s", 1.0},        {"seconds", Meaning::time, "s", 1.0},
    {"sekunden", Meaning::time, "s", 1.0},    {"ms", Meaning::time, "ms", 1e-3},
    {"min", Meaning::time, "min", 60.0},      {"mins", Meaning::time, "min", 60.0},
    {"minutes", Meaning::time, "min", 60.0},  {"h", Meaning::time, "h", 3600.0},
    {"hr", Meaning::time, "h", 3600.0},       {"hrs", Meaning::time, "h", 3600.0},
    {"hours", Meaning::time, "h", 3600.0},    {"V", Meaning::voltage, "V", 1.0},
    {"mV", Meaning::voltage, "mV", 1e-3},     {"volt", Meaning::voltage, "V", 1.0},
    {"volts", Meaning::voltage, "V", 1.0},    {"A", Meaning::current, "A", 1.0},
    {"mA", Meaning::current, "mA", 1e-3},     {"amp", Meaning::current, "A", 1.0},
    {"amps", Meaning::current, "A", 1.0},     {"Ah", Meaning::capacity, "Ah", 1.0},
    {"AH", Meaning::capacity, "Ah", 1.0},     {"mAh", Meaning::capacity, "mAh", 1e-3},
    {"mAH", Meaning::capacity, "mAh", 1e-3},  {"Wh", Meaning::energy, "Wh", 1.0},
    {"WH", Meaning::energy, "Wh", 1.0},       {"mWh", Meaning::energy, "mWh", 1e-3},
    {"kWh", Meaning::energy, "kWh", 1e3},     {"W", Meaning::power, "W", 1.0},
    {"mW", Meaning::power, "mW", 1e-3},       {"kW", Meaning::power, "kW", 1e3},
    {"C", Meaning::temperature, "C", 1.0},    {"°C", Meaning::temperature, "C", 1.0},
    {"degC", Meaning::temperature, "C", 1.0}, {"Cel", Meaning::temperature, "C", 1.0},
    {"F", Meaning::temperature, "F", 1.0},    {"°F", Meaning::temperature, "F", 1.0},
    {"degF", Meaning::temperature, "F", 1.0}, {"K", Meaning::temperature, "K", 1.0},
    {"0.1C", Meaning::temperature, "C", 0.1}, {"mm:ss", Meaning::time, "mm:ss", 1.0},
    {"h:mm", Meaning::time, "h:mm", 1.0},
};

struct Word {
  std::string_view stem;  // lower case; a header word that begins with it means this
  Meaning meaning;
};
constexpr Word words[] = {
    {"timestamp", Meaning::time},    {"time", Meaning::time},        {"zeit", Meaning::time},
    {"tijd", Meaning::time},         {"temps", Meaning::time},       {"tiempo", Meaning::time},
    {"elapsed", Meaning::time},      {"epoch", Meaning::time},       {"testtime", Meaning::time},
    {"uhrzeit", Meaning::time},      {"heure", Meaning::time},       {"hora", Meaning::time},
    {"dauer", Meaning::time},        {"duree", Meaning::time},       {"voltaj", Meaning::voltage},
    {"date", Meaning::date},         {"datum", Meaning::date},       {"fecha", Meaning::date},
    {"volt", Meaning::voltage},      {"spannung", Meaning::voltage}, {"spanning", Meaning::voltage},
    {"tension", Meaning::voltage},   {"current", Meaning::current},  {"amp", Meaning::current},
    {"strom", Meaning::current},     {"stroom", Meaning::current},   {"courant", Meaning::current},
    {"corriente", Meaning::current}, {"capac", Meaning::capacity},   {"ladung", Meaning::capacity},
    {"kapaz", Meaning::capacity},    {"energ", Meaning::energy},     {"temp", Meaning::temperature},
    {"power", Meaning::power},       {"leistung", Meaning::power},   {"vermogen", Meaning::power},
    {"puissance", Meaning::power},   {"potencia", Meaning::power},   {"state", Meaning::state},
    {"status", Meaning::state},      {"mode", Meaning::state},       {"zustand", Meaning::state},
    {"estado", Meaning::state},      {"etat", Meaning::state},       {"phase", Meaning::state},
    {"step", Meaning::step},         {"schritt", Meaning::step},     {"stap", Meaning::step},
    {"etape", Meaning::step},        {"paso", Meaning::step},        {"cycle", Meaning::cycle},
    {"zyklus", Meaning::cycle},      {"record", Meaning::record},    {"index", Meaning::record},
    {"row", Meaning::record},        {"channel", Meaning::channel},  {"kanal", Meaning::channel},
    {"canal", Meaning::channel},     {"kanaal", Meaning::channel},   {"cell", Meaning::channel},
    {"zelle", Meaning::channel},     {"slot", Meaning::channel},     {"tempo", Meaning::time},
    {"corrente", Meaning::current},  {"tensione", Meaning::voltage}, {"stato", Meaning::state},
    {"fase", Meaning::state},        {"potenza", Meaning::power},    {"modus", Meaning::state},
    {"modo", Meaning::state},        {"data", Meaning::date},        {"watt", Meaning::power},
};
/// Found anywhere in a word, so that "Zellspannung", "Ladestrom" and "CellVoltage" are told by what
/// they end with.
constexpr Word inner_words[] = {
    {"voltage", Meaning::voltage},  {"spannung", Meaning::voltage},
    {"spanning", Meaning::voltage}, {"current", Meaning::current},
    {"strom", Meaning::current},    {"stroom", Meaning::current},
    {"courant", Meaning::current},  {"temperat", Meaning::temperature},
    {"kapazit", Meaning::capacity}, {"capacit", Meaning::capacity},
    {"energie", Meaning::energy},   {"energy", Meaning::energy},
    {"leistung", Meaning::power},   {"zeit", Meaning::time},
    {"tijd", Meaning::time},        {"uhrzeit", Meaning::time},
    {"datum", Meaning::date},
};
constexpr std::string_view hour_words[] = {"hour",   "hours", "hr",  "hrs",    "stunden",
                                           "stunde", "uren",  "uur", "heures", "heure",
                                           "horas",  "hora",  "ore"};
constexpr std::string_view one_letter_voltage[] = {"u", "v"};
constexpr std::string_view room_words[] = {"air",      "ambient", "room",     "chamber",
                                           "umgebung", "raum",    "omgeving", "ambiant",
                                           "ambiente", "luft",    "kamer"};
constexpr std::string_view target_words[] = {"set",    "target", "limit", "soll", "setpoint",
                                             "cutoff", "cut",    "max",   "min",  "avg"};

constexpr std::string_view discharge_stems[] = {"discharg", "dischg", "dis",     "dchg",    "dsg",
                                                "entlad",   "ontlad", "decharg", "descarga"};
constexpr std::string_view charge_stems[] = {"charge", "charging", "chg",   "laden",
                                             "lade",   "carga",    "ladung"};

bool contains(std::span<const std::string_view> list, std::string_view word) {
  return std::find(list.begin(), list.end(), word) != list.end();
}

/// Words of a header: letters, digits and the degree sign; everything else parts them. "0.1C" stays
/// whole.
std::vector<std::string> split_words(std::string_view text) {
  std::vector<std::string> result(1);
  for (std::size_t i = 0; i < text.size(); ++i) {
    const char c = text[i];
    const bool inside_number = c == '.' && i > 0 && text[i - 1] >= '0' && text[i - 1] <= '9';
    const bool word = (c >= '0' && c <= '9') || (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') ||
                      static_cast<unsigned char>(c) >= 0x80 || inside_number;
    if (word)
      result.back() += c;
    else if (!result.back().empty())
      result.emplace_back();
  }
  if (result.back().empty()) result.pop_back();
  return result;
}

const UnitWord* unit_word(std::string_view text) {
  for (const UnitWord& u : unit_words)
    if (u.text == text) return &u;
  return nullptr;
}

/// The meaning of one word: by how it begins, else by what it holds.
Meaning meaning_of_word(const std::string& word) {
  for (const Word& w : inner_words)
    if (word.find(w.stem) != std::string::npos && !word.starts_with("time")) return w.meaning;
  for (const Word& w : words)
    if (word.starts_with(w.stem)) return w.meaning;
  return Meaning::other;
}

/// "Amp hours", "Wattstunden": a charge or an energy, not a current or a power.
std::optional<Meaning> hours_of(const std::vector<std::string>& tokens) {
  bool amps = false, watts = false, hours = false;
  for (const std::string& token : tokens) {
    const std::string word = base::folded(token);
    amps = amps || word.starts_with("amp");
    watts = watts || word.starts_with("watt");
    hours = hours || contains(hour_words, word) || word.ends_with("hour") ||
            word.ends_with("hours") || word.ends_with("stunden") || word.ends_with("uren");
  }
  if (hours && amps) return Meaning::capacity;
  if (hours && watts) return Meaning::energy;
  return std::nullopt;
}

Meaning meaning_of(const std::vector<std::string>& tokens) {
  if (const auto hours = hours_of(tokens)) return *hours;
  bool step = false;
  Meaning found = Meaning::other;
  for (const std::string& token : tokens) {
    const std::string word = base::folded(token);
    if (word == "date" || word == "datum" || word == "fecha") {
      if (found == Meaning::other) found = Meaning::date;
      continue;
    }
    if (word == "temps") {  // French for time; "temp" alone is a temperature
      found = Meaning::time;
      continue;
    }
    if (const Meaning meant = meaning_of_word(word); meant != Meaning::other) {
      if (meant == Meaning::step) step = true;
      if (found == Meaning::other || found == Meaning::step || found == Meaning::date ||
          found == Meaning::channel)
        found = meant;
    }
    if (found == Meaning::other) {
      if (contains(one_letter_voltage, word)) found = Meaning::voltage;
      if (word == "i") found = Meaning::current;
      if (word == "t") found = Meaning::time;
    }
  }
  if (step && found == Meaning::time) return Meaning::step_time;
  return found;
}

}  // namespace

std::string_view name(Meaning meaning) {
  constexpr std::array<std::string_view, 15> names = {
      "other",       "time",  "step_time", "date", "voltage", "current", "capacity", "energy",
      "temperature", "power", "state",     "step", "cycle",   "record",  "channel"};
  return names[static_cast<std::size_t>(meaning)];
}

std::optional<Meaning> meaning_named(std::string_view word) {
  for (int i = 0; i < 15; ++i)
    if (name(static_cast<Meaning>(i)) == word) return static_cast<Meaning>(i);
  return std::nullopt;
}

HeaderField read_header_field(std::string_view header) {
  const std::string text = base::to_utf8(header);
  std::vector<std::string> tokens = split_words(text);
  HeaderField field;
  // A unit is a word of its own in brackets, after a comma or at the end: "Strom [mA]", "time_s",
  // "Elapsed, s".
  const UnitWord* unit = nullptr;
  if (!tokens.empty()) unit = unit_word(tokens.back());
  if (const std::size_t open = text.find_first_of("[("); open != std::string::npos) {
    const std::size_t close = std::min(text.find_first_of("])", open), text.size());
    const std::string inside(
        base::trimmed(std::string_view(text).substr(open + 1, close - open - 1)));
    if (const UnitWord* bracketed = unit_word(inside)) unit = bracketed;
  }
  if (unit != nullptr && !tokens.empty() && unit_word(tokens.back()) == unit && tokens.size() > 1)
    tokens.pop_back();
  // "Wert A", "col A": a letter that counts columns, not a unit, where no word speaks of a current.
  if (unit != nullptr && unit->text.size() == 1 && text.size() > 2 &&
      text[text.size() - 2] == ' ' && text.find_first_of("[(,/_") == std::string::npos &&
      meaning_of(tokens) == Meaning::other)
    unit = nullptr;
  field.meaning = meaning_of(tokens);
  if (unit != nullptr) {
    const bool time_word = field.meaning == Meaning::time || field.meaning == Meaning::step_time;
    const bool one_letter = field.meaning == Meaning::other ||
                            (time_word && tokens.size() == 1 && base::lower(tokens[0]) == "t");
    // The unit decides between kinds, but "h" or "s" behind "step" makes a step time, not a time.
    if (unit->meaning != Meaning::time || one_letter)
      field.meaning = unit->meaning;
    else if (field.meaning == Meaning::step)
      field.meaning = Meaning::step_time;
    if (unit->meaning == field.meaning || (unit->meaning == Meaning::time && time_word) ||
        field.meaning == Meaning::step_time) {
      field.unit = unit->unit;
      field.scale = unit->scale;
    }
  }
  for (const std::string& token : split_words(text)) {
    const std::string word = base::folded(token);
    field.room = field.room || contains(room_words, word);
    field.target = field.target || (contains(target_words, word) && unit_word(token) == nullptr);
    for (const std::string_view stem : discharge_stems)
      if (word.starts_with(stem)) field.half = Half::discharge;
    if (field.half == Half::both)
      for (const std::string_view stem : charge_stems)
        if (word.starts_with(stem)) field.half = Half::charge;
  }
  return field;
}

std::optional<HeaderField> read_unit(std::string_view text) {
  std::string copy = base::to_utf8(base::trimmed(text));
  if (copy.size() > 2 &&
      ((copy.front() == '[' && copy.back() == ']') || (copy.front() == '(' && copy.back() == ')')))
    copy = std::string(base::trimmed(std::string_view(copy).substr(1, copy.size() - 2)));
  if (const UnitWord* unit = unit_word(copy))
    return HeaderField{
        .meaning = unit->meaning, .unit = std::string(unit->unit), .scale = unit->scale};
  return std::nullopt;
}

}  // namespace logs

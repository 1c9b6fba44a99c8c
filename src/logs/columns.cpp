// SPDX-License-Identifier: Apache-2.0
#include "logs/columns.hpp"

#include <algorithm>
#include <string_view>

#include <fmt/format.h>

#include "base/encoding.hpp"
#include "base/input_error.hpp"
#include "base/number.hpp"
#include "logs/clock.hpp"

namespace logs {
namespace {

using base::InputError;

std::string joined(const std::vector<std::string>& headers) {
  std::string text;
  for (const std::string& h : headers)
    text += fmt::format("{}'{}'", text.empty() ? "" : ", ", base::to_utf8(h));
  return text;
}

}  // namespace

std::variant<Roles, Question> choose_columns(const Layout& layout,
                                             const std::map<Meaning, NamedColumn>& named) {
  std::vector<HeaderField> fields;
  for (std::size_t i = 0; i < layout.headers.size(); ++i) {
    HeaderField field = read_header_field(layout.headers[i]);
    if (i < layout.units_row.size()) {
      if (const auto unit = read_unit(layout.units_row[i]);
          unit && (unit->meaning == field.meaning || unit->meaning == Meaning::time)) {
        field.unit = unit->unit;
        field.scale = unit->scale;
      }
    }
    // A unit behind the first number: "3.301 V".
    if (field.unit.empty() && i < layout.first_row.size()) {
      if (const auto unit = read_unit(unit_behind(layout.first_row[i], layout.marks));
          unit && (unit->meaning == field.meaning || field.meaning == Meaning::other)) {
        field.meaning = unit->meaning;
        field.unit = unit->unit;
        field.scale = unit->scale;
      }
    }
    fields.push_back(field);
  }

  Question question;
  const auto chosen_by_hand = [&](Meaning meaning) -> std::optional<Roles::Role> {
    const auto entry = named.find(meaning);
    if (entry == named.end()) return std::nullopt;
    for (std::size_t i = 0; i < fields.size(); ++i) {
      if (base::to_utf8(layout.headers[i]) != entry->second.header &&
          fmt::format("#{}", i + 1) != entry->second.header)
        continue;
      Roles::Role role{i, fields[i], !fields[i].unit.empty(), false};
      role.field.meaning = meaning;
      if (!entry->second.unit.empty()) {
        const auto unit = read_unit(entry->second.unit);
        if (!unit)
          throw InputError({"", layout.header_line, 0},
                           fmt::format("the unit '{}'", entry->second.unit),
                           "a unit such as s, min, V, mV, A, mA, Ah, C",
                           "write for example --columns 'time=Time[min]'");
        role.field.unit = unit->unit;
        role.field.scale = unit->scale;
        role.unit_known = role.by_hand = true;
      }
      return role;
    }
    throw InputError({"", layout.header_line, 0},
                     fmt::format("no column '{}'", entry->second.header),
                     fmt::format("one of {}", joined(layout.headers)),
                     "spell the column's name as it stands in the file");
  };
  std::optional<Roles::Role> other_half;  // the charge column of a pair, beside the discharge's
  /// The one column with this meaning; of several equals a question.
  const auto choose = [&](Meaning meaning, bool ask) -> std::optional<Roles::Role> {
    other_half.reset();
    if (auto role = chosen_by_hand(meaning)) return role;
    std::vector<std::size_t> alike;
    for (std::size_t i = 0; i < fields.size(); ++i)
      if (fields[i].meaning == meaning && !fields[i].target) alike.push_back(i);
    if (meaning == Meaning::temperature && alike.size() > 1) {  // the cell's wins over the room's
      std::vector<std::size_t> cell;
      for (const std::size_t i : alike)
        if (!fields[i].room) cell.push_back(i);
      if (!cell.empty()) alike = {cell.front()};
    }
    if (alike.empty()) return std::nullopt;
    if (alike.size() == 2 && fields[alike[0]].half != fields[alike[1]].half &&
        fields[alike[0]].half != Half::both && fields[alike[1]].half != Half::both) {
      if (fields[alike[0]].half == Half::charge) std::swap(alike[0], alike[1]);
      other_half = Roles::Role{alike[1], fields[alike[1]], !fields[alike[1]].unit.empty(), false};
      alike.pop_back();
    }
    const auto at = [&](const std::vector<std::string>& row, std::size_t c) {
      return c < row.size() ? std::string_view(row[c]) : std::string_view();
    };
    std::erase_if(alike, [&](std::size_t c) {  // the same column twice is one
      return c != alike.front() &&
             std::all_of(layout.rows.begin(), layout.rows.end(),
                         [&](const auto& row) { return at(row, c) == at(row, alike.front()); });
    });
    if (meaning == Meaning::voltage && alike.size() > 1)  // a single cell's first
      std::stable_partition(alike.begin(), alike.end(), [&](std::size_t c) {
        const double scale = fields[c].unit.empty() ? 1.0 : fields[c].scale;
        const double volts = parse_reading(at(layout.first_row, c), layout.marks).value_or(0.0);
        return volts * scale > 1.0 && volts * scale < 5.0;
      });
    if (alike.size() > 1 && ask && question.readings.empty()) {
      question.about = fmt::format("several columns look like {}", name(meaning));
      for (const std::size_t i : alike) {
        const std::string header = base::to_utf8(layout.headers[i]);
        question.readings.push_back(fmt::format("{} is in '{}'", name(meaning), header));
        question.answers.push_back(fmt::format("columns={}={}", name(meaning), header));
      }
      question.option = fmt::format("--columns '{}={}'", name(meaning),
                                    base::to_utf8(layout.headers[alike.front()]));
    }
    return Roles::Role{alike.front(), fields[alike.front()], !fields[alike.front()].unit.empty(),
                       false};
  };
  const auto must = [&](std::optional<Roles::Role> role, Meaning meaning) {
    if (role) return *role;
    throw InputError(
        {"", layout.header_line, 0},
        fmt::format("no {} column among {}", name(meaning), joined(layout.headers)),
        fmt::format("a column whose header says {}", name(meaning)),
        fmt::format("name it: --columns '{}=HEADER', with a unit if need be: '{}=HEADER[{}]'",
                    name(meaning), name(meaning),
                    meaning == Meaning::voltage   ? "V"
                    : meaning == Meaning::current ? "A"
                                                  : "s"));
  };

  Roles roles;
  roles.voltage = must(choose(Meaning::voltage, true), Meaning::voltage);
  roles.current = must(choose(Meaning::current, true), Meaning::current);
  roles.charge_current = other_half;
  roles.date = choose(Meaning::date, false);
  // Of several times: one counted from the start before a stamp, before one that restarts with each
  // step.
  auto time = chosen_by_hand(Meaning::time);
  if (!time) {
    std::vector<std::size_t> clocks;
    for (std::size_t i = 0; i < fields.size(); ++i)
      if (fields[i].meaning == Meaning::time && !fields[i].target) clocks.push_back(i);
    std::size_t best = fields.size();
    for (const std::size_t i : clocks) {
      const std::string_view value =
          i < layout.first_row.size() ? std::string_view(layout.first_row[i]) : "";
      const bool stamp =
          parse_date_and_clock(value) || parse_reading(value, layout.marks).value_or(0.0) > 1e8;
      if (best == fields.size() ||
          (!stamp && (parse_date_and_clock(layout.first_row[best]) || roles.date)))
        best = i;
    }
    if (best < fields.size())
      time = Roles::Role{best, fields[best], !fields[best].unit.empty(), false};
  }
  if (!time && roles.date) {  // the day's column may hold the clock as well
    time = roles.date;
    roles.date.reset();
  }
  if (!time) time = choose(Meaning::step_time, false);
  roles.time = must(time, Meaning::time);
  if (roles.date &&
      (roles.date->index == roles.time.index || roles.date->index >= layout.first_row.size() ||
       !parse_date(layout.first_row[roles.date->index])))
    roles.date.reset();
  roles.temperature = choose(Meaning::temperature, false);
  roles.state = choose(Meaning::state, false);
  roles.channel = choose(Meaning::channel, false);
  roles.capacity = choose(Meaning::capacity, false);
  roles.charge_capacity = other_half;
  roles.energy = choose(Meaning::energy, false);
  if (!question.readings.empty()) return question;
  return roles;
}

}  // namespace logs

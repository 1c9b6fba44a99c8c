// SPDX-License-Identifier: Apache-2.0
#include "logs/columns.hpp"

#include <algorithm>
#include <cmath>
#include <string_view>

#include <fmt/format.h>

#include "base/encoding.hpp"
#include "base/input_error.hpp"
#include "base/number.hpp"
#include "logs/clock.hpp"
#include "logs/pairs.hpp"

namespace logs {
namespace {

using base::InputError;

constexpr std::size_t cells_of_a_bank = 3;  // so many voltages of cells side by side

std::string joined(const std::vector<std::string>& headers) {
  std::string text;
  for (const std::string& h : headers)
    text += fmt::format("{}'{}'", text.empty() ? "" : ", ", base::to_utf8(h));
  return text;
}

std::string_view usual_unit(Meaning meaning) {
  return meaning == Meaning::voltage ? "V" : meaning == Meaning::current ? "A" : "s";
}

/// "cell07_V" to "cell#_V": columns that differ by their number only.
std::string without_numbers(std::string_view header) {
  std::string text;
  for (const char c : header) {
    const bool digit = c >= '0' && c <= '9';
    if (!digit)
      text += c;
    else if (text.empty() || text.back() != '#')
      text += '#';
  }
  return text;
}

class Chooser {
 public:
  Chooser(const Layout& layout, const std::map<Meaning, NamedColumn>& named)
      : layout_(layout), named_(named), contents_(contents_of(layout)) {
    for (std::size_t i = 0; i < layout.headers.size(); ++i) fields_.push_back(field_of(i));
  }

  std::variant<Roles, Question> run() {
    refuse_a_bank();
    roles_.voltage = needed(Meaning::voltage);
    roles_.current = needed(Meaning::current);
    if (!pair_.empty()) roles_.charge_current = role_at(pair_.front());
    choose_time();
    roles_.temperature = choose(Meaning::temperature, false);
    roles_.state = choose_state();
    roles_.channel = choose(Meaning::channel, false);
    roles_.capacity = choose(Meaning::capacity, false);
    if (!pair_.empty()) roles_.charge_capacity = role_at(pair_.front());
    roles_.energy = choose(Meaning::energy, false);
    if (!question_.readings.empty()) return question_;
    return roles_;
  }

 private:
  /// What the header, the row of units and the unit behind the first number say; nothing that the
  /// content refutes.
  [[nodiscard]] HeaderField field_of(std::size_t i) const {
    HeaderField field = read_header_field(layout_.headers[i]);
    const auto take = [&](const HeaderField& unit) {
      field.unit = unit.unit;
      field.scale = unit.scale;
    };
    if (i < layout_.units_row.size())
      if (const auto unit = read_unit(layout_.units_row[i])) {
        if (field.meaning == Meaning::other) field.meaning = unit->meaning;
        if (unit->meaning == field.meaning || unit->meaning == Meaning::time) take(*unit);
      }
    // A unit beside the number itself is worth more than a header's.
    if (i < layout_.first_row.size())
      if (const auto unit = read_unit(unit_behind(layout_.first_row[i], layout_.marks))) {
        const bool a_time = unit->meaning == Meaning::time && field.meaning == Meaning::step_time;
        if (!a_time) field.meaning = unit->meaning;
        take(*unit);
      }
    const ColumnContent& content = contents_[i];
    if (content.holds == Holds::flows) {
      field.meaning = Meaning::state;
    } else if (!could_mean(content, field.meaning)) {
      field.meaning = Meaning::other;
      field.unit.clear();
      field.scale = 1.0;
    }
    // Whatever a header says of the unit, a clock is hours, minutes and seconds.
    if (content.holds == Holds::clocks || content.holds == Holds::stamps) {
      if (field.meaning == Meaning::other) field.meaning = Meaning::time;
      if (field.unit != "mm:ss" && field.unit != "h:mm") field.unit.clear();
      field.scale = 1.0;
    }
    if (content.holds == Holds::dates && field.meaning != Meaning::time)
      field.meaning = Meaning::date;
    return field;
  }

  [[nodiscard]] Roles::Role role_at(std::size_t i) const {
    return {i, fields_[i], !fields_[i].unit.empty(), false};
  }

  [[nodiscard]] std::string called(std::size_t i) const {
    const std::string text = base::to_utf8(layout_.headers[i]);
    return text.empty() ? fmt::format("#{}", i + 1) : text;
  }

  void refuse_a_bank() const {
    if (named_.contains(Meaning::voltage)) return;
    std::map<std::string, std::vector<std::string>> alike;
    for (std::size_t i = 0; i < fields_.size(); ++i) {
      const ColumnContent& c = contents_[i];
      const double scale =
          fields_[i].unit.empty() ? (c.middle > 500.0 ? 1e-3 : 1.0) : fields_[i].scale;
      const bool a_cells = c.holds == Holds::numbers && c.middle * scale > 1.0 &&
                           c.middle * scale < 5.0 && c.most > c.least;
      const bool could = fields_[i].meaning == Meaning::voltage ||
                         fields_[i].meaning == Meaning::other ||
                         fields_[i].meaning == Meaning::channel;
      const std::string pattern = without_numbers(called(i));
      if (a_cells && could && pattern.find('#') != std::string::npos)
        alike[pattern].push_back(called(i));
    }
    for (auto& [pattern, cells] : alike)
      if (cells.size() >= cells_of_a_bank && layout_.header_line > 0)
        throw BankRecord(layout_.header_line, std::move(cells));
  }

  [[nodiscard]] std::optional<Roles::Role> by_hand(Meaning meaning) const {
    const auto entry = named_.find(meaning);
    if (entry == named_.end()) return std::nullopt;
    for (std::size_t i = 0; i < fields_.size(); ++i) {
      if (base::to_utf8(layout_.headers[i]) != entry->second.header &&
          fmt::format("#{}", i + 1) != entry->second.header)
        continue;
      Roles::Role role = role_at(i);
      if (role.field.meaning != meaning) {
        const HeaderField said = read_header_field(layout_.headers[i]);
        if (said.meaning == meaning) role.field = said, role.unit_known = !said.unit.empty();
      }
      role.field.meaning = meaning;
      if (!entry->second.unit.empty()) {
        const auto unit = read_unit(entry->second.unit);
        if (!unit)
          throw InputError({"", layout_.header_line, 0},
                           fmt::format("the unit '{}'", entry->second.unit),
                           "a unit such as s, min, V, mV, A, mA, Ah, C",
                           "write for example --columns 'time=Time[min]'");
        role.field.unit = unit->unit;
        role.field.scale = unit->scale;
        role.unit_known = role.by_hand = true;
      }
      return role;
    }
    throw InputError({"", layout_.header_line, 0},
                     fmt::format("no column '{}'", entry->second.header),
                     fmt::format("one of {}", joined(layout_.headers)),
                     "spell the column's name as it stands in the file");
  }

  [[nodiscard]] std::string_view at(const std::vector<std::string>& row, std::size_t c) const {
    return c < row.size() ? std::string_view(row[c]) : std::string_view();
  }

  void ask_which(Meaning meaning, const std::vector<std::size_t>& alike) {
    if (!question_.readings.empty()) return;
    question_.about = fmt::format("several columns look like {}", name(meaning));
    for (const std::size_t i : alike) {
      question_.readings.push_back(fmt::format("{} is in '{}'", name(meaning), called(i)));
      question_.answers.push_back(fmt::format("columns={}={}", name(meaning), called(i)));
    }
    question_.option = fmt::format("--columns '{}={}'", name(meaning), called(alike.front()));
  }

  /// Charge and discharge in columns of their own: the discharge stays, the charge goes to `pair_`.
  void part_a_pair(std::vector<std::size_t>& alike) {
    if (alike.size() != 2) return;
    const Half a = fields_[alike[0]].half, b = fields_[alike[1]].half;
    const bool by_words = a != b && a != Half::both && b != Half::both;
    if (!by_words && !take_turns(contents_[alike[0]], contents_[alike[1]])) return;
    if (a == Half::charge || b == Half::discharge) std::swap(alike[0], alike[1]);
    pair_ = {alike[1]};
    alike.pop_back();
  }

  /// The one column with this meaning; of several equals a question.
  std::optional<Roles::Role> choose(Meaning meaning, bool ask) {
    pair_.clear();
    if (auto role = by_hand(meaning)) return role;
    std::vector<std::size_t> alike;
    for (std::size_t i = 0; i < fields_.size(); ++i)
      if (fields_[i].meaning == meaning && !fields_[i].target) alike.push_back(i);
    if (meaning == Meaning::temperature && alike.size() > 1) {  // the cell's wins over the room's
      std::vector<std::size_t> cell;
      for (const std::size_t i : alike)
        if (!fields_[i].room) cell.push_back(i);
      if (!cell.empty()) alike = {cell.front()};
    }
    if (alike.empty()) return std::nullopt;
    part_a_pair(alike);
    std::erase_if(alike, [&](std::size_t c) {  // the same column twice is one
      return c != alike.front() &&
             std::all_of(layout_.rows.begin(), layout_.rows.end(),
                         [&](const auto& row) { return at(row, c) == at(row, alike.front()); });
    });
    if (meaning == Meaning::voltage && alike.size() > 1)  // a single cell's first
      std::stable_partition(alike.begin(), alike.end(), [&](std::size_t c) {
        const double scale = fields_[c].unit.empty() ? 1.0 : fields_[c].scale;
        const double volts = parse_reading(at(layout_.first_row, c), layout_.marks).value_or(0.0);
        return volts * scale > 1.0 && volts * scale < 5.0;
      });
    if (alike.size() > 1 && ask) ask_which(meaning, alike);
    return role_at(alike.front());
  }

  /// The state is the column whose words say charge and discharge.
  std::optional<Roles::Role> choose_state() {
    if (auto role = by_hand(Meaning::state)) return role;
    std::optional<std::size_t> best;
    for (std::size_t i = 0; i < fields_.size(); ++i) {
      if (contents_[i].holds != Holds::flows) continue;
      const bool says_so = read_header_field(layout_.headers[i]).meaning == Meaning::state;
      if (!best || says_so) best = i;
      if (says_so) break;
    }
    if (best) return role_at(*best);
    return choose(Meaning::state, false);
  }

  /// Columns that are something else by their headers.
  [[nodiscard]] std::vector<bool> taken() const {
    std::vector<bool> result;
    for (const HeaderField& f : fields_)
      result.push_back((f.meaning != Meaning::other && f.meaning != Meaning::channel) || f.target);
    return result;
  }

  Roles::Role needed(Meaning meaning) {
    if (auto role = choose(meaning, true)) return *role;
    const std::vector<bool> others = taken();
    const auto known = [&](Meaning m) -> std::optional<std::size_t> {
      if (m == Meaning::voltage && meaning == Meaning::current) return roles_.voltage.index;
      for (std::size_t i = 0; i < fields_.size(); ++i)
        if (fields_[i].meaning == m) return i;
      return std::nullopt;
    };
    const auto time_known = known(Meaning::time) ? known(Meaning::time) : known(Meaning::step_time);
    const ByContent found = roles_by_content(
        contents_, others, meaning == Meaning::voltage ? std::nullopt : known(Meaning::voltage),
        time_known);
    std::vector<std::size_t> which = meaning == Meaning::voltage   ? found.voltage
                                     : meaning == Meaning::current ? found.current
                                                                   : found.time;
    if (meaning == Meaning::current) part_a_pair(which);
    if (which.empty()) refuse_missing(meaning);
    if (which.size() > 1) ask_which(meaning, which);
    roles_.by_content.push_back(fmt::format("{} from '{}'", name(meaning), called(which.front())));
    fields_[which.front()].meaning = meaning;
    for (const std::size_t c : pair_) fields_[c].meaning = meaning;
    return role_at(which.front());
  }

  [[noreturn]] void refuse_missing(Meaning meaning) const {
    if (meaning == Meaning::current) refuse_a_packs_voltage();
    throw InputError(
        {"", layout_.header_line, 0},
        layout_.header_line > 0
            ? fmt::format("no {} column among {}", name(meaning), joined(layout_.headers))
            : fmt::format("no column that could be the {}, and no header", name(meaning)),
        fmt::format("a column whose header or whose readings say {}", name(meaning)),
        fmt::format("name it: --columns '{}=HEADER', with a unit if need be: '{}=HEADER[{}]'; a "
                    "column's number stands for its header: '{}=#2'",
                    name(meaning), name(meaning), usual_unit(meaning), name(meaning)));
  }

  /// A voltage of several cells and no current: what a running bank's monitor writes.
  void refuse_a_packs_voltage() const {
    const double scale = roles_.voltage.unit_known ? roles_.voltage.field.scale : 1.0;
    const double volts = contents_[roles_.voltage.index].middle * scale;
    if (volts < 5.5 || volts > 500.0) return;
    throw InputError({"", layout_.header_line, roles_.voltage.index + 1},
                     fmt::format("'{}' stands at {:.4g} V, about {:.0f} cells in series, and no "
                                 "current: the record of a bank",
                                 called(roles_.voltage.index), volts, volts / 3.3),
                     "a tester's log of one cell, with its current", "look at it under Watch");
  }

  /// Of several times: one counted from the start before a stamp, before one that restarts with
  /// each step.
  [[nodiscard]] std::optional<Roles::Role> clock_by_header() const {
    std::vector<std::size_t> clocks;
    for (std::size_t i = 0; i < fields_.size(); ++i)
      if (fields_[i].meaning == Meaning::time && !fields_[i].target) clocks.push_back(i);
    std::size_t best = fields_.size();
    for (const std::size_t i : clocks) {
      const std::string_view value = at(layout_.first_row, i);
      const bool stamp =
          parse_date_and_clock(value) || parse_reading(value, layout_.marks).value_or(0.0) > 1e8;
      if (best == fields_.size() ||
          (!stamp && (parse_date_and_clock(layout_.first_row[best]) || roles_.date)))
        best = i;
    }
    if (best == fields_.size()) return std::nullopt;
    return role_at(best);
  }

  void choose_time() {
    roles_.date = choose(Meaning::date, false);
    auto time = by_hand(Meaning::time);
    if (!time) time = clock_by_header();
    if (!time) time = choose(Meaning::step_time, false);
    if (!time && roles_.date && parse_date_and_clock(at(layout_.first_row, roles_.date->index))) {
      time = roles_.date;  // the day's column holds the clock as well
      roles_.date.reset();
    }
    if (!time) {
      if (roles_.date) time = clock_of_numbers();
      if (!time) time = needed(Meaning::time);
    }
    roles_.time = *time;
    settle_date();
  }

  /// A clock beside the day, written as a number, under a name that says nothing.
  [[nodiscard]] std::optional<Roles::Role> clock_of_numbers() const {
    for (std::size_t i = 0; i < fields_.size(); ++i)
      if (fields_[i].meaning == Meaning::other &&
          clock_as_numbers(contents_[i]) != NumberForm::none)
        return role_at(i);
    return std::nullopt;
  }

  void settle_date() {
    if (!roles_.date) return;
    const std::size_t day = roles_.date->index, clock = roles_.time.index;
    if (day == clock || day >= layout_.first_row.size()) return roles_.date.reset();
    roles_.date_form = days_as_numbers(contents_[day]);
    if (roles_.date_form == NumberForm::none && !parse_date(layout_.first_row[day]))
      return roles_.date.reset();
    if (contents_[clock].holds != Holds::numbers) return;
    roles_.clock_form = clock_as_numbers(contents_[clock]);
    // A time that counts from the start needs no day.
    if (roles_.clock_form == NumberForm::none ||
        (roles_.clock_form == NumberForm::hms && !roles_.time.field.unit.empty()) ||
        (roles_.clock_form == NumberForm::hms && roles_.date_form != NumberForm::ymd)) {
      roles_.clock_form = roles_.date_form = NumberForm::none;
      roles_.date.reset();
    }
  }

  const Layout& layout_;
  const std::map<Meaning, NamedColumn>& named_;
  std::vector<ColumnContent> contents_;
  std::vector<HeaderField> fields_;
  std::vector<std::size_t> pair_;  ///< the charge column of a pair, beside the discharge's
  Question question_;
  Roles roles_;
};

}  // namespace

BankRecord::BankRecord(std::size_t line, std::vector<std::string> cells)
    : base::InputError(
          {"", line, 0},
          fmt::format("a record of a bank: the voltages of {} cells side by side, '{}' to '{}'",
                      cells.size(), cells.front(), cells.back()),
          "a tester's log of one cell",
          fmt::format("look at it under Watch; to read one cell of it as a test, name its column: "
                      "--columns 'voltage={}'",
                      cells.front())),
      cells_(std::move(cells)) {}

std::variant<Roles, Question> choose_columns(const Layout& layout,
                                             const std::map<Meaning, NamedColumn>& named) {
  return Chooser(layout, named).run();
}

}  // namespace logs

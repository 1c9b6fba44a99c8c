// SPDX-License-Identifier: Apache-2.0
// Which column of a log is which.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "base/input_error.hpp"
#include "logs/content.hpp"
#include "logs/header.hpp"
#include "logs/sniff.hpp"

namespace logs {

/// What stays open after everything was weighed, and how to settle it.
struct Question {
  std::string about;
  std::vector<std::string> readings;
  std::string option;  ///< what to type, for example "--columns current=Strom 2"
  /// The same for each reading, by the settings' words ("sign=discharge-positive",
  /// "columns=time=t[s]; current=i[A]"); empty where they do not settle it.
  std::vector<std::string> answers = {};
};

/// A column that a person named: "Strom", "Strom[mA]", or "#3" for the third.
struct NamedColumn {
  std::string header;
  std::string unit;  ///< empty: as the header says
};

struct Roles {
  struct Role {
    std::size_t index = 0;
    HeaderField field;
    bool unit_known = true;
    bool by_hand = false;  ///< a person named it, with its unit
  };
  Role time;
  std::optional<Role> date;                  ///< the day, where it stands in a column of its own
  NumberForm date_form = NumberForm::none;   ///< of days written as bare numbers
  NumberForm clock_form = NumberForm::none;  ///< of the clock beside a day, written as a number
  Role voltage, current;
  std::optional<Role> charge_current;  ///< where it has a column of its own; `current` is discharge
  std::optional<Role> temperature, state, energy, channel;
  std::optional<Role> capacity, charge_capacity;  ///< the tester's own counter, in one or in two
  std::vector<std::string> by_content;  ///< what was told by its content: "voltage is 'aa'"
};

/// The log holds the voltages of many cells side by side: it is a running bank's record, not a
/// tester's log of one cell.
class BankRecord : public base::InputError {
 public:
  BankRecord(std::size_t line, std::vector<std::string> cells);
  [[nodiscard]] const std::vector<std::string>& cells() const { return cells_; }

 private:
  std::vector<std::string> cells_;  ///< the headers of their columns
};

/// Headers first; what they say counts only where the column can hold it (a clock is a time, words
/// of charge and discharge are the state, whatever stands above). What no header says is told by
/// content. Throws InputError where a column that must be there is missing, BankRecord for a record
/// of a bank; returns a Question where two look alike.
[[nodiscard]] std::variant<Roles, Question> choose_columns(
    const Layout& layout, const std::map<Meaning, NamedColumn>& named);

}  // namespace logs

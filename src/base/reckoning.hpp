// SPDX-License-Identifier: Apache-2.0
// Reckoning: one named formula with its inputs, outputs, source and cautions. Each folder lists its
// own in `reckonings()`; works/ joins the lists; nothing registers itself.
#pragma once

#include <map>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "base/json.hpp"

namespace base {

/// One input of a reckoning. A key ends in its unit's suffix ("length_m"); people may leave the
/// suffix out and may write a unit behind the value ("length=350cm").
struct InputSpec {
  enum class Kind { number, whole, list, choice, text };

  std::string_view key;
  std::string_view suffix;  ///< what the key ends in, without the underscore; empty: a bare number
  std::string_view unit;    ///< as convert() knows it; empty: a bare number
  std::string_view text;    ///< what it is, for a person
  double min = 0.0, max = 0.0;  ///< range that is accepted
  Kind kind = Kind::number;
  std::optional<std::string_view> fallback = std::nullopt;  ///< default, as a person would write it
  bool optional = false;                                    ///< may be left out without a default
  std::vector<std::string_view> choices = {};
};

/// The two commonest inputs.
[[nodiscard]] InputSpec number_input(std::string_view key, std::string_view suffix,
                                     std::string_view unit, std::string_view text, double min,
                                     double max,
                                     std::optional<std::string_view> fallback = std::nullopt);
[[nodiscard]] InputSpec choice_input(std::string_view key, std::string_view text,
                                     std::vector<std::string_view> choices,
                                     std::optional<std::string_view> fallback = std::nullopt);

struct OutputSpec {
  std::string_view key;
  std::string_view unit;
  std::string_view text;
};

/// The checked inputs of one call, in the units that the keys name.
class Arguments {
 public:
  using Value = std::variant<double, std::vector<double>, std::string>;

  [[nodiscard]] bool has(std::string_view key) const { return values_.find(key) != values_.end(); }
  /// The named number; it must be there (declared with a default, or asked for with has()).
  [[nodiscard]] double number(std::string_view key) const;
  [[nodiscard]] int whole(std::string_view key) const;
  [[nodiscard]] const std::vector<double>& list(std::string_view key) const;
  [[nodiscard]] const std::string& text(std::string_view key) const;
  void set(std::string_view key, Value value) {
    values_.insert_or_assign(std::string(key), std::move(value));
  }
  [[nodiscard]] Json to_json() const;

 private:
  std::map<std::string, Value, std::less<>> values_;
};

struct Answer {
  Json outputs = Json::object();
  std::vector<std::string> cautions = {};  ///< of this very answer, beside the reckoning's own
};

struct Reckoning {
  std::string_view name;
  std::string_view title;
  std::vector<InputSpec> inputs;
  std::vector<OutputSpec> outputs;
  std::string_view formula;
  std::string_view source;
  std::string_view validity;
  std::vector<std::string_view> cautions;
  Answer (*run)(const Arguments&);
  std::string_view example;  ///< arguments that show it, as typed
};

/// Checks what a person typed (`key=value` each) against the reckoning's inputs. Throws InputError
/// that names the key, the range and the remedy.
[[nodiscard]] Arguments read_arguments(const Reckoning& reckoning,
                                       std::span<const std::string> typed);
/// The same check for values that come from JSON or from our own code (numbers in the keys' units).
[[nodiscard]] Arguments read_arguments(const Reckoning& reckoning, const Json& values);

/// The whole answer of the contract: name, inputs, outputs, units, formula, source, cautions.
[[nodiscard]] Json run_to_json(const Reckoning& reckoning, const Arguments& arguments);

}  // namespace base

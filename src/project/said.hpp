// SPDX-License-Identifier: Apache-2.0
// A setting as a typed member: what was said, exactly as it was said, and the row of the catalogue
// that knows its unit, range and usual value. A setting that may be absent gives an optional; a
// missing one is never a zero.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <type_traits>
#include <variant>

#include "base/check.hpp"
#include "base/quantity.hpp"
#include "base/step_name.hpp"

namespace project {

/// As it stands in a file: a number in the unit that its key ends in, or a text.
using Value = std::variant<double, std::string>;

using base::StepName;

struct Choice {
  std::string_view code;   ///< in files
  std::string_view words;  ///< for people
};

/// One row of settings.def.
struct Row {
  enum class Kind : unsigned char { number, whole, text, choice };
  std::string_view table, key;
  StepName step = StepName::brief;
  Kind kind = Kind::number;
  std::string_view unit;               ///< as shown
  double min = 0.0, max = 0.0;         ///< in that unit
  std::optional<double> usual_number;  ///< none: may be absent, or must be said
  std::string_view usual_text;         ///< of a text or a choice, as its code
  bool must_be_said = false;
  std::string_view label, help, basis;
  std::span<const Choice> choices = {};

  [[nodiscard]] bool numeric() const { return kind == Kind::number || kind == Kind::whole; }
  [[nodiscard]] std::string path() const { return std::string(table) + "." + std::string(key); }
  /// The usual value as text; empty: there is none.
  [[nodiscard]] std::string usual() const;
};

/// What all settings share. A number outside its range (of an older file) is kept as it was said;
/// what is reckoned with is the nearest that the range allows, and a finding says so.
class Said {
 public:
  explicit constexpr Said(const Row& row) : row_(&row) {}
  [[nodiscard]] const Row& row() const { return *row_; }
  [[nodiscard]] bool given() const { return said_.has_value(); }
  [[nodiscard]] const std::optional<Value>& said() const { return said_; }
  /// Takes any value of the row's kind; project::checked says whether it lies within the range.
  void say(Value value) { said_ = std::move(value); }
  void forget() { said_.reset(); }
  friend bool operator==(const Said& a, const Said& b) { return a.said_ == b.said_; }

 protected:
  [[nodiscard]] std::optional<double> number() const;
  [[nodiscard]] const std::string* text() const;

 private:
  const Row* row_;
  std::optional<Value> said_;
};

/// A quantity that always has a value: said, or usual.
template <class T>
class Number : public Said {
 public:
  constexpr Number(const Row& row, T unit) : Said(row), unit_(unit) {}
  [[nodiscard]] T operator()() const { return raw() * unit_; }
  /// In a unit; exactly as it was said where that is the unit of its key.
  [[nodiscard]] double in(T unit) const { return unit == unit_ ? raw() : (raw() * unit_) / unit; }

 private:
  [[nodiscard]] double raw() const {
    const auto value = number();
    CHECK(value.has_value(), row().path());
    return *value;
  }
  T unit_;
};
/// The unit of numbers that have none.
inline constexpr double one = 1.0;
template <>
class Number<double> : public Said {
 public:
  constexpr Number(const Row& row, double) : Said(row) {}
  [[nodiscard]] double operator()() const {
    const auto value = number();
    CHECK(value.has_value(), row().path());
    return *value;
  }
};
template <>
class Number<int> : public Said {
 public:
  constexpr Number(const Row& row, double) : Said(row) {}
  [[nodiscard]] int operator()() const {
    const auto value = number();
    CHECK(value.has_value(), row().path());
    return static_cast<int>(*value);
  }
};
/// Temperatures are points: in °C at the edge, `()` gives the point.
struct Celsius {};
template <>
class Number<base::Temperature> : public Said {
 public:
  constexpr Number(const Row& row, Celsius) : Said(row) {}
  [[nodiscard]] base::Temperature operator()() const { return base::Temperature::from_C(in_C()); }
  [[nodiscard]] double in_C() const {
    const auto value = number();
    CHECK(value.has_value(), row().path());
    return *value;
  }
};

/// A quantity that may be absent.
template <class T>
class Maybe : public Said {
 public:
  constexpr Maybe(const Row& row, T unit) : Said(row), unit_(unit) {}
  [[nodiscard]] std::optional<T> operator()() const {
    const auto value = number();
    return value ? std::optional<T>(*value * unit_) : std::nullopt;
  }
  [[nodiscard]] std::optional<double> in(T unit) const {
    const auto value = number();
    if (!value) return std::nullopt;
    return unit == unit_ ? *value : (*value * unit_) / unit;
  }

 private:
  T unit_;
};
template <>
class Maybe<double> : public Said {
 public:
  constexpr Maybe(const Row& row, double) : Said(row) {}
  [[nodiscard]] std::optional<double> operator()() const { return number(); }
};
template <>
class Maybe<int> : public Said {
 public:
  constexpr Maybe(const Row& row, double) : Said(row) {}
  [[nodiscard]] std::optional<int> operator()() const {
    const auto value = number();
    return value ? std::optional(static_cast<int>(*value)) : std::nullopt;
  }
};

class Text : public Said {
 public:
  explicit constexpr Text(const Row& row) : Said(row) {}
  [[nodiscard]] std::string operator()() const {
    const std::string* said = text();
    return said ? *said : std::string(row().usual_text);
  }
};

/// One of an enum's values; E's items stand in the order of the row's choices.
template <class E>
class Pick : public Said {
 public:
  explicit constexpr Pick(const Row& row) : Said(row) {}
  [[nodiscard]] E operator()() const { return static_cast<E>(index()); }
  [[nodiscard]] std::string_view code() const { return row().choices[index()].code; }
  [[nodiscard]] std::string_view words() const { return row().choices[index()].words; }

 private:
  [[nodiscard]] std::size_t index() const;
};
namespace detail {
/// Where the code stands among the choices; the usual one's place where it is none of them.
[[nodiscard]] std::size_t index_of(const Row& row, const std::string* code);
}  // namespace detail
template <class E>
std::size_t Pick<E>::index() const {
  return detail::index_of(row(), text());
}

}  // namespace project

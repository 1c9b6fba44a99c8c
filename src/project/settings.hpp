// SPDX-License-Identifier: Apache-2.0
// The settings of a project as typed structs, made from the rows of settings.def:
// `settings.bms.cell_high()` is a voltage, `settings.bus.surge()` a power that may be absent.
// Nothing outside this folder knows a key.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "project/said.hpp"

namespace project {

// --- what the settings of choice may be
#define CHOICES(E) enum class E : unsigned char {
#define ITEM(name, code, words) name,
#define END_CHOICES(E) \
  }                    \
  ;
#include "project/choices.def"
#undef CHOICES
#undef ITEM
#undef END_CHOICES

namespace detail {

template <class E>
struct Choices;
#define CHOICES(E)    \
  template <>         \
  struct Choices<E> { \
    static constexpr Choice list[] = {
#define ITEM(name, code, words) Choice{code, words},
#define END_CHOICES(E) \
  }                    \
  ;                    \
  }                    \
  ;
#include "project/choices.def"
#undef CHOICES
#undef ITEM
#undef END_CHOICES

// Where the values of the rows come from.
inline constexpr std::string_view none;
inline constexpr std::string_view practice = "common practice, no source";
inline constexpr std::string_view memory = "from memory; the cell's sheet overrides";
inline constexpr std::string_view nfpa =
    "[NFPA855] ch. 15, second texts; editions and local codes differ";
inline constexpr std::string_view memory_terminal =
    "often 60 or 75 °C as printed on devices; from memory";
inline constexpr std::string_view assumed = "assumption to be replaced by your own";
inline constexpr std::string_view sheet =
    "the cell's sheet overrides; usual for large LFP cells (from memory)";
inline constexpr bool needed = true, may_lack = false;

template <class T>
inline constexpr Row::Kind kind_of = std::is_same_v<T, int> ? Row::Kind::whole : Row::Kind::number;

using namespace base;         // the rows name quantities …
using namespace base::units;  // … and their units
inline constexpr Celsius C;

// --- the rows: of_bms::row::cell_high
#define TABLE(Struct, member, name, at_step)        \
  namespace of_##member::row {                      \
    inline constexpr std::string_view table = name; \
    inline constexpr StepName step = StepName::at_step;
#define END_TABLE(Struct, member) }
#define NUMBER(T, m, key, unit, shown, min, max, usual, label, help, basis) \
  inline constexpr Row m{table, key, step,  kind_of<T>, shown, min,   max,  \
                         usual, {},  false, label,      help,  basis, {}};
#define NEEDED(T, m, key, unit, shown, min, max, label, help, basis)      \
  inline constexpr Row m{table, key, step, kind_of<T>, shown, min,   max, \
                         {},    {},  true, label,      help,  basis, {}};
#define MAYBE(T, m, key, unit, shown, min, max, label, help, basis)        \
  inline constexpr Row m{table, key, step,  kind_of<T>, shown, min,   max, \
                         {},    {},  false, label,      help,  basis, {}};
#define CHOICE(E, m, key, usual, label, help, basis)                   \
  inline constexpr Row m{table,                                        \
                         key,                                          \
                         step,                                         \
                         Row::Kind::choice,                            \
                         {},                                           \
                         0.0,                                          \
                         0.0,                                          \
                         {},                                           \
                         Choices<E>::list[std::size_t(E::usual)].code, \
                         false,                                        \
                         label,                                        \
                         help,                                         \
                         basis,                                        \
                         Choices<E>::list};
#define TEXT(m, key, usual, must, label, help)                                 \
  inline constexpr Row m{table, key,   step, Row::Kind::text, {},   0.0,  0.0, \
                         {},    usual, must, label,           help, none, {}};
#define FORMER(...)
#include "project/settings.def"
#undef TABLE
#undef END_TABLE
#undef NUMBER
#undef NEEDED
#undef MAYBE
#undef CHOICE
#undef TEXT

// --- the structs: of_bms::Bms
#define TABLE(Struct, member, name, at_step) \
  namespace of_##member {                    \
    struct Struct {
#define END_TABLE(Struct, member)                                 \
  friend bool operator==(const Struct&, const Struct&) = default; \
  }                                                               \
  ;                                                               \
  }
#define NUMBER(T, m, key, unit, ...) Number<T> m{row::m, unit};
#define NEEDED(T, m, key, unit, ...) Number<T> m{row::m, unit};
#define MAYBE(T, m, key, unit, ...) Maybe<T> m{row::m, unit};
#define CHOICE(E, m, ...) Pick<E> m{row::m};
#define TEXT(m, ...) Text m{row::m};
#include "project/settings.def"
#undef TABLE
#undef END_TABLE
#undef NUMBER
#undef NEEDED
#undef MAYBE
#undef CHOICE
#undef TEXT

}  // namespace detail

struct Settings {
#define TABLE(Struct, member, name, at_step) detail::of_##member::Struct member;
#define END_TABLE(...)
#define NUMBER(...)
#define NEEDED(...)
#define MAYBE(...)
#define CHOICE(...)
#define TEXT(...)
#include "project/settings.def"
#undef TABLE
#undef END_TABLE
#undef NUMBER
#undef NEEDED
#undef MAYBE
#undef CHOICE
#undef TEXT
#undef FORMER
  friend bool operator==(const Settings&, const Settings&) = default;
};

/// Every row, in the order of the catalogue.
[[nodiscard]] const std::vector<const Row*>& catalogue();
/// The row of "table.key", or null.
[[nodiscard]] const Row* find_row(std::string_view path);
/// A setting by its row.
[[nodiscard]] Said& at(Settings& settings, const Row& row);
[[nodiscard]] const Said& at(const Settings& settings, const Row& row);

/// A key that a setting once had: where it went, and what its value is multiplied by.
struct Former {
  std::string_view old_path, path;
  double factor = 1.0;
};
[[nodiscard]] std::vector<Former> former_keys();

/// Checks one value against its row; throws InputError (without a place) that names the range, or
/// the keys that there are.
[[nodiscard]] Value checked(std::string_view path, const Value& value);

/// The setting takes the value if `checked` does.
void say(Said& setting, Value value);

/// All settings of some tables that were said, as a text: equal texts, equal settings. For
/// recalling what depends on nothing else.
[[nodiscard]] std::string said_in(const Settings& settings,
                                  const std::vector<std::string_view>& tables);

}  // namespace project

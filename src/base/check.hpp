// SPDX-License-Identifier: Apache-2.0
// CHECK: a broken promise inside our own code. Armed in release; caught only where a program ends.
#pragma once

#include <source_location>
#include <stdexcept>
#include <string>

namespace base {

/// Our own fault: a precondition or invariant did not hold.
class Bug : public std::logic_error {
 public:
  explicit Bug(const std::string& text) : std::logic_error(text) {}
};

[[noreturn]] inline void fail_check(const char* condition, const std::string& values,
                                    std::source_location where = std::source_location::current()) {
  throw Bug(std::string(where.file_name()) + ":" + std::to_string(where.line()) + ": CHECK(" +
            condition + ") failed" + (values.empty() ? "" : ": " + values));
}

}  // namespace base

/// CHECK(condition) or CHECK(condition, text with the values that broke it).
#define CHECK(condition, ...) \
  (static_cast<bool>(condition) ? void() : ::base::fail_check(#condition, std::string(__VA_ARGS__)))

// SPDX-License-Identifier: Apache-2.0
#include <algorithm>

#include <fmt/format.h>

#include "base/input_error.hpp"
#include "logs/settle.hpp"

namespace logs {
namespace {

using base::InputError;

constexpr std::size_t lines_kept = 12;
constexpr double fault_share = 0.01;  // more faults than this and the log is refused

}  // namespace

void LeftOutList::add(std::string_view reason, std::size_t line) {
  auto entry = std::find_if(list_.begin(), list_.end(),
                            [&](const LeftOut& l) { return l.reason == reason; });
  if (entry == list_.end()) {
    list_.push_back({std::string(reason), 0, {}});
    entry = list_.end() - 1;
  }
  ++entry->count;
  if (entry->lines.size() < lines_kept) entry->lines.push_back(line);
}

void LeftOutList::add_fault(std::string_view reason, std::size_t line, std::size_t column,
                            std::string_view expected, std::string_view found) {
  add(reason, line);
  doubt(found.empty() ? reason : found, line, column, expected);
}

void LeftOutList::doubt(std::string_view found, std::size_t line, std::size_t column,
                        std::string_view expected) {
  if (faults_++ == 0) line_ = line, column_ = column, found_ = found, expected_ = expected;
}

void LeftOutList::refuse_if_many(std::size_t rows_used) const {
  if (double(faults_) <= fault_share * double(rows_used + faults_)) return;
  throw InputError({"", line_, column_},
                   faults_ == 1 ? found_
                                : fmt::format("{}, the first of {} such rows in {}", found_,
                                              faults_, rows_used + faults_),
                   expected_,
                   "mend the rows in a copy of the log, or leave such rows out and have them "
                   "counted: --leave-out-bad-rows");
}

}  // namespace logs

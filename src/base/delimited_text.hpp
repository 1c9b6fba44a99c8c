// SPDX-License-Identifier: Apache-2.0
// Delimited text as a scanner over blocks of bytes: memory stays bounded however long the file is.
#pragma once

#include <cstddef>
#include <cstring>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace base {

/// What one line held. The views live until the scanner goes on.
struct Row {
  std::size_t line = 0;                      ///< counted from 1
  std::string_view text;                     ///< the whole line, without its end
  std::span<const std::string_view> fields;  ///< without their quotes; not trimmed
  bool ended = true;                         ///< false: the bytes stopped before the line's end
};

/// Marks `Dialect::delimiter` for columns set apart by two blanks or more.
inline constexpr char aligned_by_blanks = '\0';

struct Dialect {
  char delimiter = ',';
  char line_end = '\n';  ///< '\n' (a '\r' before it is dropped) or '\r'
};

/// Splits blocks into rows. Feed the blocks in order, then `finish`; `on_row(const Row&)` is called
/// for every line. A line end inside quotes does not end a row. A field is unquoted only where it
/// begins with a quote, so 5" stays as it is.
class RowScanner {
 public:
  explicit RowScanner(Dialect dialect) : dialect_(dialect) {}

  template <class OnRow>
  void feed(std::string_view block, OnRow&& on_row) {
    while (!block.empty()) {
      const std::size_t end = line_end_in(block);
      if (end == std::string_view::npos) {
        rest_.append(block);
        return;
      }
      const std::string_view head = block.substr(0, end);
      block.remove_prefix(end + 1);
      if (rest_.empty()) {
        emit(head, true, on_row);
      } else {
        rest_.append(head);
        emit(rest_, true, on_row);
        rest_.clear();
      }
    }
  }

  /// The bytes have ended: what is left without a line end is the last row.
  template <class OnRow>
  void finish(OnRow&& on_row) {
    if (!rest_.empty()) emit(rest_, false, on_row);
    rest_.clear();
  }

  [[nodiscard]] std::size_t lines() const { return line_; }
  /// Counts a line that was read elsewhere, between two rows.
  void skip_line() { ++line_; }
  /// True where the bytes so far end with a row's end.
  [[nodiscard]] bool between_rows() const { return rest_.empty(); }
  /// Bytes of a row whose end has not been seen.
  [[nodiscard]] std::size_t waiting() const { return rest_.size(); }
  /// True while a quote that was opened has not been closed.
  [[nodiscard]] bool inside_quotes() const { return open_quote_; }

 private:
  /// Where the current line ends in `block`, minding quotes left open by earlier bytes.
  std::size_t line_end_in(std::string_view block) {
    std::size_t from = 0;
    for (;;) {
      const auto* found = static_cast<const char*>(
          std::memchr(block.data() + from, dialect_.line_end, block.size() - from));
      const std::size_t end =
          found ? static_cast<std::size_t>(found - block.data()) : std::string_view::npos;
      const std::string_view part = block.substr(from, end - from);
      if (open_quote_ || std::memchr(part.data(), '"', part.size()) != nullptr)
        follow_quotes(part, from == 0);
      if (!found || !open_quote_) return end;
      from = end + 1;
    }
  }

  /// Keeps track of whether a quoted field is open after `part`; a quote opens one only where a
  /// field begins.
  void follow_quotes(std::string_view part, bool continues_rest);

  template <class OnRow>
  void emit(std::string_view line, bool ended, OnRow&& on_row) {
    open_quote_ = false;
    if (!line.empty() && line.back() == '\r') line.remove_suffix(1);
    ++line_;
    split(line);
    on_row(Row{line_, line, fields_, ended});
  }

  void split(std::string_view line);

  Dialect dialect_;
  std::string rest_;       ///< of a line whose end has not been seen
  std::string unescaped_;  ///< holds fields in which a quote was doubled
  std::vector<std::string_view> fields_;
  std::size_t line_ = 0;
  bool open_quote_ = false;
};

/// One field as it must stand in a comma-separated file (RFC 4180): quoted where that is needed.
/// Text that a spreadsheet would take for a formula is given a leading apostrophe (dropped on
/// reading back).
[[nodiscard]] std::string csv_field(std::string_view text);
/// The text of a field that csv_field wrote.
[[nodiscard]] std::string_view without_formula_guard(std::string_view field);

}  // namespace base

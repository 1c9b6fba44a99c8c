// SPDX-License-Identifier: Apache-2.0
#include "logs/read_log.hpp"

#include <algorithm>
#include <cmath>
#include <cstring>
#include <limits>
#include <optional>

#include <fmt/format.h>

#include "base/encoding.hpp"
#include "base/input_error.hpp"
#include "base/number.hpp"
#include "base/statistics.hpp"
#include "logs/careful_rows.hpp"
#include "logs/quick_row.hpp"
#include "logs/raw_rows.hpp"
#include "logs/settle.hpp"
#include "logs/sniff.hpp"

namespace logs {
namespace {

using base::InputError;

constexpr std::size_t sniff_bytes = 256 * 1024, form_bytes = 1024;
// The first batch decides for all, so it is long; the later ones stay in the cache.
constexpr std::size_t first_batch_rows = std::size_t{1} << 18, batch_rows = std::size_t{1} << 14;
constexpr std::size_t longest_line = 1 << 20, most_columns = 2000;

std::string shown(std::string_view text) {
  std::string copy = base::to_utf8(text.substr(0, 60));
  for (char& c : copy)
    if (static_cast<unsigned char>(c) < 0x20 || c == '\x7f') c = '?';
  return text.size() > 60 ? copy + "…" : copy;
}

}  // namespace

// In three steps: the first bytes fix the layout and the columns; every row is turned into numbers
// as it comes, the plain ones by the quick way; batches of rows go to the Settler.
class LogReader::Impl {
 public:
  explicit Impl(ReadOptions options) : options_(std::move(options)) {}

  void feed(std::string_view block) {
    if (question_) return;
    if (settler_) return scan(decoder_.decode(block));
    if (decoding_) {
      head_.append(decoder_.decode(block));
    } else {
      bytes_.append(block);
      if (bytes_.size() < form_bytes) return;
      begin_decoding();
    }
    if (head_.size() >= sniff_bytes) open(false);
  }

  ReadResult finish() {
    if (!settler_ && !question_) {
      if (!decoding_) begin_decoding();
      open(true);
    }
    if (question_) return std::move(*question_);
    if (decoder_.incomplete())
      throw InputError(
          {"", scanner_->lines() + 1, 0},
          "UTF-16 text with half a character left over: a byte is missing, or one too many",
          "a whole file", "copy the log again from the tester");
    scanner_->finish([this](const base::Row& row) { take(row); });
    digest();
    if (question_) return std::move(*question_);
    if (rows_seen_ == 0)
      throw InputError({"", layout_.header_line, 0}, "a header and no rows of readings",
                       "rows of readings below the header",
                       "export the log again; the tester may not have finished writing it");
    careful_->finish();
    return settler_->finish();
  }

 private:
  void begin_decoding() {
    decoding_ = true;
    head_.append(decoder_.decode(bytes_));
    bytes_ = {};
  }

  void open(bool complete) {
    std::vector<std::string> names;
    for (const auto& [meaning, column] : options_.columns) names.push_back(column.header);
    layout_ = sniff(std::string_view(head_).substr(0, sniff_bytes),
                    complete && head_.size() <= sniff_bytes, names);
    if (layout_.headers.size() > most_columns)
      throw InputError(
          {"", layout_.header_line, 0}, fmt::format("{} columns", layout_.headers.size()),
          fmt::format("at most {} columns", most_columns), "export only the tester's own columns");
    auto chosen = choose_columns(layout_, options_.columns);
    if (auto* question = std::get_if<Question>(&chosen)) {
      question_ = std::move(*question);
      return;
    }
    roles_ = std::get<Roles>(chosen);
    if (!options_.channel.empty() && !roles_.channel)
      throw InputError({"", layout_.header_line, 0},
                       fmt::format("a channel '{}' asked for, and no column of channels",
                                   shown(options_.channel)),
                       "a log that holds several cells and says of each row which it is",
                       "leave the channel out, or name its column: --columns 'channel=HEADER'");
    settle_marks();
    if (question_) return;
    time_kind_ = time_kind_of(layout_, roles_);
    plan_quick_way();
    settler_.emplace(layout_, roles_, options_, time_kind_);
    careful_.emplace(layout_, roles_, options_, time_kind_, *settler_);
    scanner_.emplace(layout_.dialect);
    const std::string head = std::move(head_);
    head_ = {};
    scan(head);
  }

  /// "3,301" may be 3.301 or 3301, and a file may hold both kinds: the voltage tells, since a cell
  /// has about three volts; where it does not, a question.
  void settle_marks() {
    if (options_.decimal != DecimalRule::automatic) {
      const bool comma = options_.decimal == DecimalRule::comma;
      layout_.marks = comma ? Marks{',', '.'} : Marks{'.', ','};
      return;
    }
    if (layout_.doubt == MarkDoubt::none) return;
    if (layout_.doubt == MarkDoubt::mixed) {
      const auto seen = [&](std::size_t column, MarkEvidence e) {
        return column < layout_.evidence.size() &&
               layout_.evidence[column][static_cast<std::size_t>(e)] > 0;
      };
      bool points = false, commas = false;
      for (const std::size_t c : {roles_.time.index, roles_.voltage.index, roles_.current.index}) {
        points = points || seen(c, MarkEvidence::point_decimal);
        commas = commas || seen(c, MarkEvidence::comma_decimal);
      }
      if (points && commas) return ask_for_marks();
    }
    const Marks readings[] = {{'.', ','}, {',', '.'}};
    std::vector<Marks> possible;
    const double scale = roles_.voltage.unit_known ? roles_.voltage.field.scale : 0.0;
    for (const Marks marks : readings) {
      std::vector<double> volts;
      std::size_t unreadable = 0;
      for (const auto& row : layout_.rows)
        for (const std::size_t column : {roles_.voltage.index, roles_.current.index}) {
          if (column >= row.size() || no_value(row[column])) continue;
          const auto value = parse_reading(row[column], marks);
          unreadable += !value;
          if (value && column == roles_.voltage.index) volts.push_back(*value);
        }
      if (volts.empty() || unreadable > 0) continue;
      const double middle = base::median(volts) * (scale > 0.0 ? scale : 1.0);
      const bool a_cell =
          (middle > 0.5 && middle < 5.0) || (scale == 0.0 && middle > 500.0 && middle < 5000.0);
      if (a_cell) possible.push_back(marks);
    }
    if (possible.size() == 1) {
      layout_.marks = possible.front();
      return;
    }
    const bool by_voltage = layout_.doubt == MarkDoubt::either && scale == 0.0;
    if (by_voltage) {  // volts or millivolts, the same either way: the decimal mark it seems to be
      if (layout_.marks.thousands == '\0') return;
    }
    ask_for_marks();
  }

  void ask_for_marks() {
    const std::string& example = layout_.rows.front().at(roles_.voltage.index);
    question_ =
        Question{layout_.doubt == MarkDoubt::mixed ? "decimal points and decimal commas in one log"
                                                   : "a mark that parts decimals or thousands",
                 {fmt::format("'.' is the decimal mark: '{}' as it stands", shown(example)),
                  fmt::format("',' is the decimal mark: '{}' as it stands", shown(example))},
                 "--decimal point",
                 {"decimal=point", "decimal=comma"}};
  }

  /// Rows of plain numbers need no care; a column of words needs the careful way.
  void plan_quick_way() {
    quick_ = time_kind_ == TimeKind::number &&
             layout_.dialect.delimiter != base::aligned_by_blanks &&
             layout_.dialect.line_end == '\n' && !roles_.state && !roles_.channel &&
             !roles_.charge_current && !roles_.charge_capacity;
    if (!quick_) return;
    quick_plan_.delimiter = layout_.dialect.delimiter;
    quick_plan_.decimal_mark = layout_.marks.decimal;
    quick_plan_.least_fields = layout_.first_row.size();
    const auto want = [&](std::size_t column, int slot) {
      if (quick_plan_.slot.size() <= column) quick_plan_.slot.resize(column + 1, -1);
      quick_plan_.slot[column] = slot;
    };
    want(roles_.time.index, 0);
    want(roles_.voltage.index, 1);
    want(roles_.current.index, 2);
    if (roles_.temperature) want(roles_.temperature->index, 3);
    if (roles_.capacity) want(roles_.capacity->index, 4);
  }

  void scan(std::string_view block) {
    if (!quick_) return careful(block);
    // What the careful way has begun it ends: up to the end of its line, quotes minded.
    while (!block.empty() && !scanner_->between_rows()) {
      const std::size_t end = block.find('\n');
      const std::size_t part = end == std::string_view::npos ? block.size() : end + 1;
      careful(block.substr(0, part));
      block.remove_prefix(part);
    }
    const char* at = block.data();
    const char* const end = at + block.size();
    QuickSlots values{};
    QuickRows quick(quick_plan_, at, end);
    while (at < end) {
      if (scanner_->between_rows() && scanner_->lines() + 1 >= layout_.first_data_line &&
          quick.next(values)) {
        scanner_->skip_line();
        take_numbers(values);
        careful_->last_width(static_cast<std::size_t>(quick.place() - at));
        at = quick.place();
        if (question_) return;
        continue;
      }
      const auto* line_end =
          static_cast<const char*>(std::memchr(at, '\n', static_cast<std::size_t>(end - at)));
      const char* next = line_end ? line_end + 1 : end;
      careful({at, static_cast<std::size_t>(next - at)});
      if (question_) return;
      at = next;
      quick.seek(at);
    }
  }

  void careful(std::string_view text) {
    scanner_->feed(text, [this](const base::Row& row) { take(row); });
    if (scanner_->waiting() > longest_line)
      throw InputError({"", scanner_->lines() + 1, 0},
                       scanner_->inside_quotes() ? "a quote that is opened and not closed"
                                                 : "a line longer than a megabyte",
                       "one row of readings a line",
                       "close the quote or mend the line in a copy of the log");
  }

  void take_numbers(const QuickSlots& values) {
    rows_.time.push_back(values[0]);
    rows_.voltage.push_back(values[1]);
    rows_.current.push_back(values[2]);
    if (roles_.temperature) rows_.temperature.push_back(values[3]);
    if (roles_.capacity) rows_.counter.push_back(careful_->counter().add(values[4]));
    end_row(scanner_->lines());
  }

  void end_row(std::size_t line) {
    rows_.line.push_back(static_cast<std::uint32_t>(
        std::min<std::size_t>(line, std::numeric_limits<std::uint32_t>::max())));
    ++rows_seen_;
    if (rows_.size() >= (digested_ ? batch_rows : first_batch_rows)) digest();
  }

  void digest() {
    if (question_) return;
    digested_ = true;
    if (auto question = settler_->take(rows_)) question_ = std::move(*question);
  }

  void take(const base::Row& row) {
    if (question_ || !careful_->take(row, rows_)) {
      if (!question_ && careful_->question()) question_ = std::move(*careful_->question());
      return;
    }
    end_row(row.line);
  }

  ReadOptions options_;
  base::Decoder decoder_;
  bool decoding_ = false, digested_ = false, quick_ = false;
  std::string bytes_, head_;
  Layout layout_;
  Roles roles_;
  TimeKind time_kind_ = TimeKind::number;
  std::optional<base::RowScanner> scanner_;
  std::optional<Settler> settler_;
  std::optional<CarefulRows> careful_;
  std::optional<Question> question_;
  QuickPlan quick_plan_;
  RawRows rows_;
  std::size_t rows_seen_ = 0;
};

LogReader::LogReader(ReadOptions options) : impl_(std::make_unique<Impl>(std::move(options))) {}
LogReader::~LogReader() = default;
void LogReader::feed(std::string_view block) { impl_->feed(block); }
ReadResult LogReader::finish() { return impl_->finish(); }

ReadResult read_log(std::string_view bytes, const ReadOptions& options) {
  constexpr std::size_t block = 1 << 20;  // stays in the cache
  LogReader reader(options);
  for (std::size_t at = 0; at < bytes.size(); at += block) reader.feed(bytes.substr(at, block));
  return reader.finish();
}

}  // namespace logs

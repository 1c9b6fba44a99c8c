// SPDX-License-Identifier: Apache-2.0
#include "feed/record_reader.hpp"

#include <algorithm>
#include <cmath>
#include <cstring>

#include <fmt/format.h>

#include "base/calendar.hpp"
#include "base/input_error.hpp"
#include "feed/row_text.hpp"
#include "feed/settle.hpp"
#include "logs/header.hpp"

namespace feed {
namespace {

constexpr std::size_t head_bytes = 1 << 20;
constexpr double day_s = 86400.0, grid_s = 60.0, longest_hold_s = 3600.0;

std::string_view without_return(std::string_view line) {
  if (!line.empty() && line.back() == '\r') line.remove_suffix(1);
  return line;
}

}  // namespace

struct RecordReader::Inside {
  std::string file;
  RecordOptions options;
  OnReading on_reading;
  base::Decoder decoder;
  std::string head, rest;
  bool looked = false, first_block = true;
  RowLayout layout;
  std::optional<TimeReader> time;
  std::optional<std::size_t> time_column, clock_column;
  std::optional<LongTable> is_long;
  std::optional<Settle> settle;
  std::vector<std::size_t> columns;  ///< of the table, one a channel
  std::vector<std::string_view> fields;
  std::vector<double> values;
  RecordSummary summary;
  // The clock.
  double last_s = watch::not_known, shift_s = 0.0;
  bool segment = false;
  std::size_t back_rows = 0;
  // Long tables.
  struct Held {
    double value = watch::not_known, since_s = watch::not_known;
  };
  std::map<std::string, std::size_t, std::less<>> by_name;
  std::vector<Held> held;
  double grid_at = watch::not_known, charge_As = 0.0;

  void text(std::string_view block);
  void look(bool complete);
  void look_at_wide(const std::vector<std::vector<std::string>>& sample);
  void look_at_long(const std::vector<std::vector<std::string>>& sample);
  void line(std::string_view text);
  double in_order(double t);
  void wide_row(std::string_view text);
  void long_row(std::string_view text);
  void emit_grid(double until);
};

RecordReader::RecordReader(std::string file, RecordOptions options, OnReading on_reading)
    : inside_(std::make_unique<Inside>()) {
  inside_->summary.file = inside_->file = std::move(file);
  inside_->options = std::move(options);
  inside_->on_reading = std::move(on_reading);
}
RecordReader::~RecordReader() = default;

void RecordReader::feed(std::string_view block) {
  Inside& in = *inside_;
  if (std::exchange(in.first_block, false))
    if (const auto kind = base::other_kind_of_file(block.substr(0, 512)); !kind.empty())
      throw base::InputError({in.file, 0, 0}, std::string(kind), "a table as text, a row a reading",
                             "export the record as CSV");
  in.text(in.decoder.decode(block));
}

void RecordReader::Inside::text(std::string_view block) {
  if (!looked) {
    head.append(block);
    if (head.size() < head_bytes) return;
    look(false);
    block = head;
    block.remove_prefix(layout.header_bytes);
  }
  while (!block.empty()) {
    const auto* end = static_cast<const char*>(std::memchr(block.data(), '\n', block.size()));
    if (end == nullptr) {
      rest.append(block);
      if (rest.size() > 1 << 20)
        throw base::InputError({file, 0, 0}, "a line of more than a megabyte", "rows of readings",
                               "export the record as CSV");
      break;
    }
    const auto length = std::size_t(end - block.data());
    if (rest.empty()) {
      line(without_return(block.substr(0, length)));
    } else {
      rest.append(block.substr(0, length));
      line(without_return(rest));
      rest.clear();
    }
    block.remove_prefix(length + 1);
  }
  if (!head.empty()) head.clear(), head.shrink_to_fit();
}

void RecordReader::Inside::look(bool) {
  looked = true;
  try {
    layout = look_at(head);
  } catch (const base::InputError& e) {
    throw e.in_file(file);
  }
  std::vector<std::vector<std::string>> sample;
  std::size_t at = layout.header_bytes;
  while (at < head.size() && sample.size() < 20000) {
    const std::size_t end = head.find('\n', at);
    if (end == std::string::npos && sample.size() > 3) break;
    split(without_return(std::string_view(head).substr(at, end - at)), layout.separator, fields);
    sample.emplace_back(fields.begin(), fields.end());
    if (end == std::string::npos) break;
    at = end + 1;
  }
  if (sample.empty() || (sample.size() == 1 && sample[0].size() < 2))
    throw base::InputError({file, layout.header_line + 1, 0},
                           "no rows of readings after the header", "at least one row",
                           "choose the file that holds the readings");
  try {
    is_long = long_table(layout.headers, options.told);
    if (is_long)
      look_at_long(sample);
    else
      look_at_wide(sample);
  } catch (const base::InputError& e) {
    throw e.in_file(file);
  }
}

void RecordReader::Inside::look_at_wide(const std::vector<std::vector<std::string>>& sample) {
  const std::size_t n = layout.headers.size(), rows = std::min<std::size_t>(sample.size(), 4000);
  const auto column = [&](std::size_t c) {
    std::vector<std::string> texts;
    for (std::size_t r = 0; r < rows; ++r)
      if (c < sample[r].size()) texts.push_back(sample[r][c]);
    return texts;
  };
  double unit_s = 0.0;
  const auto told = options.told.find("time");
  std::optional<std::size_t> date_column;
  for (std::size_t c = 0; c < n; ++c) {
    const auto field = logs::read_header_field(layout.headers[c]);
    if (told != options.told.end() ? layout.headers[c] == told->second
                                   : field.meaning == logs::Meaning::time && !time_column) {
      time_column = c;
      unit_s = field.scale;
    }
    if (field.meaning == logs::Meaning::date && !date_column) date_column = c;
  }
  if (!time_column && date_column) std::swap(time_column, date_column);
  if (!time_column) {  // the first column that reads as times that ascend
    for (std::size_t c = 0; c < n && !time_column; ++c) {
      TimeReader trial(order_of(column(c)), 0.0);
      double last = -1e300;
      std::size_t good = 0;
      for (const std::string& t : column(c)) {
        const double s = trial.read(t, layout.decimal_mark);
        if (s >= last) ++good, last = s;
      }
      if (good * 10 >= rows * 9 && last > -1e300) time_column = c;
    }
  }
  if (!time_column)
    throw base::InputError({"", layout.header_line, 0}, "no column of times",
                           "a column such as 'time' or 'timestamp'",
                           "say which: --columns time=HEADER");
  const std::vector<std::string> dates = column(date_column ? *date_column : *time_column);
  const logs::DateOrder order =
      options.dates != logs::DateOrder::unknown ? options.dates : order_of(dates);
  time.emplace(order, unit_s);
  if (date_column) {
    clock_column = time_column;
    time_column = date_column;
  }
  std::size_t unread = 0;
  for (std::size_t r = 0; r < std::min<std::size_t>(rows, 200); ++r) {
    if (sample[r].size() <= std::max(*time_column, clock_column.value_or(0))) continue;
    const double t = clock_column ? time->read(sample[r][*time_column], sample[r][*clock_column])
                                  : time->read(sample[r][*time_column], layout.decimal_mark);
    unread += !std::isfinite(t);
  }
  if (unread * 2 > std::min<std::size_t>(rows, 200)) {
    if (order == logs::DateOrder::unknown && logs::parse_date(dates.front()))
      throw base::InputError(
          {"", layout.header_line + 1, 0},
          fmt::format("the date '{}', which can be read two ways", dates.front()),
          "a record whose dates allow one order only", "say which: --dates dmy or --dates mdy");
    throw base::InputError({"", layout.header_line + 1, 0},
                           fmt::format("'{}' as a time", sample[0][*time_column]),
                           "a date and time, seconds since 1970, or seconds since the start",
                           "say which column: --columns time=HEADER");
  }
  std::vector<std::string> headers;
  std::vector<std::vector<double>> numbers;
  for (std::size_t c = 0; c < n; ++c) {
    if (c == *time_column || c == clock_column) continue;
    headers.push_back(layout.headers[c]);
    columns.push_back(c);
    numbers.emplace_back();
    for (std::size_t r = 0; r < rows; r += std::max<std::size_t>(1, rows / 400))
      numbers.back().push_back(c < sample[r].size() ? number_in(sample[r][c], layout.decimal_mark)
                                                    : watch::not_known);
  }
  Told rest_told = options.told;
  rest_told.erase("time");
  settle.emplace(name_channels(headers, numbers, rest_told), options, on_reading);
  values.resize(columns.size());
}

void RecordReader::Inside::look_at_long(const std::vector<std::vector<std::string>>& sample) {
  std::vector<std::string> names, times;
  std::vector<std::vector<double>> numbers;
  for (const auto& row : sample) {
    if (row.size() <= std::max({is_long->name, is_long->value, is_long->time})) continue;
    const auto [it, fresh] = by_name.try_emplace(row[is_long->name], names.size());
    if (fresh) {
      names.push_back(row[is_long->name]);
      numbers.emplace_back();
    }
    if (numbers[it->second].size() < 400)
      numbers[it->second].push_back(number_in(row[is_long->value], layout.decimal_mark));
    if (times.size() < 4000) times.push_back(row[is_long->time]);
  }
  const logs::DateOrder order =
      options.dates != logs::DateOrder::unknown ? options.dates : order_of(times);
  time.emplace(order, logs::read_header_field(layout.headers[is_long->time]).scale);
  Told rest_told = options.told;
  for (const char* word : {"time", "name", "value"}) rest_told.erase(word);
  settle.emplace(name_channels(names, numbers, rest_told), options, on_reading);
  settle->count_means_elsewhere();
  held.resize(names.size());
  values.resize(names.size());
}

/// The time on one clock that does not go back, or NaN where the row must be left out.
double RecordReader::Inside::in_order(double t) {
  segment = false;
  if (!std::isfinite(t)) {
    ++summary.left_out["time cannot be read"];
    return watch::not_known;
  }
  t += shift_s;
  if (!watch::known(last_s)) return last_s = t;
  const double step = t - last_s;
  if (step == 0.0 && !is_long) {
    ++summary.left_out["time repeated"];
    return watch::not_known;
  }
  if (step >= 0.0) {
    back_rows = 0;
    return last_s = t;
  }
  if (is_long && step > -120.0) return last_s;  // written a moment out of order
  // Local time without a zone: on an autumn night an hour comes twice.
  if (time->dated() && time->zoneless() && step < -1800.0 && step > -3700.0) {
    shift_s += 3600.0;
    summary.left_out
        .try_emplace(
            "an hour came twice (local time without a zone); ordered by row, nothing left out", 0)
        .first->second += 0;
    return last_s = std::max(last_s, t + 3600.0);
  }
  if (++back_rows < 30) {  // a restart with a wrong clock comes right again
    ++summary.left_out["clock stepped back"];
    return watch::not_known;
  }
  segment = true;  // it stays: the rest is ordered by row
  shift_s -= step - 1.0;
  back_rows = 0;
  return last_s = last_s + 1.0;
}

void RecordReader::Inside::line(std::string_view text) {
  if (text.empty()) return;
  if (is_long) return long_row(text);
  wide_row(text);
}

void RecordReader::Inside::wide_row(std::string_view text) {
  split(text, layout.separator, fields);
  if (fields.size() <= std::max(*time_column, clock_column.value_or(0)) || fields.size() < 2) {
    ++summary.left_out["row cut short"];
    return;
  }
  const double t = in_order(clock_column ? time->read(fields[*time_column], fields[*clock_column])
                                         : time->read(fields[*time_column], layout.decimal_mark));
  if (!watch::known(t)) return;
  const std::vector<Channel>& channels = settle->channels();
  bool any = false;
  for (std::size_t k = 0; k < columns.size(); ++k) {
    const double v = columns[k] < fields.size() ? number_in(fields[columns[k]], layout.decimal_mark)
                                                : watch::not_known;
    values[k] = v * channels[k].scale + channels[k].offset;
    any |= std::isfinite(v);
  }
  if (!any) ++summary.left_out["no number in the row"];
  settle->add(t, values, watch::not_known, segment);
}

void RecordReader::Inside::emit_grid(double until) {
  while (grid_at + grid_s <= until) {
    if (until - grid_at > longest_hold_s) {  // long silence: no need to fill it
      grid_at = std::floor(until / grid_s) * grid_s;
      charge_As = 0.0;
      return;
    }
    grid_at += grid_s;
    bool fresh = false;
    for (std::size_t k = 0; k < held.size(); ++k) {
      const bool old = !watch::known(held[k].since_s) || grid_at - held[k].since_s > longest_hold_s;
      values[k] = old ? watch::not_known : held[k].value;
      fresh |= !old;
    }
    if (fresh) settle->add(grid_at, values, watch::not_known, false);
  }
}

void RecordReader::Inside::long_row(std::string_view text) {
  split(text, layout.separator, fields);
  if (fields.size() <= std::max({is_long->name, is_long->value, is_long->time})) {
    ++summary.left_out["row cut short"];
    return;
  }
  const double t = in_order(time->read(fields[is_long->time], layout.decimal_mark));
  if (!watch::known(t)) return;
  const auto named = by_name.find(fields[is_long->name]);
  if (named == by_name.end()) {
    ++summary.left_out["a name that the first rows do not have"];
    return;
  }
  if (!watch::known(grid_at)) grid_at = std::floor(t / grid_s) * grid_s;
  emit_grid(t);
  const std::size_t k = named->second;
  const Channel& c = settle->channels()[k];
  const double v = number_in(fields[is_long->value], layout.decimal_mark);
  if (!std::isfinite(v)) ++summary.left_out["not a number (unavailable, unknown)"];
  Held& h = held[k];
  if (watch::known(h.value) && t - h.since_s <= longest_hold_s) {
    settle->means()[k].sum += h.value * (t - h.since_s);
    settle->means()[k].seconds += t - h.since_s;
  }
  h = {v * c.scale + c.offset, t};
}

RecordSummary RecordReader::finish() {
  Inside& in = *inside_;
  if (!in.looked) {
    if (in.head.empty())
      throw base::InputError({in.file, 0, 0}, "an empty file", "a table of readings",
                             "choose the file that holds the readings");
    in.look(true);
    std::string all = std::move(in.head);
    in.head.clear();
    in.text(std::string_view(all).substr(in.layout.header_bytes));
  }
  if (!in.rest.empty()) in.line(without_return(in.rest));
  if (in.is_long && watch::known(in.last_s)) in.emit_grid(in.last_s + grid_s);
  in.settle->finish(in.summary);
  in.summary.dated = in.time->dated();
  if (in.summary.rows == 0)
    throw base::InputError({in.file, in.layout.header_line + 1, 0}, "no row that can be used",
                           "rows with a time and numbers",
                           "look at the rows; say which column is which with --columns");
  return std::move(in.summary);
}

}  // namespace feed

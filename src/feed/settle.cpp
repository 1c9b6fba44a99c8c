// SPDX-License-Identifier: Apache-2.0
#include "feed/settle.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "base/statistics.hpp"

namespace feed {
namespace {

constexpr std::size_t look_at_rows = 20000;
constexpr double longest_hold_s = 3600.0;
constexpr float none = std::numeric_limits<float>::quiet_NaN();

double median_of(const std::vector<float>& values, const std::vector<std::size_t>& which,
                 std::vector<float>& room) {
  room.clear();
  for (const std::size_t i : which)
    if (std::isfinite(values[i])) room.push_back(values[i]);
  if (room.empty()) return watch::not_known;
  const auto middle = room.begin() + std::ptrdiff_t(room.size() / 2);
  std::nth_element(room.begin(), middle, room.end());
  return double(*middle);
}

}  // namespace

Settle::Settle(std::vector<Channel> channels, const RecordOptions& options,
               RecordReader::OnReading on_reading)
    : channels_(std::move(channels)),
      packs_(cells_by_pack(channels_)),
      options_(options),
      on_reading_(std::move(on_reading)) {
  const std::size_t packs = std::max<std::size_t>(1, packs_.size());
  current_.resize(packs);
  temperature_.resize(packs);
  cell_temperatures_.resize(packs);
  std::vector<std::pair<int, std::size_t>> sensors;
  for (std::size_t i = 0; i < channels_.size(); ++i) {
    const Channel& c = channels_[i];
    means_.push_back({c.key()});
    const auto p = std::min(std::size_t(c.pack), packs - 1);
    if (c.quantity == Quantity::cell_voltage) cells_.push_back(i);
    if (c.quantity == Quantity::current && !current_[p]) current_[p] = i;
    if (c.quantity == Quantity::temperature && !temperature_[p]) temperature_[p] = i;
    if (c.quantity == Quantity::cell_temperature) sensors.emplace_back(c.number, i);
  }
  // A sensor a cell only where every cell has one; otherwise their mean stands for the pack.
  for (std::size_t p = 0; p < packs_.size(); ++p) {
    std::vector<std::size_t> own;
    for (const std::size_t cell : packs_[p])
      for (const auto& [number, at] : sensors)
        if (number == channels_[cell].number) {
          own.push_back(at);
          break;
        }
    if (own.size() == packs_[p].size()) {
      cell_temperatures_[p] = own;
    } else if (!temperature_[p] && !sensors.empty()) {
      temperature_[p] = sensors.front().second;
    }
    if (!temperature_[p]) temperature_[p] = temperature_[0];
    if (!current_[p] && packs_.size() == 1) current_[p] = current_[0];
  }
  last_values_.assign(channels_.size(), none);
}

void Settle::add(double time_s, const std::vector<double>& values, double charge_Ah, bool segment) {
  Row row{time_s, charge_Ah, segment, {}};
  row.values.assign(values.begin(), values.end());
  if (decided_) return pass(std::move(row));
  waiting_.push_back(std::move(row));
  if (waiting_.size() >= look_at_rows) decide();
}

void Settle::decide_step() {
  std::vector<double> steps;
  for (std::size_t i = 1; i < waiting_.size(); ++i)
    if (!waiting_[i].segment) steps.push_back(waiting_[i].time_s - waiting_[i - 1].time_s);
  if (steps.empty()) return;
  usual_step_s_ = base::median(steps);
  const auto near = std::count_if(steps.begin(), steps.end(), [&](double s) {
    return std::abs(s - usual_step_s_) <= 0.2 * usual_step_s_ + 0.5;
  });
  regular_ = double(near) >= 0.8 * double(steps.size());
}

/// A step of the current moves the voltage the other way at once; charge moves it slowly the same
/// way.
void Settle::decide_sign() {
  if (options_.sign != logs::SignRule::automatic) {
    sign_ = options_.sign == logs::SignRule::discharge_positive ? 1.0 : -1.0;
    return;
  }
  double sum = 0.0, squares = 0.0, steps = 0.0, charge = 0.0;
  std::vector<float> room;
  double rise = 0.0;
  for (std::size_t p = 0; p < packs_.size(); ++p) {
    if (!current_[p]) continue;
    double last_V = watch::not_known, first_V = watch::not_known, last_A = 0.0, last_s = 0.0;
    for (const Row& row : waiting_) {
      const double A = row.values[*current_[p]], V = median_of(row.values, packs_[p], room);
      if (!std::isfinite(A) || !watch::known(V) || V < 1.0 || V > 5.0 ||
          std::abs(A) > 10.0 * options_.capacity_Ah)
        continue;
      if (watch::known(last_V)) {
        const double dA = A - last_A, dV = V - last_V, dt = row.time_s - last_s;
        if (std::abs(dA) > 0.02 * options_.capacity_Ah && dt < 400.0) {
          const double ohm = dV / dA;
          if (std::abs(ohm) < 0.05) sum += ohm, squares += ohm * ohm, steps += 1.0;
        }
        if (dt < longest_hold_s) charge += last_A * dt, rise += dV;
      } else {
        first_V = V;
      }
      last_V = V, last_A = A, last_s = row.time_s;
    }
    (void)first_V;
  }
  if (steps >= 8.0) {
    const double mean = sum / steps, sd = std::sqrt(std::max(1e-18, squares / steps - mean * mean));
    if (std::abs(mean) > 4.0 * sd / std::sqrt(steps)) {
      sign_ = mean < 0.0 ? 1.0 : -1.0;
      sign_told_ = "the voltage falls when it rises";
      if (sign_ < 0.0) sign_told_ = "the voltage rises with it";
      return;
    }
  }
  if (std::abs(rise) > 0.03 && std::abs(charge) > 0.01 * options_.capacity_Ah * 3600.0) {
    sign_ = (rise > 0.0) == (charge > 0.0) ? -1.0 : 1.0;
    sign_told_ = sign_ < 0.0 ? "the cells rise while it flows" : "the cells fall while it flows";
  }
}

void Settle::decide() {
  decided_ = true;
  decide_step();
  decide_sign();
  std::vector<Row> rows = std::move(waiting_);
  for (Row& row : rows) pass(std::move(row));
}

void Settle::clean(Row& row) {
  bool impossible = false;
  for (const std::size_t i : cells_) {
    float& v = row.values[i];
    if (std::isfinite(v) && (v < 1.0F || v > 5.0F)) {
      v = none;
      impossible = true;
    }
  }
  if (impossible)
    ++left_out_["a cell reads what no cell can (under 1 V or over 5 V); left out of its row"];
  for (const auto& at : current_)
    if (at && std::abs(row.values[*at]) > 10.0 * options_.capacity_Ah) {
      row.values[*at] = none;
      ++left_out_["current over ten times the capacity; left out of its row"];
    }
  for (const auto& at : temperature_)
    if (at && (row.values[*at] < -60.0F || row.values[*at] > 150.0F)) row.values[*at] = none;
}

void Settle::unspike(const Row& before, Row& row, const Row& after) {
  if (cells_.size() < 3) return;
  double rise = 0.0, fall = 0.0;
  std::size_t n = 0;
  for (const std::size_t i : cells_) {
    const double a = before.values[i], b = row.values[i], c = after.values[i];
    if (!(std::isfinite(a) && std::isfinite(b) && std::isfinite(c))) continue;
    rise += b - a, fall += b - c, ++n;
  }
  if (n < 3) return;
  rise /= double(n), fall /= double(n);
  // What all cells do together is the load; what one does alone, and takes back, is a spike.
  bool found = false;
  for (const std::size_t i : cells_) {
    const double up = double(row.values[i] - before.values[i]) - rise,
                 down = double(row.values[i] - after.values[i]) - fall;
    if (std::abs(up) > 0.04 && std::abs(down) > 0.04 && (up > 0.0) == (down > 0.0) &&
        std::abs(up - down) < 0.3 * std::abs(up)) {
      row.values[i] = none;
      found = true;
    }
  }
  if (found) ++left_out_["a cell alone jumps for one reading; left out of its row"];
}

void Settle::pass(Row row) {
  clean(row);
  if (held_rows_ == 0) {
    pending_ = std::move(row);
    held_rows_ = 1;
    return;
  }
  if (held_rows_ == 2) unspike(before_, pending_, row);
  hand_on(pending_);
  before_ = std::move(pending_);
  pending_ = std::move(row);
  held_rows_ = 2;
}

void Settle::hand_on(const Row& row) {
  const bool first = !watch::known(to_s_);
  const double step = first ? 0.0 : row.time_s - to_s_;
  const double longest = regular_ ? std::max(1.5 * usual_step_s_, 600.0) : longest_hold_s;
  const bool gap = !first && step > longest;
  if (gap)
    gaps_.push_back(
        {to_s_, row.time_s, regular_ ? std::size_t(std::lround(step / usual_step_s_)) - 1 : 0});
  if (first) from_s_ = row.time_s;
  if (means_here_ && !first && !gap && !row.segment)
    for (std::size_t i = 0; i < means_.size(); ++i)
      if (std::isfinite(last_values_[i])) {
        means_[i].sum += double(last_values_[i]) * step;
        means_[i].seconds += step;
      }
  last_values_ = row.values;
  to_s_ = row.time_s;
  ++rows_;
  if (!cells_.empty()) {
    const double V = median_of(row.values, cells_, out_V_);
    if (watch::known(V)) ++judged_rows_, high_rows_ += V > 3.70;
  }
  for (std::size_t p = 0; p < packs_.size(); ++p) {
    out_V_.clear();
    out_C_.clear();
    for (const std::size_t i : packs_[p]) out_V_.push_back(row.values[i]);
    watch::Reading r;
    r.time_s = row.time_s;
    if (current_[p]) r.current_A = sign_ * double(row.values[*current_[p]]);
    r.charge_Ah = sign_ * row.charge_Ah;
    r.cells_V = out_V_;
    if (!cell_temperatures_[p].empty()) {
      double sum = 0.0;
      for (const std::size_t i : cell_temperatures_[p]) {
        out_C_.push_back(row.values[i]);
        sum += double(row.values[i]) / double(cell_temperatures_[p].size());
      }
      r.cells_C = out_C_;
      r.temperature_C = sum;
    } else if (temperature_[p]) {
      r.temperature_C = row.values[*temperature_[p]];
    }
    r.new_segment = row.segment || gap;
    on_reading_(int(p), r);
  }
}

void Settle::finish(RecordSummary& s) {
  if (!decided_) decide();
  if (held_rows_ > 0) hand_on(pending_);
  s.rows = rows_;
  for (const auto& [why, count] : left_out_) s.left_out[why] += count;
  s.gaps = std::move(gaps_);
  s.from_s = from_s_;
  s.to_s = to_s_;
  s.regular = regular_;
  s.usual_step_s = usual_step_s_;
  s.means = std::move(means_);
  for (const auto& pack : packs_) {
    s.cells.push_back(int(pack.size()));
    s.cell_headers.emplace_back();
    for (const std::size_t i : pack) s.cell_headers.back().push_back(channels_[i].header);
  }
  s.has_current =
      std::any_of(current_.begin(), current_.end(), [](const auto& c) { return c.has_value(); });
  if (judged_rows_ >= 20 && double(high_rows_) > 0.05 * double(judged_rows_)) {
    s.lfp = false;
    s.findings.push_back(
        {.id = findings::Id::record_not_lfp,
         .severity = findings::Severity::stop,
         .what = fmt::format(
             "These are not LFP cells: the median cell stands above 3.70 V in {:.0f} % of the readings.",
             100.0 * double(high_rows_) / double(judged_rows_)),
         .where = s.file,
         .measured = fmt::format("{} of {} readings", high_rows_, judged_rows_),
         .limit = "5 % above 3.70 V",
         .why = "The curve of another chemistry makes every verdict wrong.",
         .remedy =
             "Check that this is the bank's own record and that its voltages are in the unit its header says.",
         .basis =
             "LFP rests at 3.20 to 3.35 V [Sunil2025]; the limit is common practice, no source"});
  }
  if (!sign_told_.empty() && sign_ < 0.0)
    s.findings.push_back(
        {.id = findings::Id::record_sign_told_by_voltage,
         .severity = findings::Severity::note,
         .what = fmt::format("The record's current is taken as positive while charging: {}.",
                             sign_told_),
         .where = s.file,
         .why = "A sign taken wrongly turns every charge around.",
         .remedy = "If this is wrong, say --sign discharge-positive.",
         .basis = "common practice, no source"});
}

}  // namespace feed

// SPDX-License-Identifier: Apache-2.0
#include "bench/calibration.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include <Eigen/Cholesky>
#include <Eigen/Core>
#include <fmt/format.h>

#include "base/delimited_text.hpp"
#include "base/input_error.hpp"
#include "base/number.hpp"
#include "base/statistics.hpp"

namespace bench {
namespace {

using base::InputError;
using Eigen::MatrixXd;
using Eigen::VectorXd;

constexpr double usual_repeatability = 0.0014;  // [Tao2024]

const Channel* find(const std::vector<Channel>& channels, std::string_view name) {
  for (const Channel& c : channels)
    if (c.name == name) return &c;
  return nullptr;
}

}  // namespace

double Calibration::corrected_Ah(std::string_view channel, double charge_Ah, double hours) const {
  const Channel* c = find(channels, channel);
  if (c == nullptr) return charge_Ah;
  const double offset_Ah = c->offset_A ? c->offset_A->value * hours : 0.0;
  return (charge_Ah - offset_Ah) / (1.0 + c->gain_percent.value / 100.0);
}

double Calibration::u_share(std::string_view channel) const {
  const Channel* c = find(channels, channel);
  return c == nullptr ? 0.0 : c->gain_percent.u / 100.0;
}

std::optional<Calibration> calibrate(const std::vector<ReferenceRun>& runs,
                                     const std::string& trusted) {
  Calibration result;
  for (const ReferenceRun& r : runs) {
    if (!(r.charge_Ah > 0.0)) continue;
    if (find(result.channels, r.channel) == nullptr) {
      Channel channel;
      channel.name = r.channel;
      result.channels.push_back(std::move(channel));
    }
    for (Channel& c : result.channels)
      if (c.name == r.channel) ++c.runs;
  }
  const std::size_t n = result.channels.size();
  if (n < 2) return std::nullopt;
  if (find(result.channels, trusted) != nullptr) result.trusted = trusted;
  bool offsets = true;  // every channel must show both a short and a long run
  for (const Channel& c : result.channels) {
    double shortest = 1e9, longest = 0.0;
    for (const ReferenceRun& r : runs)
      if (r.channel == c.name)
        shortest = std::min(shortest, r.hours), longest = std::max(longest, r.hours);
    offsets = offsets && longest > 4.0 / 3.0 * shortest && shortest > 0.0;
  }
  // Unknown: the cell's charge, then a gain and perhaps an offset for each channel; in charge units
  // it is linear. One row more ties the gains (and one the offsets) down.
  const std::size_t columns = 1 + n * (offsets ? 2 : 1);
  const auto rows = static_cast<Eigen::Index>(runs.size() + (offsets ? 2 : 1));
  MatrixXd a = MatrixXd::Zero(rows, static_cast<Eigen::Index>(columns));
  VectorXd b = VectorXd::Zero(rows);
  Eigen::Index row = 0;
  double mean_Ah = 0.0;
  for (const ReferenceRun& r : runs) mean_Ah += r.charge_Ah / double(runs.size());
  for (const ReferenceRun& r : runs) {
    for (std::size_t k = 0; k < n; ++k) {
      if (result.channels[k].name != r.channel) continue;
      a(row, 0) = 1.0;
      a(row, static_cast<Eigen::Index>(1 + k)) = 1.0;  // gain times the cell's charge
      if (offsets) a(row, static_cast<Eigen::Index>(1 + n + k)) = r.hours;
    }
    b[row] = r.charge_Ah;
    ++row;
  }
  for (std::size_t k = 0; k < n; ++k) {
    const bool tied = result.trusted.empty() || result.channels[k].name == result.trusted;
    a(row, static_cast<Eigen::Index>(1 + k)) = tied ? 1e5 : 0.0;
    if (offsets) a(row + 1, static_cast<Eigen::Index>(1 + n + k)) = tied ? 1e5 : 0.0;
  }
  MatrixXd normal = a.transpose() * a;
  normal.diagonal().array() += 1e-9;
  const Eigen::LDLT<MatrixXd> solver(normal);
  const VectorXd x = solver.solve(a.transpose() * b);
  const MatrixXd covariance = solver.solve(MatrixXd::Identity(normal.rows(), normal.cols()));
  result.reference_Ah = x[0];

  double squares = 0.0;
  std::vector<double> before, after;
  for (std::size_t r = 0; r < runs.size(); ++r) {
    const double off = b[static_cast<Eigen::Index>(r)] - a.row(static_cast<Eigen::Index>(r)).dot(x);
    squares += off * off;
    before.push_back(runs[r].charge_Ah);
  }
  const double freedom = double(runs.size()) - double(columns) + (offsets ? 2.0 : 1.0);
  const double sd_Ah = freedom > 0.5 ? std::sqrt(squares / freedom) : 0.0;
  // Few runs say little about how they repeat: not better than is usual.
  const double repeat_Ah = std::max(sd_Ah, usual_repeatability * result.reference_Ah);
  result.repeatability_percent = 100.0 * repeat_Ah / result.reference_Ah;
  for (std::size_t k = 0; k < n; ++k) {
    Channel& c = result.channels[k];
    const auto gain = static_cast<Eigen::Index>(1 + k),
               offset = static_cast<Eigen::Index>(1 + n + k);
    c.gain_percent = {100.0 * x[gain] / result.reference_Ah,
                      100.0 * repeat_Ah * std::sqrt(covariance(gain, gain)) / result.reference_Ah};
    if (offsets) c.offset_A = Measure{x[offset], repeat_Ah * std::sqrt(covariance(offset, offset))};
  }
  for (Channel& c : result.channels) {
    double raw = 0.0, corrected = 0.0;
    for (const ReferenceRun& r : runs) {
      if (r.channel != c.name) continue;
      raw += r.charge_Ah / double(c.runs);
      corrected += result.corrected_Ah(c.name, r.charge_Ah, r.hours) / double(c.runs);
    }
    c.before_percent = 100.0 * (raw / result.reference_Ah - 1.0);
    c.after_percent = 100.0 * (corrected / result.reference_Ah - 1.0);
  }
  for (const ReferenceRun& r : runs)
    after.push_back(result.corrected_Ah(r.channel, r.charge_Ah, r.hours));
  result.spread_before_percent = 100.0 * base::standard_deviation(before) / mean_Ah;
  result.spread_after_percent = 100.0 * base::standard_deviation(after) / mean_Ah;
  return result;
}

ChannelList read_channels(std::string_view text) {
  ChannelList list;
  std::array<int, 4> at = {-1, -1, -1, -1};  // label, channel, charge_Ah, hours
  constexpr std::array<std::string_view, 4> names = {"label", "channel", "charge_Ah", "hours"};
  base::RowScanner scanner({',', '\n'});
  bool header = true;
  const auto take = [&](const base::Row& row) {
    if (base::trimmed(row.text).empty()) return;
    const auto field = [&](std::size_t which) -> std::string_view {
      const int column = at[which];
      if (column < 0 || static_cast<std::size_t>(column) >= row.fields.size()) return "";
      return base::trimmed(row.fields[static_cast<std::size_t>(column)]);
    };
    if (header) {
      header = false;
      for (std::size_t c = 0; c < row.fields.size(); ++c)
        for (std::size_t k = 0; k < 4; ++k)
          if (base::trimmed(row.fields[c]) == names[k]) at[k] = static_cast<int>(c);
      if (at[0] < 0 || at[1] < 0)
        throw InputError({"channels.csv", row.line, 0}, "a header without label and channel",
                         "label,channel and, for runs of the reference cell, charge_Ah,hours",
                         "write the first line so");
      return;
    }
    const std::string label(field(0)), channel(field(1));
    if (label.empty() || channel.empty())
      throw InputError({"channels.csv", row.line, 0}, "a row without a label or a channel",
                       "a cell's label (or `reference`) and the channel it was tested on",
                       "fill it in, or take the row out");
    if (label != "reference") {
      list.channel_of[label] = channel;
      return;
    }
    ReferenceRun run{channel, 0.0, 0.0};
    for (const std::size_t which : {std::size_t{2}, std::size_t{3}}) {
      const auto value = base::parse_number(field(which));
      if (!value || !(*value > 0.0))
        throw InputError({"channels.csv", row.line, static_cast<std::size_t>(at[which] + 1)},
                         fmt::format("'{}' as {}", field(which), names[which]),
                         "a number above zero",
                         "write the charge that the channel counted and the hours it took");
      (which == 2 ? run.charge_Ah : run.hours) = *value;
    }
    list.reference.push_back(std::move(run));
  };
  scanner.feed(text, take);
  scanner.finish(take);
  return list;
}

}  // namespace bench

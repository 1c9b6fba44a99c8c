// SPDX-License-Identifier: Apache-2.0
// Which way the current flows: by what a person said, by the words of a state, by columns, by how
// the voltage answers; and where none of them settles it, a question.
#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "logs/settle.hpp"
#include "logs/sign.hpp"

namespace logs {
namespace {

using findings::Severity;

constexpr double words_agree = 0.98;        // of the rows whose words say a direction
constexpr double flowing_share = 0.02;      // of the largest current
constexpr double most_doubtful = 0.002;     // of the charge, in stretches that go either way
constexpr std::size_t most_reversals = 10;  // without a rest between; more is a drive cycle

Question which_way(std::string about) {
  return {std::move(about),
          {"positive current discharges the cell", "positive current charges the cell"},
          "--sign discharge-positive",
          {"sign=discharge-positive", "sign=charge-positive"}};
}

double charge_Ah(const UnsignedReading& r, std::span<const double> charge_As, int sign) {
  double sum = 0.0;
  for (const auto& p : r.stretches)
    for (std::size_t k = p.first; p.sign == sign && k <= p.last; ++k) sum += std::abs(charge_As[k]);
  return sum / 3600.0;
}

}  // namespace

/// From the first batch: are words there that say the direction of nearly every row that flows?
void Settler::look_at_state(const RawRows& rows) {
  double top = 0.0;
  for (const double i : rows.current) top = std::max(top, std::abs(i));
  std::size_t flowing = 0, said = 0;
  bool negative = false;
  for (std::size_t k = 0; k < rows.flow.size(); ++k) {
    negative = negative || rows.current[k] < -flowing_share * top;
    if (std::abs(rows.current[k]) <= flowing_share * top) continue;
    ++flowing;
    said += rows.flow[k] == Flow::charge || rows.flow[k] == Flow::discharge;
  }
  by_state_ = said > 0 && !negative && double(said) >= words_agree * double(flowing);
}

void Settler::sign_from_state(RawRows& rows) {
  if (rows.flow.empty()) return;
  for (std::size_t k = 0; k < rows.size(); ++k) {
    const Flow flow = rows.flow[k];
    const double amps = rows.current[k];
    if (flow == Flow::charge || flow == Flow::discharge) {
      last_flow_ = flow;
      if (amps != 0.0) ++((flow == Flow::charge) == (amps > 0.0) ? says_charge_ : says_discharge_);
    }
    // A step whose name says nothing goes the way of the step before it.
    if (by_state_) {
      rows.current[k] = last_flow_ == Flow::charge ? -std::abs(amps) : std::abs(amps);
      unsaid_rows_ += flow == Flow::unknown && amps != 0.0;
    }
  }
}

void Settler::flip() {
  for (auto* column : {&log_.current_A, &log_.charge_As, &log_.energy_Ws})
    for (double& x : *column) x = -x;
}

std::optional<Question> Settler::sign_as_told() {
  if (options_.sign == SignRule::charge_positive) flip();
  if (options_.sign == SignRule::by_voltage) {
    give_signs(read_unsigned(log_.current_A, log_.voltage_V, log_.charge_As));
    return std::nullopt;
  }
  if (find_sign(log_.current_A, log_.voltage_V) == SignEvidence::charge_positive)
    note(findings::Id::sign_against_voltage,
         "The voltage answers the current the other way round than the sign that was given.",
         "--sign", Severity::caution, "Check it: a cell's voltage rises while it is charged.");
  return std::nullopt;
}

void Settler::give_signs(const UnsignedReading& reading) {
  put_signs(reading, log_.current_A);
  for (std::size_t k = 0; k < log_.rows(); ++k) {
    log_.charge_As[k] = std::copysign(log_.charge_As[k], log_.current_A[k]);
    log_.energy_Ws[k] = std::copysign(log_.energy_Ws[k], log_.current_A[k]);
  }
}

/// A current that never changes its sign: one direction only, or no sign at all.
std::optional<Question> Settler::sign_of_unsigned() {
  const UnsignedReading r = read_unsigned(log_.current_A, log_.voltage_V, log_.charge_As);
  if (!(r.charges && r.discharges)) return std::nullopt;
  if (r.doubtful_share > most_doubtful || r.reversals > most_reversals) {
    const double in = charge_Ah(r, log_.charge_As, -1), out = charge_Ah(r, log_.charge_As, 1);
    const Question plain = which_way("");
    Question q{"which way the current flows: it has no sign",
               {fmt::format("both ways, as the voltage answers: {:.4g} Ah in and {:.4g} Ah out, a "
                            "guess",
                            in, out),
                plain.readings[0], plain.readings[1]},
               "--sign by-voltage; better, a log with signs or with a column that says charge and "
               "discharge",
               {"sign=by-voltage", plain.answers[0], plain.answers[1]}};
    return q;
  }
  give_signs(r);
  note(findings::Id::sign_from_voltage,
       "The current has no sign; charge and discharge are told apart by how the voltage answers.",
       "");
  sign_known_ = true;
  return std::nullopt;
}

std::optional<Question> Settler::settle_sign() {
  if (options_.sign != SignRule::automatic) return sign_as_told();
  const auto from_words = [&] {
    note(findings::Id::sign_from_state,
         fmt::format("Charge and discharge are taken from '{}'{}.", header(*roles_.state),
                     unsaid_rows_ == 0 ? ""
                                       : fmt::format("; {} rows whose words say neither go the "
                                                     "way of the rows before",
                                                     unsaid_rows_)),
         "header");
    if (find_sign(log_.current_A, log_.voltage_V) == SignEvidence::charge_positive)
      note(findings::Id::state_against_voltage,
           fmt::format("'{}' says charge where the voltage falls, and discharge where it rises.",
                       header(*roles_.state)),
           "header", Severity::caution,
           "Check it; --sign discharge-positive or charge-positive sets the words aside.");
  };
  if (by_state_) {
    from_words();
    return std::nullopt;
  }
  const bool words_part =
      roles_.charge_current && roles_.charge_current->field.half != roles_.current.field.half;
  if (roles_.charge_current && !words_part) {
    if (auto question = sign_by_voltage()) return question;
    note(
        findings::Id::sign_from_columns,
        fmt::format("Charge and discharge stand in '{}' and '{}'; which is which the voltage says.",
                    header(roles_.current), header(*roles_.charge_current)),
        "header");
    return std::nullopt;
  }
  if (roles_.charge_current) {
    note(findings::Id::sign_from_columns,
         fmt::format("Discharge current is taken from '{}', charge current from '{}'.",
                     header(roles_.current), header(*roles_.charge_current)),
         "header");
    return std::nullopt;
  }
  const std::size_t said = says_charge_ + says_discharge_;
  const bool both =
      std::any_of(log_.current_A.begin(), log_.current_A.end(), [](double i) { return i < 0.0; });
  if (roles_.state && both && said >= 10 &&
      double(std::max(says_charge_, says_discharge_)) >= words_agree * double(said)) {
    if (says_charge_ > says_discharge_) flip();
    from_words();
    return std::nullopt;
  }
  return sign_by_voltage();
}

std::optional<Question> Settler::sign_by_voltage() {
  const bool negative = std::any_of(log_.current_A.begin(), log_.current_A.end(),
                                    [](double i) { return i < 0.0; }),
             positive = std::any_of(log_.current_A.begin(), log_.current_A.end(),
                                    [](double i) { return i > 0.0; });
  if (!negative && !positive) return std::nullopt;
  const SignEvidence evidence = find_sign(log_.current_A, log_.voltage_V);
  if (!(negative && positive) || evidence == SignEvidence::unsigned_values) {
    if (auto question = sign_of_unsigned()) return question;
    if (sign_known_) return std::nullopt;
  }
  switch (evidence) {
    case SignEvidence::charge_positive:
      flip();
      return std::nullopt;
    case SignEvidence::discharge_positive:
      return std::nullopt;
    case SignEvidence::changes:
      return Question{"the sign of the current seems to change its meaning within the log",
                      {"positive current discharges the cell throughout",
                       "positive current charges the cell throughout"},
                      "--sign discharge-positive; if neither is true, cut the log in two where "
                      "the sign turns",
                      {"sign=discharge-positive", "sign=charge-positive"}};
    case SignEvidence::unsigned_values:
    case SignEvidence::none:
      break;
  }
  return which_way("which way the current flows");
}

}  // namespace logs

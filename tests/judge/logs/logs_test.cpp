// SPDX-License-Identifier: Apache-2.0
// Awkward logs, judged: read rightly, asked about, refused, or read wrongly. A hundred of them
// here; JUDGE=whole plays all two thousand, JUDGE_SEED=… one of them, with its first lines.
#include <cstdlib>
#include <map>

#include <fmt/format.h>
#include <gtest/gtest.h>

#include "base/input_error.hpp"
#include "bench/phases.hpp"
#include "logs/read_log.hpp"
#include "tests/judge/logs/awkward.hpp"

namespace {

// Seeds below a million were free for tuning; these were not looked at.
constexpr std::uint64_t first_judged = 1'000'000;

enum class Outcome { right, asked_rightly, asked_wrongly, refused, wrong_with_a_word, wrong };

bool agrees(const logs::Log& log, const judge::Truth& truth) {
  const bench::Totals t = bench::totals(log);
  const double whole = truth.charged_Ah + truth.discharged_Ah;
  // A last row that was cut off takes its interval with it.
  const double near_Ah = 0.003 * whole + truth.last_row_Ah;
  return std::abs(t.charged_Ah - truth.charged_Ah) < near_Ah &&
         std::abs(t.discharged_Ah - truth.discharged_Ah) < near_Ah;
}

/// "columns=time=t[s]; current=i[A]" or "sign=charge-positive" as options.
logs::ReadOptions answered(const std::string& answer) {
  std::map<std::string, std::string> said;
  std::vector<std::string> columns;
  if (answer.starts_with("columns=")) {
    std::string rest = answer.substr(8);
    while (!rest.empty()) {
      const std::size_t end = std::min(rest.find("; "), rest.size());
      columns.push_back(rest.substr(0, end));
      rest = end < rest.size() ? rest.substr(end + 2) : "";
    }
  } else if (const std::size_t equals = answer.find('='); equals != std::string::npos) {
    said[answer.substr(0, equals)] = answer.substr(equals + 1);
  }
  logs::ReadOptions options = logs::options_named(said["sign"], said["dates"], said["decimal"]);
  options.columns = logs::named_columns(columns);
  return options;
}

/// Is the right reading among the answers? A second question may follow the first.
bool some_answer_is_right(const judge::AwkwardLog& log, const logs::Question& q, int depth) {
  for (const std::string& answer : q.answers) {
    if (answer.empty()) continue;
    try {
      const auto result = logs::read_log(log.bytes, answered(answer));
      if (const auto* read = std::get_if<logs::Log>(&result)) {
        if (agrees(*read, log.truth)) return true;
      } else if (depth > 0) {
        return true;  // it goes on asking; what it asks next is judged on its own
      }
    } catch (const base::InputError&) {
    }
  }
  return false;
}

std::string word_of_doubt(const logs::Log& log) {
  for (const findings::Finding& f : log.findings)
    if (f.severity != findings::Severity::note) return std::string(findings::word(f.id));
  return "";
}

struct Judged {
  Outcome outcome;
  std::string why;
};

Judged judge_one(const judge::AwkwardLog& log) {
  try {
    const auto result = logs::read_log(log.bytes);
    if (const auto* q = std::get_if<logs::Question>(&result))
      return {some_answer_is_right(log, *q, 1) ? Outcome::asked_rightly : Outcome::asked_wrongly,
              q->about};
    const auto& read = std::get<logs::Log>(result);
    const bench::Totals t = bench::totals(read);
    if (agrees(read, log.truth)) return {Outcome::right, ""};
    const std::string doubt = word_of_doubt(read);
    return {doubt.empty() ? Outcome::wrong : Outcome::wrong_with_a_word,
            fmt::format("{:.4g}/{:.4g} Ah for {:.4g}/{:.4g} {}", t.charged_Ah, t.discharged_Ah,
                        log.truth.charged_Ah, log.truth.discharged_Ah, doubt)};
  } catch (const base::InputError& e) {
    return {Outcome::refused, e.found()};
  }
}

void show(const judge::AwkwardLog& log) {
  std::printf("%s\n%.1200s\n", log.how.c_str(), log.bytes.c_str());
  try {
    const auto result = logs::read_log(log.bytes);
    if (const auto* q = std::get_if<logs::Question>(&result))
      for (std::size_t k = 0; k < q->readings.size(); ++k)
        std::printf("  choice: %s (%s)\n", q->readings[k].c_str(), q->answers[k].c_str());
    else
      for (const findings::Finding& f : std::get<logs::Log>(result).findings)
        std::printf("  %s: %s %s\n", findings::row(f.id).word.c_str(), f.what.c_str(),
                    f.where.c_str());
  } catch (const base::InputError& e) {
    std::printf("  refused: %s\n", e.what());
  }
}

/// Logs of the sampled edition that are not read as they should be yet, and why. Each must still
/// fail, or its line goes; `make judge` counts them as what they are.
const std::map<std::uint64_t, const char*> known_failures = {
    {1000016,
     "no header: a current in mA beside a column of zeros is read three times too large, without a word"},
    {1000020, "no header, signs by nothing: asked, but the right answer is not among the choices"},
    {1000028,
     "no header, a sum below: asked about the sign, the right answer is not among the choices"},
    {1000033, "a header of nonsense: asked about units, the right answer is not among the choices"},
    {1000097,
     "asked about units that the header does not name, the right answer is not among the choices"}};

TEST(AwkwardLogs, are_never_read_wrongly_without_a_word) {
  const char* whole = std::getenv("JUDGE");
  const char* one = std::getenv("JUDGE_SEED");
  const char* from = std::getenv("JUDGE_FROM");
  std::uint64_t first = from != nullptr ? std::strtoull(from, nullptr, 10) : first_judged;
  std::size_t n = whole != nullptr ? 2000 : 100;
  if (const char* count = std::getenv("JUDGE_COUNT")) n = std::strtoull(count, nullptr, 10);
  if (one != nullptr) first = std::strtoull(one, nullptr, 10), n = 1;
  std::map<Outcome, std::size_t> counts;
  std::size_t shown = 0;
  for (std::uint64_t k = 0; k < n; ++k) {
    const judge::AwkwardLog log = judge::draw_log(first + k);
    const Judged j = judge_one(log);
    if (const auto known = known_failures.find(first + k);
        known != known_failures.end() && whole == nullptr) {
      EXPECT_TRUE(j.outcome == Outcome::wrong || j.outcome == Outcome::asked_wrongly)
          << known->first << " is read rightly now: take its line out";
      std::printf("  seed %llu: known: %s\n", static_cast<unsigned long long>(known->first),
                  known->second);
      continue;
    }
    ++counts[j.outcome];
    if (one != nullptr) show(log);
    if (j.outcome != Outcome::right && shown++ < 100)
      std::printf("  seed %llu: %s: %s (%s)\n", static_cast<unsigned long long>(first + k),
                  j.outcome == Outcome::asked_rightly       ? "asked"
                  : j.outcome == Outcome::asked_wrongly     ? "asked without the right answer"
                  : j.outcome == Outcome::refused           ? "refused"
                  : j.outcome == Outcome::wrong_with_a_word ? "wrong, with a word"
                                                            : "WRONG",
                  j.why.c_str(), log.how.c_str());
  }
  const auto count = [&](Outcome o) { return counts[o]; };
  std::printf(
      "%zu awkward logs: %zu right, %zu asked with the right answer among the choices, %zu asked "
      "without it, %zu refused, %zu wrong with a word, %zu wrong without a word\n",
      n, count(Outcome::right), count(Outcome::asked_rightly), count(Outcome::asked_wrongly),
      count(Outcome::refused), count(Outcome::wrong_with_a_word), count(Outcome::wrong));
  EXPECT_EQ(count(Outcome::wrong), 0u);
  EXPECT_EQ(count(Outcome::wrong_with_a_word), 0u);
  EXPECT_EQ(count(Outcome::asked_wrongly), 0u);
  EXPECT_LE(double(count(Outcome::asked_rightly)), 0.05 * double(n));
  EXPECT_LE(double(count(Outcome::refused)), 0.02 * double(n));
}

}  // namespace

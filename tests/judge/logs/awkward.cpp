// SPDX-License-Identifier: Apache-2.0
#include "tests/judge/logs/awkward.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>

#include <fmt/format.h>

#include "tests/judge/logs/awkward_words.hpp"

namespace judge {
namespace {

std::string replaced(std::string text, char from, const std::string& to) {
  std::string result;
  for (const char c : text) {
    if (c == from)
      result += to;
    else
      result += c;
  }
  return result;
}

std::string latin1(const std::string& utf8) {
  std::string out;
  for (std::size_t k = 0; k < utf8.size(); ++k) {
    const auto c = static_cast<unsigned char>(utf8[k]);
    if (c < 0x80)
      out += utf8[k];
    else if ((c == 0xC2 || c == 0xC3) && k + 1 < utf8.size())
      out += static_cast<char>((c == 0xC3 ? 0x40 : 0) + static_cast<unsigned char>(utf8[++k]));
  }
  return out;
}

std::string utf16(const std::string& utf8) {
  std::string out = "\xFF\xFE";
  for (std::size_t k = 0; k < utf8.size(); ++k) {
    unsigned code = static_cast<unsigned char>(utf8[k]);
    if (code >= 0xE0 && k + 2 < utf8.size()) {
      code = (code & 0xF) << 12 | (static_cast<unsigned>(utf8[k + 1]) & 0x3F) << 6 |
             (static_cast<unsigned>(utf8[k + 2]) & 0x3F);
      k += 2;
    } else if (code >= 0xC0 && k + 1 < utf8.size()) {
      code = (code & 0x1F) << 6 | (static_cast<unsigned>(utf8[++k]) & 0x3F);
    }
    out += static_cast<char>(code & 0xFF);
    out += static_cast<char>(code >> 8);
  }
  return out;
}

std::string clock_text(double seconds, int decimals) {
  const auto whole = static_cast<long>(std::floor(seconds));
  std::string text = fmt::format("{}:{:02d}:{:02d}", whole / 3600, whole / 60 % 60, whole % 60);
  if (decimals > 0)
    text += fmt::format(".{:03d}", static_cast<int>((seconds - double(whole)) * 1000.0));
  return text;
}

/// Days of May 2026, from the 4th to the 25th, so that days and months may be mixed up.
struct Calendar {
  int day;
  double clock_s;
  [[nodiscard]] std::pair<int, double> at(double seconds) const {
    const double s = clock_s + seconds;
    return {day + static_cast<int>(s / 86400.0), std::fmod(s, 86400.0)};
  }
};

enum class Names { words, nonsense, none };
enum class TimeForm {
  seconds,
  minutes,
  hours,
  milliseconds,
  clock,
  clock_ms,
  stamp_iso,
  stamp_day_first,
  date_and_clock,
  epoch_s,
  epoch_ms
};
enum class SignForm { charge_positive, discharge_positive, word, pair, nothing };
enum class UnitForm { brackets, round, under, comma, row, beside, absent };

struct Column {
  std::string name, unit;
  std::function<std::string(std::size_t)> field;
  bool number = true;
};

class Writer {
 public:
  explicit Writer(std::uint64_t seed) : draws_(seed) {}

  AwkwardLog run() {
    log_.truth = draw_test(draws_);
    choose();
    make_columns();
    for (std::size_t k = columns_.size(); k-- > 1;)
      if (const std::size_t j = draws_.below(k + 1); shuffled_) std::swap(columns_[k], columns_[j]);
    log_.bytes = encoded(text());
    return std::move(log_);
  }

 private:
  void said(const std::string& what) { log_.how += (log_.how.empty() ? "" : ", ") + what; }

  void choose() {
    language_ = draws_.below(languages().size());
    const double n = draws_.uniform();
    names_ = n < 0.70 ? Names::words : n < 0.88 ? Names::nonsense : Names::none;
    said(names_ == Names::words      ? fmt::format("language {}", language_)
         : names_ == Names::nonsense ? "nonsense"
                                     : "no header");
    time_ = static_cast<TimeForm>(draws_.below(11));
    const double s = draws_.uniform();
    sign_ = s < 0.3    ? SignForm::charge_positive
            : s < 0.55 ? SignForm::discharge_positive
            : s < 0.75 ? SignForm::word
            : s < 0.85 ? SignForm::pair
                       : SignForm::nothing;
    if (names_ != Names::words && sign_ == SignForm::pair) sign_ = SignForm::charge_positive;
    units_ = names_ == Names::none ? (draws_.chance(0.3) ? UnitForm::beside : UnitForm::absent)
                                   : static_cast<UnitForm>(draws_.below(7));
    milli_amps_ = draws_.chance(0.2);
    milli_volts_ = draws_.chance(0.2);
    comma_ = draws_.chance(0.35);
    shuffled_ = draws_.chance(0.6);
    delimiter_ = comma_ ? (draws_.chance(0.7) ? ';' : '\t')
                        : draws_.one_of(std::vector<char>{',', ',', ';', '\t', '|'});
    quoted_ = draws_.chance(0.15);
    thousands_ = draws_.chance(0.08);
    crlf_ = draws_.chance(0.4);
    said(fmt::format("time form {}, sign form {}, units {}, {} {}", static_cast<int>(time_),
                     static_cast<int>(sign_), static_cast<int>(units_), milli_amps_ ? "mA" : "A",
                     milli_volts_ ? "mV" : "V"));
    said(fmt::format("'{}' {}",
                     delimiter_ == '\t' ? std::string("tab") : std::string(1, delimiter_),
                     comma_ ? "comma" : "point"));
    start_ = {4 + static_cast<int>(draws_.below(9)), draws_.within(0.0, 86000.0)};
    start_.clock_s = std::floor(start_.clock_s);
  }

  const Language& words() const { return languages()[language_]; }
  std::string name(const std::vector<std::string>& list) {
    if (names_ == Names::words) return draws_.one_of(list);
    for (;;) {
      const std::string& word = draws_.one_of(nonsense());
      if (std::find(used_.begin(), used_.end(), word) == used_.end()) {
        used_.push_back(word);
        return word;
      }
    }
  }

  std::string number(double value, int decimals) const {
    std::string text = fmt::format("{:.{}f}", value, decimals);
    if (thousands_) {
      const std::size_t point = std::min(text.find('.'), text.size());
      const std::size_t first = text.front() == '-' ? 1 : 0;
      for (std::size_t at = point; at > first + 3; at -= 3) text.insert(at - 3, comma_ ? "~" : "^");
    }
    if (comma_) text = replaced(text, '.', ",");
    text = replaced(text, '~', ".");
    return replaced(text, '^', delimiter_ == ',' && !quoted_ ? "'" : ",");
  }

  void add(std::string column_name, std::string unit, std::function<std::string(std::size_t)> field,
           bool is_number = true) {
    columns_.push_back({std::move(column_name), std::move(unit), std::move(field), is_number});
  }

  void add_time() {
    const std::vector<double>& t = log_.truth.time_s;
    const auto plain = [&](const std::string& unit, double per, int decimals) {
      add(name(words().time), unit,
          [this, &t, per, decimals](std::size_t k) { return number(t[k] / per, decimals); });
    };
    const auto day = [this, &t](std::size_t k) { return start_.at(t[k]).first; };
    const auto clock = [this, &t](std::size_t k) { return start_.at(t[k]).second; };
    switch (time_) {
      case TimeForm::seconds:
        return plain("s", 1.0, 1);
      case TimeForm::minutes:
        return plain("min", 60.0, 4);
      case TimeForm::hours:
        return plain("h", 3600.0, 6);
      case TimeForm::milliseconds:
        return plain("ms", 1e-3, 0);
      case TimeForm::clock:
      case TimeForm::clock_ms:
        // The unit of a header may stand over a clock all the same.
        add(
            name(words().time),
            draws_.one_of(std::vector<std::string>{"", "s", "min", "h", "h:min:s.ms", "hh:mm:ss"}),
            [&t, ms = time_ == TimeForm::clock_ms](std::size_t k) {
              return clock_text(t[k], ms ? 3 : 0);
            },
            false);
        return;
      case TimeForm::stamp_iso:
        add(
            name(words().time), "",
            [day, clock](std::size_t k) {
              const auto c = static_cast<long>(clock(k));
              return fmt::format("2026-05-{:02d}T{:02d}:{:02d}:{:02d}", day(k), c / 3600,
                                 c / 60 % 60, c % 60);
            },
            false);
        return;
      case TimeForm::stamp_day_first:
        add(
            name(words().time), "",
            [day, clock](std::size_t k) {
              const auto c = static_cast<long>(clock(k));
              return fmt::format("{:02d}.05.2026 {:02d}:{:02d}:{:02d}", day(k), c / 3600,
                                 c / 60 % 60, c % 60);
            },
            false);
        return;
      case TimeForm::date_and_clock: {
        const std::string mark = draws_.one_of(std::vector<std::string>{"/", ".", "-"});
        add(
            name(words().date), "",
            [day, mark](std::size_t k) {
              return fmt::format("{:02d}{}05{}2026", day(k), mark, mark);
            },
            false);
        add(
            name(words().clock), "",
            [clock](std::size_t k) {
              const auto c = static_cast<long>(clock(k));
              return fmt::format("{:02d}:{:02d}:{:02d}", c / 3600, c / 60 % 60, c % 60);
            },
            false);
        return;
      }
      case TimeForm::epoch_s:
        add(
            name(words().time), "",
            [&t](std::size_t k) { return fmt::format("{:.0f}", 1777852800.0 + t[k]); }, false);
        return;
      case TimeForm::epoch_ms:
        add(
            name(words().time), "",
            [&t](std::size_t k) { return fmt::format("{:.0f}", (1777852800.0 + t[k]) * 1e3); },
            false);
        return;
    }
  }

  void add_current() {
    const std::vector<double>& i = log_.truth.current_A;
    const std::string unit = milli_amps_ ? "mA" : "A";
    const double per = milli_amps_ ? 1e-3 : 1.0;
    const int decimals = milli_amps_ ? 0 : 3;
    const auto show = [this, &i, per, decimals](std::size_t k, double sign) {
      const double amps = sign == 0.0 ? std::abs(i[k]) : sign * i[k];
      return number((amps == 0.0 ? 0.0 : amps) / per, decimals);
    };
    if (sign_ == SignForm::pair) {
      add(name(words().charge_current), unit, [this, &i, per, decimals](std::size_t k) {
        return number(std::max(0.0, -i[k]) / per, decimals);
      });
      add(name(words().discharge_current), unit, [this, &i, per, decimals](std::size_t k) {
        return number(std::max(0.0, i[k]) / per, decimals);
      });
      return;
    }
    const double sign = sign_ == SignForm::charge_positive      ? -1.0
                        : sign_ == SignForm::discharge_positive ? 1.0
                                                                : 0.0;
    add(name(words().current), unit, [show, sign](std::size_t k) { return show(k, sign); });
    if (sign_ != SignForm::word) return;
    const Language& l = words();
    const std::string prefix = draws_.one_of(std::vector<std::string>{"", "", "CC ", "1: "});
    add(
        name(draws_.chance(0.5) ? l.state : l.step), "",
        [this, &i, &l, prefix](std::size_t k) {
          return prefix + (i[k] > 0.0 ? l.discharging : i[k] < 0.0 ? l.charging : l.resting);
        },
        false);
  }

  void make_columns() {
    const Truth& t = log_.truth;
    const Language& l = words();
    add_time();
    const double volt = milli_volts_ ? 1e-3 : 1.0;
    add(name(l.voltage), milli_volts_ ? "mV" : "V", [this, &t, volt](std::size_t k) {
      return number(t.voltage_V[k] / volt, volt < 1.0 ? 1 : 4);
    });
    add_current();
    const bool restarts = draws_.chance(0.5);
    if (draws_.chance(0.6)) {
      const double per = milli_amps_ ? 1e-3 : 1.0;
      add(name(l.capacity), milli_amps_ ? "mAh" : "Ah", [this, &t, per, restarts](std::size_t k) {
        return number((restarts ? t.charge_Ah[k] : total_at(k)) / per, per < 1.0 ? 0 : 4);
      });
    }
    if (draws_.chance(0.4))
      add(name(l.energy), "Wh", [this, &t](std::size_t k) { return number(t.energy_Wh[k], 3); });
    if (draws_.chance(0.4))
      add(name(l.temperature), "°C",
          [this, &t](std::size_t k) { return number(t.temperature_C[k], 1); });
    if (draws_.chance(0.2))
      add(name(l.power), "W", [this, &t](std::size_t k) {
        return number(std::abs(t.current_A[k]) * t.voltage_V[k], 2);
      });
    if (draws_.chance(0.35) && sign_ != SignForm::word)
      add(
          name(l.step), "", [&t](std::size_t k) { return fmt::format("{}", t.step[k]); }, false);
    if (draws_.chance(0.35))
      add(
          name(l.record), "", [](std::size_t k) { return fmt::format("{}", k + 1); }, false);
    said(fmt::format("{} columns", columns_.size()));
  }

  /// The counter of a tester that never starts again.
  [[nodiscard]] double total_at(std::size_t row) {
    const Truth& t = log_.truth;
    if (totals_.empty()) {
      totals_.push_back(0.0);
      for (std::size_t k = 1; k < t.time_s.size(); ++k)
        totals_.push_back(totals_.back() +
                          std::abs(t.current_A[k - 1]) * (t.time_s[k] - t.time_s[k - 1]) / 3600.0);
    }
    return totals_[row];
  }

  [[nodiscard]] std::string heading(const Column& c) const {
    if (c.unit.empty()) return c.name;
    switch (units_) {
      case UnitForm::brackets:
        return c.name + "[" + c.unit + "]";
      case UnitForm::round:
        return c.name + "(" + c.unit + ")";
      case UnitForm::under:
        return replaced(c.name, ' ', "_") + "_" + c.unit;
      case UnitForm::comma:
        return delimiter_ == ',' ? c.name + " / " + c.unit : c.name + ", " + c.unit;
      default:
        return c.name;
    }
  }

  [[nodiscard]] std::string line(const std::vector<std::string>& fields) const {
    std::string text;
    for (std::size_t c = 0; c < fields.size(); ++c) {
      if (c > 0) text += delimiter_;
      text += quoted_ ? "\"" + fields[c] + "\"" : fields[c];
    }
    if (trailing_) text += delimiter_;
    return text + (crlf_ ? "\r\n" : "\n");
  }

  std::string text() {
    std::string out;
    trailing_ = draws_.chance(0.08);
    if (draws_.chance(0.35)) {
      said("lines before");
      out += "Report of a test" + std::string(crlf_ ? "\r\n" : "\n");
      out += "Cell" + std::string(1, delimiter_) + "C07" + (crlf_ ? "\r\n" : "\n");
      if (draws_.chance(0.5)) out += crlf_ ? "\r\n" : "\n";
    }
    std::vector<std::string> names, units, sums;
    for (const Column& c : columns_) {
      names.push_back(heading(c));
      units.push_back(c.unit);
      sums.push_back("");
    }
    const std::string head = line(names);
    if (names_ != Names::none) out += head;
    if (names_ != Names::none && units_ == UnitForm::row) out += line(units);
    const std::size_t rows = log_.truth.time_s.size();
    const bool head_again = names_ != Names::none && draws_.chance(0.1);
    for (std::size_t k = 0; k < rows; ++k) {
      if (head_again && k == rows / 2) out += head;
      std::vector<std::string> fields;
      for (const Column& c : columns_) {
        std::string field = c.field(k);
        if (units_ == UnitForm::beside && c.number && !c.unit.empty()) field += " " + c.unit;
        fields.push_back(std::move(field));
      }
      out += line(fields);
    }
    if (head_again) said("head again");
    const double end = draws_.uniform();
    if (end < 0.15) {
      said("last row cut");
      Truth& t = log_.truth;
      t.last_row_Ah =
          std::abs(t.current_A[rows - 2]) * (t.time_s[rows - 1] - t.time_s[rows - 2]) / 3600.0;
      const std::size_t last = out.rfind('\n', out.size() - 2) + 1;
      out.resize(last + 1 + draws_.below(std::max<std::size_t>(2, out.size() - last - 4)));
    } else if (end < 0.25) {
      said("sum below");
      sums[0] = words().total;
      for (std::size_t c = 1; c < columns_.size(); ++c)
        if (columns_[c].unit.ends_with("Ah")) sums[c] = number(log_.truth.discharged_Ah, 3);
      out += line(sums);
    }
    return out;
  }

  std::string encoded(const std::string& utf8) {
    switch (draws_.below(8)) {
      case 0:
        said("UTF-8 with a mark");
        return "\xEF\xBB\xBF" + utf8;
      case 1:
        said("UTF-16");
        return utf16(utf8);
      case 2:
      case 3:
        said("Latin-1");
        return latin1(utf8);
      default:
        return utf8;
    }
  }

  Draws draws_;
  AwkwardLog log_;
  std::size_t language_ = 0;
  Names names_ = Names::words;
  TimeForm time_ = TimeForm::seconds;
  SignForm sign_ = SignForm::charge_positive;
  UnitForm units_ = UnitForm::brackets;
  bool milli_amps_ = false, milli_volts_ = false, comma_ = false, shuffled_ = false;
  bool quoted_ = false, thousands_ = false, crlf_ = false, trailing_ = false;
  char delimiter_ = ',';
  Calendar start_{};
  std::vector<Column> columns_;
  std::vector<std::string> used_;
  std::vector<double> totals_;
};

}  // namespace

AwkwardLog draw_log(std::uint64_t seed) { return Writer(seed).run(); }

}  // namespace judge

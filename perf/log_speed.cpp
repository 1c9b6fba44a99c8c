// SPDX-License-Identifier: Apache-2.0
// From a log's text to its measures: MB/s of the parse alone, of the whole path, and of what they
// are held against. `log_speed make FILE MB` writes a log; `log_speed time FILE` times it.
#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <cstring>
#include <functional>
#include <string>
#include <vector>

#include <sys/resource.h>

#include "bench/measure.hpp"
#include "logs/quick_row.hpp"
#include "logs/read_log.hpp"
#include "store/files.hpp"

namespace {

/// An invented 230 Ah cell: charge, rest, discharge, over and over, a row a second, six columns.
void make(const char* path, double megabytes) {
  std::FILE* out = std::fopen(path, "wb");
  if (out == nullptr) return;
  std::fputs("time_s,step,current_A,voltage_V,charge_Ah,temperature_C\n", out);
  double written = 0.0, charge_Ah = 0.0;
  unsigned noise = 1;
  for (long k = 0; written < megabytes * 1e6; ++k) {
    noise = noise * 1664525u + 1013904223u;
    const double ripple = double(noise >> 16) / 65536.0 - 0.5;
    const long at = k % 43200;  // half a day a cycle
    const int step = at < 18000 ? 1 : at < 21600 ? 2 : at < 39600 ? 3 : 4;
    const double amps = step == 1 ? 46.0 + 0.01 * ripple : step == 3 ? -46.0 + 0.01 * ripple : 0.0;
    const double share = step == 1   ? double(at) / 18000.0
                         : step == 2 ? 1.0
                         : step == 3 ? 1.0 - double(at - 21600) / 18000.0
                                     : 0.0;
    const double volts = 3.28 + 0.05 * (share - 0.5) + 0.25 * std::pow(share, 40.0) -
                         0.7 * std::pow(1.0 - share, 40.0) + 0.0008 * amps;
    charge_Ah += std::abs(amps) / 3600.0;
    written += std::fprintf(out, "%.3f,%d,%.4f,%.4f,%.5f,%.2f\n", double(k), step, amps,
                            volts + 0.0002 * ripple, charge_Ah, 24.0 + ripple);
  }
  std::fclose(out);
}

double best_of(int times, const std::function<void()>& run) {
  double best = 1e30;
  for (int k = 0; k < times; ++k) {
    const auto start = std::chrono::steady_clock::now();
    run();
    best = std::min(
        best, std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count());
  }
  return best;
}

/// What any reader of digits must do: every byte once, digits into numbers, nothing else.
double bare_digits(const std::string& text) {
  unsigned long sum = 0, number = 0;
  for (const char c : text) {
    const auto digit = static_cast<unsigned char>(c - '0');
    if (digit <= 9)
      number = number * 10 + digit;
    else
      sum += number, number = 0;
  }
  return static_cast<double>(sum);
}

/// The parse alone: every number of every row, each a double in its column.
double parse_alone(const std::string& text) {
  logs::QuickPlan plan;
  plan.slot = {0, 1, 2, 3, 4, 5};
  plan.least_fields = 6;
  logs::QuickSlots row{};
  std::array<std::vector<double>, 6> columns;
  for (auto& c : columns) c.resize(1 << 14);
  double sum = 0.0;
  std::size_t n = 0;
  const std::size_t block = 1 << 20;
  const char* at = std::strchr(text.data(), '\n') + 1;
  const char* const end = text.data() + text.size();
  while (at < end) {  // block by block, as the reader does it
    logs::QuickRows rows(plan, at - 20, std::min(end, at + block));
    rows.seek(at);
    const char* const before = at;
    while (rows.next(row)) {
      for (std::size_t c = 0; c < 6; ++c) columns[c][n] = row[c];
      n = (n + 1) & ((1 << 14) - 1);
    }
    at = rows.place();
    if (at == before) break;
  }
  for (const auto& c : columns) sum += c[0];
  return sum;
}

void time(const char* path) {
  const std::string text = store::read_file(path);
  const double mb = double(text.size()) / 1e6;
  volatile double sink = 0.0;
  const double digits_s = best_of(3, [&] { sink = bare_digits(text); });
  const double parse_s = best_of(3, [&] { sink = parse_alone(text); });
  std::vector<char> copy(text.size());
  const double copy_s = best_of(3, [&] {
    std::memcpy(copy.data(), text.data(), text.size());
    sink = copy[1];
  });
  copy = {};
  const double hash_s = best_of(2, [&] { sink = double(store::sha256(text).size()); });
  const double whole_s = best_of(3, [&] {
    const auto result = logs::read_log(text);
    const auto report = bench::measure(std::get<logs::Log>(result), {});
    sink = report.measures.totals.charged_Ah;
  });
  std::printf("%-34s %7.0f MB/s\n", "memory copy", mb / copy_s);
  std::printf("%-34s %7.0f MB/s\n", "bare digit loop", mb / digits_s);
  std::printf("%-34s %7.0f MB/s   %.2f of the digit loop\n", "parse alone", mb / parse_s,
              digits_s / parse_s);
  std::printf("%-34s %7.0f MB/s\n", "text to measures", mb / whole_s);
  std::printf("%-34s %7.0f MB/s\n", "text to measures, and SHA-256", mb / (whole_s + hash_s));
  std::printf("seconds %.4f %.4f %.4f\n", parse_s, whole_s, whole_s + hash_s);
}

}  // namespace

int main(int argc, char** argv) {
  if (argc == 4 && std::strcmp(argv[1], "make") == 0)
    make(argv[2], std::atof(argv[3]));
  else if (argc == 3 && std::strcmp(argv[1], "time") == 0)
    time(argv[2]);
  else
    return std::puts("log_speed make FILE MB | time FILE"), 2;
}

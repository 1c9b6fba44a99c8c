// SPDX-License-Identifier: Apache-2.0
// The twin's speed: cell-steps a second of the full model, beside a kernel with one RC pair and no
// network in the same run, and with two cores. Invented cells.
#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <thread>
#include <vector>

#include "bank/twin.hpp"
#include "cell/chemistry.hpp"

namespace {

namespace units = base::units;

template <class Work>
double seconds_of(Work work) {
  const auto start = std::chrono::steady_clock::now();
  work();
  return std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
}

bank::Setup setup(int packs, int parallel, const bank::kernel::Functions* functions) {
  bank::Setup s;
  s.layout.packs = packs, s.layout.series = 16, s.layout.parallel = parallel;
  s.rated_capacity = 230.0 * units::Ah;
  s.rows = 2;
  s.functions = functions;
  for (int i = 0; i < s.layout.places(); ++i) {
    s.cells.push_back(cell::Model::scaled((228.0 + (i * 37 % 11) * 0.3) * units::Ah,
                                          (0.48 + (i * 17 % 7) * 0.005) * units::mOhm));
    s.start_charge.push_back(0.5);
  }
  return s;
}

/// Minutes of a day that comes again; charge comes out even, within the bank's limits.
double play(bank::Twin& twin, int minutes) {
  const double scale = twin.cells() / 96.0;
  for (int m = 0; m < minutes; ++m) {
    const int of_day = m % 1440;
    const double amps = of_day < 400 ? 45.0 : of_day < 500 ? 0.0 : of_day < 900 ? -46.0 : 0.0;
    twin.step({bank::Demand::Kind::current, amps * scale}, 20.0);
  }
  return twin.bus_V();
}

/// One RC pair, coulomb counting, table of the open-circuit voltage: no network, no hysteresis, no
/// heat. What a simple cell model costs.
struct One {
  double charge[8], v1[8], r0[8], r1[8], keep[8], per_amp[8], voltage[8];
};
__attribute__((target("avx2"), optimize("O3"))) void one_rc(One* blocks, std::size_t n, double I,
                                                            const double* value,
                                                            const double* rise) {
  for (std::size_t k = 0; k < n; ++k) {
    One& b = blocks[k];
#pragma omp simd
    for (std::size_t l = 0; l < 8; ++l) {
      const double v1 = b.v1[l] * b.keep[l] + b.r1[l] * I;
      const double charge = b.charge[l] - I * b.per_amp[l];
      const double at = (charge + 0.05) * 400.0;
      int i = static_cast<int>(at);
      i = i < 0 ? 0 : i;
      i = i > 439 ? 439 : i;
      b.voltage[l] = value[i] + rise[i] * (at - double(i)) - b.r0[l] * I - v1;
      b.v1[l] = v1;
      b.charge[l] = charge;
    }
  }
}

}  // namespace

int main() {
  constexpr int year = 525600;
  double sink = 0.0;
  struct Case {
    int packs, parallel;
  };
  double first = 0.0;
  for (const Case c : {Case{6, 1}, Case{3, 2}, Case{30, 3}}) {
    const int minutes = c.packs == 30 ? year / 10 : year;
    for (const auto* f : {&bank::kernel::best(), &bank::kernel::plain}) {
      double best = 1e9;
      for (int again = 0; again < 3; ++again) {
        bank::Twin twin(setup(c.packs, c.parallel, f));
        best = std::min(best, seconds_of([&] { sink += play(twin, minutes); }));
      }
      const double rate = double(c.packs * 16 * c.parallel) * minutes / best / 1e6;
      if (first == 0.0) first = rate;
      std::printf(
          "%4d cells as %2d x 16S%dP, %s: %.3f s, %.0f M cell-steps/s (%.2f of the first)\n",
          c.packs * 16 * c.parallel, c.packs, c.parallel, f->name, best, rate, rate / first);
    }
  }
  std::vector<double> value(440), rise(440);
  for (int i = 0; i < 440; ++i) {
    value[std::size_t(i)] = cell::open_circuit_voltage((i - 20) / 400.0).si();
    rise[std::size_t(i)] =
        cell::open_circuit_voltage((i - 19) / 400.0).si() - value[std::size_t(i)];
  }
  std::vector<One> ones(12);
  for (One& b : ones)
    for (int l = 0; l < 8; ++l)
      b = b, b.charge[l] = 0.5, b.v1[l] = 0.0, b.r0[l] = 3e-4, b.r1[l] = 1e-4, b.keep[l] = 0.02,
      b.per_amp[l] = 60.0 / (230.0 * 3600.0);
  double best = 1e9;
  for (int again = 0; again < 3; ++again)
    best = std::min(best, seconds_of([&] {
                      for (int m = 0; m < year; ++m)
                        one_rc(ones.data(), ones.size(), (m / 360) % 2 == 0 ? 20.0 : -20.0,
                               value.data(), rise.data());
                    }));
  const double one = 96.0 * year / best / 1e6;
  std::printf("one RC pair, no network: %.0f M cell-steps/s; the full model is %.2f of it\n", one,
              first / one);
  const double alone = seconds_of([&] {
    bank::Twin twin(setup(6, 1, nullptr));
    sink += play(twin, year);
  });
  const double both = seconds_of([&] {
    std::vector<std::thread> threads;
    for (int t = 0; t < 2; ++t)
      threads.emplace_back([] {
        bank::Twin twin(setup(6, 1, nullptr));
        volatile double keep = play(twin, year);
        (void)keep;
      });
    for (std::thread& t : threads) t.join();
  });
  std::printf("two banks on two cores: %.2f times one (%g)\n", 2.0 * alone / both, sink);
  return 0;
}

// SPDX-License-Identifier: Apache-2.0
#include "works/examples.hpp"

#include <cmath>
#include <numbers>
#include <random>

#include <fmt/format.h>

#include "base/check.hpp"
#include "cell/chemistry.hpp"
#include "cell/model.hpp"
#include "works/examples_text.hpp"

namespace works {
namespace {

namespace units = base::units;

/// Normal deviates that are the same on every machine (the library's distribution is not).
class Noise {
 public:
  explicit Noise(std::uint64_t seed) : engine_(seed) {}
  double uniform() { return (double(engine_() >> 11) + 0.5) * 0x1.0p-53; }
  double normal() {
    const double radius = std::sqrt(-2.0 * std::log(uniform()));
    return radius * std::cos(2.0 * std::numbers::pi * uniform());
  }

 private:
  std::mt19937_64 engine_;
};

enum class Format { plain, semicolon_milli, stamped_unsigned };

struct Lot {
  std::uint64_t seed;
  int cells;
  double capacity_Ah, capacity_sd, resistance_mOhm, resistance_sd, thickness_mm, mass_kg;
  int weak_cell, resistive_cell;  ///< counted from 1; 0: none
  double sample_s;
};

struct MadeCell {
  cell::Model model;
  double ac_mOhm, mass_kg, thickness_mm, arrival_charge;
};

/// What a cheap tester adds to the truth.
struct TesterErrors {
  double gain, offset_A, drift_A_h;
};

struct Sample {
  double time_s, voltage_V, current_A, temperature_C;  // discharge positive
};

MadeCell make_cell(const Lot& lot, int number, Noise& noise) {
  double capacity = lot.capacity_Ah * (1.0 + lot.capacity_sd * noise.normal());
  double resistance = lot.resistance_mOhm * (1.0 + lot.resistance_sd * noise.normal());
  if (number == lot.weak_cell) capacity *= 0.955;
  if (number == lot.resistive_cell) resistance *= 1.55;
  MadeCell made{cell::Model::scaled(capacity * units::Ah, resistance * units::mOhm),
                0.42 * resistance * (1.0 + 0.015 * noise.normal()),
                lot.mass_kg * (1.0 + 0.002 * noise.normal()),
                lot.thickness_mm + 0.15 * noise.normal(), 0.30 + 0.012 * noise.normal()};
  return made;
}

/// Rest, charge to 3.65 V and hold until the current has tapered, rest, discharge to 2.5 V, rest.
std::vector<Sample> run_test(const MadeCell& made, double rated_Ah, double sample_s,
                             TesterErrors errors, Noise& noise) {
  constexpr double step_s = 2.0;
  const double charge_A = -0.25 * rated_Ah, discharge_A = 0.2 * rated_Ah, tail_A = 0.04 * rated_Ah;
  std::vector<Sample> samples;
  cell::State state{.charge = made.arrival_charge, .v1 = {}, .v2 = {}, .branch = 0.2};
  const double room_C = 21.5 + 0.8 * noise.normal();
  double time_s = 0.0, cell_C = room_C, next_sample_s = 0.0, left_s = 300.0;
  enum class Stage { settle, charge, hold, soak, discharge, recover, done } stage = Stage::settle;
  double shown_A = 0.0;
  while (stage != Stage::done) {
    const auto temperature = base::Temperature::from_C(cell_C);
    const double r0 = made.model.r0.si() * cell::resistance_factor(temperature);
    const double idle_V = cell::terminal_voltage(made.model, state, {}, temperature).si();
    double current_A = 0.0;
    if (stage == Stage::charge) current_A = charge_A;
    if (stage == Stage::hold) current_A = std::min(0.0, (idle_V - 3.65) / r0);
    if (stage == Stage::discharge) current_A = discharge_A;
    const double voltage_V = idle_V - current_A * r0;
    if (time_s >= next_sample_s) {
      shown_A = current_A == 0.0 ? 0.0
                                 : current_A * (1.0 + errors.gain) + errors.offset_A +
                                       errors.drift_A_h * time_s / 3600.0 + 0.008 * noise.normal();
      samples.push_back(
          {time_s, voltage_V + 0.0004 * noise.normal(), shown_A, cell_C + 0.05 * noise.normal()});
      next_sample_s += sample_s;
    }
    state = cell::after(made.model, state, current_A * units::A, step_s * units::s, temperature);
    const double heat_W = current_A * current_A * (r0 + made.model.r1.si() + made.model.r2.si());
    cell_C += step_s * (heat_W - 0.9 * (cell_C - room_C)) /
              4300.0;  // lumped: W/K to the room, J/K of the cell
    time_s += step_s;
    left_s -= step_s;
    CHECK(time_s < 48.0 * 3600.0);  // no test lasts two days
    switch (stage) {
      case Stage::settle:
        if (left_s <= 0.0) stage = Stage::charge;
        break;
      case Stage::charge:
        if (voltage_V >= 3.65) stage = Stage::hold;
        break;
      case Stage::hold:
        if (-current_A <= tail_A) stage = Stage::soak, left_s = 1800.0;
        break;
      case Stage::soak:
        if (left_s <= 0.0) stage = Stage::discharge;
        break;
      case Stage::discharge:
        if (voltage_V <= 2.5) stage = Stage::recover, left_s = 900.0;
        break;
      case Stage::recover:
        if (left_s <= 0.0) stage = Stage::done;
        break;
      case Stage::done:
        break;
    }
  }
  return samples;
}

std::string comma(std::string text) {
  for (char& c : text)
    if (c == '.') c = ',';
  return text;
}

std::string write_log(const std::vector<Sample>& samples, Format format) {
  std::string text;
  switch (format) {
    case Format::plain:  // charging current positive, as many testers have it
      text = "time_s,voltage_V,current_A,temperature_C\n";
      for (const Sample& s : samples)
        text += fmt::format("{:.0f},{:.4f},{:.3f},{:.1f}\n", s.time_s, s.voltage_V, -s.current_A,
                            s.temperature_C);
      break;
    case Format::semicolon_milli:
      text =
          "Messreihe;Zelle im Versuch\r\nKanal;2\r\n\r\nZeit [h:mm:ss];Spannung [mV];Strom "
          "[mA];Temperatur [°C]\r\n";
      for (const Sample& s : samples) {
        const int t = static_cast<int>(s.time_s);
        text += comma(fmt::format("{}:{:02}:{:02};{:.1f};{:.0f};{:.1f}\r\n", t / 3600, t / 60 % 60,
                                  t % 60, s.voltage_V * 1e3, s.current_A * 1e3, s.temperature_C));
      }
      break;
    case Format::stamped_unsigned:
      text = "timestamp\tstate\tvolts\tamps\n";
      for (const Sample& s : samples) {
        const int t = static_cast<int>(s.time_s) +
                      17 * 3600;  // started in the evening, so it passes midnight
        text += fmt::format("2026-02-{:02} {:02}:{:02}:{:02}\t{}\t{:.3f}\t{:.2f}\n", 11 + t / 86400,
                            t / 3600 % 24, t / 60 % 60, t % 60,
                            s.current_A == 0.0  ? "resting"
                            : s.current_A > 0.0 ? "discharging"
                                                : "charging",
                            s.voltage_V, std::abs(s.current_A));
      }
      break;
  }
  return text;
}

Lot lot_of(std::string_view name) {
  if (name == "smallholding")
    return {20260211, 38, 233.6, 0.0065, 0.50, 0.035, 53.8, 4.11, 23, 9, 20.0};
  if (name == "cabin") return {20260307, 18, 106.4, 0.009, 1.02, 0.05, 36.0, 2.01, 0, 0, 20.0};
  return {20260419, 106, 233.2, 0.015, 0.51, 0.06, 53.9, 4.10, 61, 0, 60.0};
}

}  // namespace

const std::vector<Example>& examples() {
  static const std::vector<Example> all = {
      {"smallholding", "two packs of 16S1P, 230 Ah class, 38 cells for 32 places",
       smallholding_toml},
      {"cabin", "one pack of 8S2P, 105 Ah class, 18 cells for 16 places", cabin_toml},
      {"workshop", "three packs of 16S2P, 230 Ah class, 106 cells for 96 places", workshop_toml}};
  return all;
}

std::map<std::string, std::string> example_files(std::string_view name) {
  const Example* example = nullptr;
  for (const Example& e : examples())
    if (e.name == name) example = &e;
  CHECK(example != nullptr, std::string(name));
  const Lot lot = lot_of(name);
  Noise noise(lot.seed);
  const double rated_Ah = name == "cabin" ? 105.0 : 230.0;
  std::map<std::string, std::string> files;
  files["project.toml"] = example->project_toml;
  if (name == "smallholding") {
    files["runs.csv"] = smallholding_runs;
    files["devices.csv"] = smallholding_devices;
  }
  std::string& cells = files["cells.csv"];
  cells = "label,lot,voltage_V,ac_resistance_mOhm,mass_kg,thickness_mm,note\n";
  const TesterErrors errors{0.0016, 0.015, 0.002};
  for (int number = 1; number <= lot.cells; ++number) {
    const MadeCell made = make_cell(lot, number, noise);
    const std::string label = fmt::format("C{:0{}}", number, lot.cells > 99 ? 3 : 2);
    const double arrival_V =
        cell::open_circuit_voltage(made.arrival_charge).si() + 0.0006 * noise.normal();
    cells += fmt::format("{},{},{:.3f},{:.3f},{:.3f},{:.1f},{}\n", label,
                         number <= lot.cells / 2 ? "first crate" : "second crate", arrival_V,
                         made.ac_mOhm, made.mass_kg, made.thickness_mm,
                         number == 4 ? "\"small dent, upper edge\"" : "");
    Format format = Format::plain;
    if (number == 7) format = Format::semicolon_milli;
    if (number == 16) format = Format::stamped_unsigned;
    files[fmt::format("logs/{}.{}", label, format == Format::stamped_unsigned ? "txt" : "csv")] =
        write_log(run_test(made, rated_Ah, lot.sample_s, errors, noise), format);
  }
  return files;
}

}  // namespace works

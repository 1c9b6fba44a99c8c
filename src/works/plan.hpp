// SPDX-License-Identifier: Apache-2.0
// Plan: everything we worked out. A pure function of the Project: same input, same bytes.
#pragma once

#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "base/figure.hpp"
#include "bench/calibration.hpp"
#include "bench/fit.hpp"
#include "bench/lot.hpp"
#include "bench/measure.hpp"
#include "bench/queue.hpp"
#include "bench/uncertainty.hpp"
#include "commission/sense.hpp"
#include "commission/settings.hpp"
#include "findings/finding.hpp"
#include "layout/box.hpp"
#include "match/match.hpp"
#include "project/views.hpp"
#include "wiring/circuit.hpp"
#include "wiring/joints.hpp"
#include "works/house.hpp"

namespace works {

using project::Cell, project::File, project::Offer, project::Project, project::Signature;

/// A figure with the key that the JSON uses and the words that a person reads.
struct Named {
  std::string key;
  std::string label;
  base::Figure figure;
};

/// What every step has: its answer in a sentence or two, and its figures.
struct Step {
  std::string name;  ///< "brief" … "book"
  std::string question;
  std::string sentence;
  std::vector<Named> figures;
};

struct OfferResult {
  Offer offer;
  base::Figure total, per_cell, per_kWh;
  base::Figure per_kWh_out;  ///< over its life
  double life_years = 0.0;   ///< until it is worn, by cycles and shelf together
};

/// How far the cheapest offer stays ahead as an assumption moves; below zero another is cheaper.
struct Margin {
  std::string what;
  double low = 0.0, high = 0.0;  ///< runner-up less the cheapest, a kWh out, at half and at double
};
/// An assumption that would turn the ranking of the offers, at so many times what is assumed.
struct Turn {
  std::string what;
  double factor = 1.0;
  std::string then;  ///< the offer that would be cheapest
};

/// A point of a discharge curve, for drawing.
struct CurvePoint {
  double charge_Ah = 0.0, voltage_V = 0.0;
};

enum class Standing { untested, unreadable, tested };
struct CellResult {
  std::string label, lot, made, log;
  Standing standing = Standing::untested;
  std::optional<base::Figure> capacity_Ah, energy_Wh, resistance_mOhm, coulombic_efficiency,
      energy_efficiency, temperature_C;
  std::optional<double> resistance_time_s;
  std::string channel;                                ///< that it was tested on; empty: not said
  std::optional<base::Figure> capacity_before_Ah;     ///< before the channel was corrected
  std::optional<base::Figure> reference_capacity_Ah;  ///< brought to reference conditions
  std::optional<base::Figure> effective_capacity_Ah;  ///< at the bank's design current, temperature
  std::optional<double> leak_mA;
  std::optional<double> tail_share;  ///< of the full charge, what flowed at constant voltage
  std::optional<bench::Conditions> conditions;
  std::vector<bench::BudgetLine> budget;  ///< of the capacity
  std::string left_out;                   ///< what of its log was not used, in words
  std::optional<bench::Judgement> judgement;
  std::string place;   ///< "A-07", "spare", "set aside" or empty
  std::string reason;  ///< why it was set aside
  std::vector<CurvePoint> curve;
  /// Where the log shows the whole circuit: rows close enough after steps, both ways, R0 to a
  /// tenth.
  std::optional<bench::FittedCell> model;
};

/// One quantity of the lot: its spread, who stands out, and the limit where there is one.
struct LotResult {
  bench::LotQuantity quantity;
  bench::Distribution distribution;
  std::optional<bench::Outliers> outliers;
  std::optional<bench::Limit> limit;
  std::vector<bench::Judgement> judgements;  ///< one a cell, where there is a limit
};

struct YearForecast {
  double year = 0.0;
  double low = 1.0,
         high = 1.0;  ///< share of the capacity when new, by the harsher and the milder law
};

/// A checked arrangement of the lot; empty where there are too few cells.
struct Arrangement {
  match::Assignment assignment;
  std::vector<std::string> labels;  ///< of the candidates that the assignment's indices mean
};

struct Plan {
  Step brief, choose, size, order, receive, test, match, wire, commission, forecast, watch, book;
  std::vector<OfferResult> offers;  ///< cheapest good kilowatt-hour first
  double margin = 0.0;              ///< by which the cheapest over its life is ahead, a kWh out
  std::vector<Margin> margins;      ///< the same with an assumption at half and at double
  std::vector<Turn> turns;          ///< of the cheapest over its life
  std::vector<CellResult> cells;    ///< in the project's order
  std::vector<LotResult> lot;
  std::optional<bench::Calibration> calibration;
  std::optional<bench::Queue> queue;  ///< of the cells that are not tested yet
  std::optional<Arrangement> arrangement;
  std::optional<layout::Box> box;  ///< of one pack
  std::vector<double> pack_currents_A;
  wiring::CircuitResult circuit;
  wiring::JointMap joints;
  std::vector<commission::SenseTable> sense;  ///< of packs whose plug was measured
  std::vector<commission::Setting> settings;
  std::optional<HouseStudy> house;  ///< where the project tells enough of it
  std::vector<YearForecast> years;
  std::vector<findings::Finding> findings;  ///< stop first

  [[nodiscard]] std::vector<const Step*> steps() const {
    return {&brief, &choose, &size,       &order,    &receive, &test,
            &match, &wire,   &commission, &forecast, &watch,   &book};
  }
};

[[nodiscard]] Plan plan(const Project& project);
[[nodiscard]] base::Json to_json(const Plan& plan);

/// The figure that "wire.fault_current_A" names, or nothing.
[[nodiscard]] const Named* find_figure(const Plan& plan, std::string_view path);

}  // namespace works

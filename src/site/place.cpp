// SPDX-License-Identifier: Apache-2.0
#include "site/place.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include <fmt/format.h>

namespace site {
namespace {

using findings::Severity;

constexpr double gravity = 9.81;
constexpr std::string_view codes =
    "[NFPA855] ch. 15 as second texts quote it; editions and local codes differ";

}  // namespace

double floor_load_kN_m2(const Standing& s) {
  return s.pack_area_m2 > 0.0 ? s.pack_kg * gravity * 1e-3 / s.pack_area_m2 : 0.0;
}

std::vector<findings::Finding> check_place(const Standing& s, const PlaceRules& rules) {
  std::vector<findings::Finding> findings;
  const auto found = [&](findings::Id id, Severity severity, std::string what, std::string measured,
                         std::string limit, std::string why, std::string remedy,
                         std::string_view basis) {
    findings.push_back({.id = id,
                        .severity = severity,
                        .what = std::move(what),
                        .where = "[place]",
                        .measured = std::move(measured),
                        .limit = std::move(limit),
                        .why = std::move(why),
                        .remedy = std::move(remedy),
                        .basis = std::string(basis)});
  };
  std::string unsaid;
  const auto lacks = [&](bool is, std::string_view what) {
    if (is) unsaid += (unsaid.empty() ? "" : ", ") + std::string(what);
  };
  lacks(s.kind == "not-said", "where it stands");
  lacks(!s.clearance_m, "clearances");
  lacks(!s.floor_allows_kN_m2, "what the floor carries");
  lacks(s.detector == "not-said", "a smoke alarm");
  lacks(s.backing == "not-said", "what stands behind it");
  lacks(rules.edition.empty(), "the code and edition that [rules] were compared with");
  if (!unsaid.empty())
    found(findings::Id::place_not_said, Severity::note, "Not all of the place can be checked.",
          unsaid, "", "What is not said is not checked, and does not pass.",
          "Fill in [place] and [rules]; ask the authority, the insurer and the grid operator.",
          "common practice, no source");
  constexpr std::array<std::string_view, 4> forbidden = {"living-space", "bedroom", "loft",
                                                         "escape-route"};
  if (std::find(forbidden.begin(), forbidden.end(), s.kind) != forbidden.end())
    found(findings::Id::place_where_people_sleep_or_flee, Severity::stop,
          "A battery store does not belong in this place.", s.kind, "",
          "Its gas is poisonous and can explode, and there is no way past it.",
          "A garage, an outbuilding, a wall outdoors or a utility room that closes.", codes);
  if (s.pack_kWh > rules.unit_kWh)
    found(findings::Id::unit_above_rule, Severity::caution, "A pack holds more than a unit may.",
          fmt::format("{:.1f} kWh", s.pack_kWh), fmt::format("{:g} kWh", rules.unit_kWh),
          "Rules for homes end here; others begin.", "Smaller packs, or ask the authority.", codes);
  const double all_kWh = s.packs * s.pack_kWh;
  const bool indoors = s.kind == "utility-room";
  const double most = indoors ? rules.indoors_kWh : rules.garage_kWh;
  if (s.kind != "not-said" && all_kWh > most)
    found(findings::Id::place_above_rule, Severity::caution,
          "The place holds more energy than the rule allows.", fmt::format("{:.1f} kWh", all_kWh),
          fmt::format("{:g} kWh", most),
          "A fire there is beyond what house and neighbours are built for.",
          "Spread it over places, or ask the authority.", codes);
  if (s.clearance_m && *s.clearance_m < rules.clearance_m)
    found(findings::Id::clearance_too_small, Severity::caution,
          "Packs stand closer to each other or to a door than the rule asks.",
          fmt::format("{:g} m", *s.clearance_m), fmt::format("{:g} m", rules.clearance_m),
          "Fire passes from one to the next, and across the way out.",
          "More room, or a tested arrangement; working space in front as your code asks.", codes);
  const double load = floor_load_kN_m2(s),
               allows = s.floor_allows_kN_m2.value_or(rules.floor_kN_m2);
  if (load > allows)
    found(findings::Id::floor_load, Severity::caution,
          "A pack presses harder than the floor may be loaded.", fmt::format("{:.1f} kN/m²", load),
          fmt::format("{:g} kN/m²", allows), "Floors sag, tiles break, shelves come down.",
          "A base that spreads the load, a floor on the ground, or a builder's word.",
          s.floor_allows_kN_m2 ? "as given" : "[EN1991-1-1] category A, from memory");
  if (s.pack_kg > rules.lift_kg)
    found(findings::Id::too_heavy_for_one, Severity::note,
          fmt::format("A pack weighs {:.0f} kg.", s.pack_kg), fmt::format("{:.0f} kg", s.pack_kg),
          fmt::format("{:g} kg for one person", rules.lift_kg),
          "Backs break, and a dropped pack burns.",
          fmt::format("Build it where it stands, or lift with {:.0f} people or a hoist.",
                      std::ceil(s.pack_kg / rules.lift_kg)),
          "guidance figure of [HSE-L23]");
  if (s.detector == "no")
    found(findings::Id::no_detector, Severity::caution, "No alarm hangs above the bank.", "", "",
          "Smoke is the first that anybody can know.",
          "A smoke or heat alarm that is heard where people sleep.", codes);
  if (s.backing == "combustible")
    found(findings::Id::burns_behind, Severity::stop,
          "What stands behind or below the bank can burn.", "", "",
          "A cell that vents sets it alight.", "Masonry, steel or board that does not burn.",
          "common practice, no source");
  return findings;
}

}  // namespace site

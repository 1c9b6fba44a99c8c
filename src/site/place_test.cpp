// SPDX-License-Identifier: Apache-2.0
#include "site/place.hpp"

#include <gtest/gtest.h>

namespace {

site::Standing sound() {
  return {.kind = "garage",
          .packs = 2,
          .pack_kg = 80.0,
          .pack_kWh = 11.8,
          .pack_area_m2 = 0.19,
          .clearance_m = 1.0,
          .floor_allows_kN_m2 = 10.0,
          .detector = "yes",
          .backing = "incombustible"};
}
site::PlaceRules rules() {
  site::PlaceRules r;
  r.edition = "invented code, 2024";
  return r;
}
std::string found(const site::Standing& s, const site::PlaceRules& r = rules()) {
  std::string ids;
  for (const auto& f : site::check_place(s, r)) ids += std::string(findings::word(f.id)) + " ";
  return ids;
}

TEST(Place, of_a_sound_bank_only_says_that_a_pack_is_heavy) {
  EXPECT_EQ(found(sound()), "too-heavy-for-one ");
}

TEST(Place, finds_what_is_against_the_rules_and_what_is_not_said) {
  const auto with = [](auto change) {
    site::Standing s = sound();
    s.pack_kg = 20.0;
    change(s);
    return found(s);
  };
  EXPECT_EQ(with([](auto& s) { s.kind = "loft"; }), "place-where-people-sleep-or-flee ");
  EXPECT_EQ(with([](auto& s) { s.pack_kWh = 21.0; }), "unit-above-rule ");
  EXPECT_EQ(with([](auto& s) { s.packs = 8; }), "place-above-rule ");  // 94.4 kWh in a garage
  EXPECT_EQ(with([](auto& s) { s.packs = 4, s.kind = "utility-room"; }), "place-above-rule ");
  EXPECT_EQ(with([](auto& s) { s.packs = 4; }), "");
  EXPECT_EQ(with([](auto& s) { s.clearance_m = 0.3; }), "clearance-too-small ");
  EXPECT_EQ(with([](auto& s) { s.floor_allows_kN_m2 = 1.0; }), "floor-load ");
  EXPECT_EQ(with([](auto& s) { s.detector = "no"; }), "no-detector ");
  EXPECT_EQ(with([](auto& s) { s.backing = "combustible"; }), "burns-behind ");
  EXPECT_EQ(with([](auto& s) { s.detector = "not-said"; }), "place-not-said ");
  EXPECT_EQ(found(sound(), {}), "place-not-said too-heavy-for-one ");
  EXPECT_NEAR(site::floor_load_kN_m2(sound()), 80.0 * 9.81e-3 / 0.19, 1e-9);
}

}  // namespace

// SPDX-License-Identifier: Apache-2.0
#include "commission/sense.hpp"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include "base/input_error.hpp"

namespace {

std::string plug(const std::map<int, double>& instead = {}) {
  std::string text = "pack,pin,volts\n";
  for (int pin = 1; pin <= 16; ++pin)
    text += fmt::format("A,{},{}\n", pin, instead.contains(pin) ? instead.at(pin) : 3.31 * pin);
  return text;
}
std::string found(const std::map<int, double>& instead) {
  std::string ids;
  for (const auto& f :
       commission::check_sense(0, 16, commission::read_sense(plug(instead), 2, 16)).findings)
    ids += std::string(findings::word(f.id)) + " ";
  return ids;
}

TEST(SensePlug, is_right_where_every_step_is_a_group) {
  const auto t = commission::check_sense(0, 16, commission::read_sense(plug(), 2, 16));
  EXPECT_TRUE(t.complete && t.right);
  EXPECT_EQ(t.pins.size(), 17u);
  EXPECT_NEAR(t.pins[16].expected_V, 52.96, 1e-9);
  EXPECT_EQ(t.pins[7].verdict, "right");
}

TEST(SensePlug, names_each_mistake_that_kills_a_bms) {
  // Two wires exchanged: one step falls, its neighbours are two groups.
  EXPECT_NE(
      found({{7, 3.31 * 8}, {8, 3.31 * 7}}).find(findings::word(findings::Id::sense_reversed)),
      std::string::npos);
  EXPECT_NE(found({{5, -3.31 * 5}}).find(findings::word(findings::Id::sense_reversed)),
            std::string::npos);  // a minus overlooked
  EXPECT_EQ(found({{7, 3.31 * 6}}), "sense-doubled sense-skips ");
  std::map<int, double> shifted;  // off by one from pin 9 on
  for (int pin = 9; pin <= 16; ++pin) shifted[pin] = 3.31 * (pin - 1);
  EXPECT_EQ(found(shifted), "sense-doubled ");
  EXPECT_EQ(found({{4, 3.31 * 4 + 0.2}}), "sense-odd sense-odd ");
  // One group that counts down between groups that count up stands the wrong way round.
  std::map<int, double> turned;
  for (int pin = 5; pin <= 16; ++pin) turned[pin] = 3.31 * (pin - 2);
  EXPECT_EQ(found(turned), "cell-reversed ");
  // Without its neighbour a reading is held against its place.
  EXPECT_EQ(commission::check_sense(
                0, 16, commission::read_sense("pack,pin,volts\nA,16,20\nA,14,-60\n", 2, 16))
                .findings.front()
                .id,
            findings::Id::sense_wrong_pin);
  // A pin that was not read is not complete, and not right.
  std::string text = plug();
  text.erase(text.find("A,9,"), text.find("A,10,") - text.find("A,9,"));
  const auto t = commission::check_sense(0, 16, commission::read_sense(text, 2, 16));
  EXPECT_FALSE(t.complete || t.right);
  for (const char* row : {"C,1,3.3", "A,17,3.3", "A,1.5,3.3", "A,1,", "A,1,3.3\nA,1,3.3"})
    EXPECT_THROW((void)commission::read_sense(std::string("pack,pin,volts\n") + row + "\n", 2, 16),
                 base::InputError)
        << row;
}

}  // namespace

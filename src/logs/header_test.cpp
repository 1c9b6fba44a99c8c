// SPDX-License-Identifier: Apache-2.0
#include "logs/header.hpp"

#include <gtest/gtest.h>

#include "base/encoding.hpp"

namespace {

using logs::Meaning;

struct Row {
  const char* header;
  Meaning meaning;
  const char* unit;
  double scale;
};

TEST(ReadHeaderField, knows_words_and_units_of_several_languages) {
  for (const Row& row : {Row{"time_s", Meaning::time, "s", 1},
                         Row{"Elapsed, s", Meaning::time, "s", 1},
                         Row{"Zeit [min]", Meaning::time, "min", 60},
                         Row{"epoch_ms", Meaning::time, "ms", 1e-3},
                         Row{"Step Time", Meaning::step_time, "", 1},
                         Row{"Spannung [mV]", Meaning::voltage, "mV", 1e-3},
                         Row{"Voltage(V)", Meaning::voltage, "V", 1},
                         Row{"U_V", Meaning::voltage, "V", 1},
                         Row{"volts", Meaning::voltage, "V", 1},
                         Row{"Tension (V)", Meaning::voltage, "V", 1},
                         Row{"Strom [mA]", Meaning::current, "mA", 1e-3},
                         Row{"I_A", Meaning::current, "A", 1},
                         Row{"Courant A", Meaning::current, "A", 1},
                         Row{"amps", Meaning::current, "A", 1},
                         Row{"Kapazität [mAh]", Meaning::capacity, "mAh", 1e-3},
                         Row{"discharge_Ah", Meaning::capacity, "Ah", 1},
                         Row{"Energy (Wh)", Meaning::energy, "Wh", 1},
                         Row{"Temp(0.1C)", Meaning::temperature, "C", 0.1},
                         Row{"T_K", Meaning::temperature, "K", 1},
                         Row{"degC", Meaning::temperature, "C", 1},
                         Row{"state", Meaning::state, "", 1},
                         Row{"Remark", Meaning::other, "", 1},
                         Row{"Record", Meaning::record, "", 1},
                         Row{"Date", Meaning::date, "", 1}}) {
    const logs::HeaderField field = logs::read_header_field(row.header);
    EXPECT_EQ(field.meaning, row.meaning)
        << row.header << " was taken for " << logs::name(field.meaning);
    EXPECT_EQ(field.unit, row.unit) << row.header;
    EXPECT_DOUBLE_EQ(field.scale, row.scale) << row.header;
  }
  EXPECT_TRUE(logs::read_header_field("temp_air_C").room);
  EXPECT_TRUE(logs::read_header_field("Set Current (A)").target);
}

TEST(Decode, brings_other_encodings_to_utf_8) {
  EXPECT_EQ(base::to_utf8("Kapazit\xE4t"), "Kapazität");
  EXPECT_EQ(base::to_utf8("Kapazität"), "Kapazität");
  EXPECT_EQ(base::Decoder().decode("\xEF\xBB\xBF"
                                   "a"),
            "a");
  EXPECT_EQ(base::Decoder().decode(std::string("\xFE\xFF\0V\0\xE4", 6)), "Vä");
}

}  // namespace

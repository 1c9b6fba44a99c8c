// SPDX-License-Identifier: Apache-2.0
#include "logs/flow_words.hpp"

#include <gtest/gtest.h>

namespace {

using logs::Flow;

TEST(FlowWords, are_known_in_six_languages_and_in_the_trades_abbreviations) {
  for (const char* word : {"Charge", "CC Chg", "CHARGING", "Laden", "Ladung", "Opladen", "charge",
                           "Carga", "Carica", "CCCV", "cha"})
    EXPECT_EQ(logs::flow_of(word), Flow::charge) << word;
  for (const char* word : {"Discharge", "CC DChg", "DIS", "Entladen", "Entladung", "Ontladen",
                           "d\xC3\xA9"
                           "charge",
                           "Descarga", "Scarica", "DSG", "step 3: DCH"})
    EXPECT_EQ(logs::flow_of(word), Flow::discharge) << word;
  for (const char* word : {"Rest", "REST 2", "Pause", "Ruhe", "Rust", "Repos", "Reposo", "Riposo"})
    EXPECT_EQ(logs::flow_of(word), Flow::rest) << word;
}

TEST(FlowWords, say_nothing_where_they_say_nothing) {
  for (const char* word : {"CC", "CV", "1", "", "Pulse", "Changed the lead", "ladder", "display"})
    EXPECT_EQ(logs::flow_of(word), Flow::unknown) << word;
}

}  // namespace

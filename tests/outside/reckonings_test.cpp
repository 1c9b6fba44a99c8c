// SPDX-License-Identifier: Apache-2.0
// Every reckoning against figures that others published. Beside each row stands where the figure is
// from; the tolerance is half a unit of the last printed digit unless the row says otherwise.
#include "works/reckonings.hpp"

#include <set>

#include <gtest/gtest.h>

namespace {

struct Published {
  const char* source;
  const char* name;
  std::vector<std::string> arguments;
  const char* output;
  double expected, tolerance;
};

const std::vector<Published>& published() {
  static const std::vector<Published> rows = {
      // Conductors
      {"IEC 60228 table 3, 70 mm2 class 5: 0.272 ohm/km at 20 C",
       "conductor-resistance",
       {"area_mm2=70", "class=5", "length_m=1000", "temperature_C=20"},
       "resistance_mOhm",
       272.0,
       0.5},
      {"IEC 60228 table 2, 50 mm2 class 2: 0.387 ohm/km",
       "conductor-resistance",
       {"area=50mm2", "class=2", "length=1000m"},
       "resistance_mOhm",
       387.0,
       0.5},
      {"IEC 60228 table 3, 50 mm2 class 5: 0.386, the one size below class 2",
       "conductor-resistance",
       {"area=50mm2", "length=1000m"},
       "resistance_mOhm",
       386.0,
       0.5},
      {"IEC 60228 table 2, aluminium 95 mm2: 0.320 ohm/km",
       "conductor-resistance",
       {"material=aluminium", "area=95mm2", "length=1000m"},
       "resistance_mOhm",
       320.0,
       0.5},
      {"published wire table, 2/0: 0.000256 ohm/m",
       "conductor-resistance",
       {"awg=2/0", "length=1m"},
       "resistance_mOhm",
       0.256,
       0.0006},
      {"published wire table, 10: 0.00328 ohm/m",
       "conductor-resistance",
       {"awg=10", "length=1m"},
       "resistance_mOhm",
       3.28,
       0.006},
      {"NEC chapter 9 table 8, 4/0 stranded at 75 C: 0.199 ohm/km; solid wire is 2 % below",
       "conductor-resistance",
       {"awg=4/0", "length=1000m", "temperature=75C"},
       "resistance_mOhm",
       199.0 / 1.02,
       1.0},
      {"contract: 70 mm2 class 5, 3 m, 70 C",
       "conductor-resistance",
       {"area=70mm2", "class=5", "length=350cm", "temperature=70C"},
       "resistance_mOhm",
       0.9764 * 3.5 / 3.0,
       0.0002},
      {"contract: 70 mm2, 2 m, 200 A, 70 C",
       "voltage-drop",
       {"area=70mm2", "class=5", "length=2m", "current=200A", "temperature=70C", "system=51.2V"},
       "drop_V",
       0.2603,
       0.0001},
      {"contract, the loss of that run",
       "voltage-drop",
       {"area=70mm2", "class=5", "length=2m", "current=200A", "temperature=70C", "system=51.2V"},
       "loss_W",
       52.1,
       0.05},
      {"published example, 100 ft of 16 gauge, 4 A: 3.992 V from 4.99 ohm/1000 ft of stranded wire "
       "at 75 C; solid is 2 % below",
       "voltage-drop",
       {"awg=16", "length=100ft", "current=4A", "temperature=75C", "system=24V"},
       "drop_V",
       3.992,
       0.1},
      {"IEC 60364-5-52 B.52.12 times B.52.14 and B.52.17: 310 x 0.91 x 0.88",
       "ampacity",
       {"insulation=xlpe", "method=F", "area=70mm2", "ambient=40C", "circuits=2", "grouping=tray"},
       "current_A",
       248.2,
       0.1},
      {"IEC 60364-5-52 B.52.2, PVC method C 25 mm2",
       "ampacity",
       {"insulation=pvc", "method=C", "area=25mm2"},
       "current_A",
       112.0,
       0.01},
      {"IEC 60364-5-52 worked factor, XLPE at 50 C: 0.82",
       "ampacity",
       {"insulation=xlpe", "method=F", "area=95mm2", "ambient=50C"},
       "ambient_factor",
       0.82,
       0.005},
      {"closed form sqrt((90 - 45)/(90 - 30)) of the same factor, within its rounding",
       "ampacity",
       {"insulation=xlpe", "method=F", "area=95mm2", "ambient=45C"},
       "ambient_factor",
       0.866,
       0.011},
      {"Linsley, Basic Electrical Installation Work, p. 251",
       "adiabatic",
       {"fault_current=200A", "time=0.4s", "k=115"},
       "area_mm2",
       1.10,
       0.005},
      {"the same page, 90 A; the book truncates 0.495",
       "adiabatic",
       {"fault_current=90A", "time=0.4s", "k=115"},
       "area_mm2",
       0.495,
       0.001},
      {"IEC 60364-5-54 table A.54.4, copper PVC 70/160: 115",
       "k-factor",
       {"material=copper", "initial=70C", "final=160C"},
       "k",
       115.0,
       0.5},
      {"IEC 60364-5-54, copper XLPE 90/250: 143",
       "k-factor",
       {"initial=90C", "final=250C"},
       "k",
       143.0,
       0.5},
      {"IEC 60364-5-54, aluminium PVC 70/160: 76",
       "k-factor",
       {"material=aluminium", "initial=70C", "final=160C"},
       "k",
       76.0,
       0.5},
      {"IEC 60364-5-54, aluminium XLPE 90/250: 94, recomputed 94.6",
       "k-factor",
       {"material=aluminium", "initial=90C", "final=250C"},
       "k",
       94.0,
       0.7},
      {"IEC 60364-5-54 A.54.2, copper separate 30/250: 176",
       "k-factor",
       {"initial=30C", "final=250C"},
       "k",
       176.0,
       0.5},
      // Faults
      {"worked: six 6 V units as 2s3p, 2400 A each, 7200 A together",
       "fault-current",
       {"open_circuit=12V", "resistance=5mOhm", "packs=3"},
       "current_A",
       7200.0,
       0.01},
      {"contract: 53.28 V over 7.066 mOhm",
       "fault-current",
       {"open_circuit=53.28V", "resistance=7.066mOhm"},
       "current_A",
       7540.0,
       0.5},
      {"published precharge example, 800 V, 1 mF, 47 ohm: 17.0 A",
       "precharge",
       {"voltage=800V", "capacitance=1mF", "resistance=47Ohm"},
       "peak_current_A",
       17.0,
       0.05},
      {"the same: 13617 W",
       "precharge",
       {"voltage=800V", "capacitance=1mF", "resistance=47Ohm"},
       "peak_power_W",
       13617.0,
       0.5},
      {"the same: 320 J",
       "precharge",
       {"voltage=800V", "capacitance=1mF", "resistance=47Ohm"},
       "energy_J",
       320.0,
       0.5},
      {"the same: five time constants are 0.235 s",
       "precharge",
       {"voltage=800V", "capacitance=1mF", "resistance=47Ohm"},
       "time_s",
       0.235,
       0.0005},
      {"textbook: 4.6 time constants to 99 %",
       "precharge",
       {"voltage=1V", "capacitance=1mF", "resistance=1000Ohm", "target=99%"},
       "time_s",
       4.605,
       0.001},
      {"Ohm's law, hand example of the trade: 0.5 V over 4 mOhm",
       "joining-current",
       {"difference=0.5V", "path=4mOhm"},
       "current_A",
       125.0,
       0.001},
      // Cells
      {"open data of Sunil et al., at half charge",
       "open-circuit-voltage",
       {"state_of_charge=0.5"},
       "voltage_V",
       3.2991,
       0.00005},
      {"the same at 80 %",
       "open-circuit-voltage",
       {"state_of_charge=0.8"},
       "voltage_V",
       3.3371,
       0.00005},
      {"the same at 12.5 % by a smooth fit to the data (rms 2.5 mV)",
       "open-circuit-voltage",
       {"state_of_charge=0.30"},
       "voltage_V",
       3.2793,
       0.003},
      {"from the raw data: 5 mV at half charge allows 39 to 62 %",
       "charge-from-rest",
       {"voltage=3.2991V", "half_width=5mV"},
       "lowest",
       0.39,
       0.01},
      {"the same, upper end",
       "charge-from-rest",
       {"voltage=3.2991V", "half_width=5mV"},
       "highest",
       0.62,
       0.01},
      {"from the raw data: at 85 % it allows 76 to 97 %",
       "charge-from-rest",
       {"voltage=3.3393V", "half_width=5mV"},
       "lowest",
       0.76,
       0.01},
      {"the same, upper end",
       "charge-from-rest",
       {"voltage=3.3393V", "half_width=5mV"},
       "highest",
       0.97,
       0.01},
      {"Bernardi's terms for 0.5 C on 0.5 mOhm",
       "cell-heat",
       {"current=115A", "resistance=0.5mOhm", "entropic=-0.30", "temperature=25C"},
       "joule_W",
       6.6125,
       0.00005},
      {"the reversible one",
       "cell-heat",
       {"current=115A", "resistance=0.5mOhm", "entropic=-0.30", "temperature=25C"},
       "reversible_W",
       10.286,
       0.0005},
      // Ageing: computed by others from the papers' published parameters
      {"Naumann 2018, 25 C, 0.5, one year",
       "calendar-loss",
       {"days=365.25"},
       "capacity_loss_percent",
       4.2530,
       0.0005},
      {"Naumann 2018, 40 C, 1.0, 885 days",
       "calendar-loss",
       {"temperature=40C", "state_of_charge=1", "days=885"},
       "capacity_loss_percent",
       14.6836,
       0.001},
      {"Naumann 2018, 10 C, 0.3, ten years",
       "calendar-loss",
       {"temperature=10C", "state_of_charge=0.3", "days=3652.5"},
       "capacity_loss_percent",
       8.9732,
       0.001},
      {"Schimpe 2018, 25 C, 0.5, one year",
       "calendar-loss",
       {"law=schimpe-2018", "days=365.25"},
       "capacity_loss_percent",
       3.9340,
       0.001},
      {"Schimpe 2018, 45 C, 1.0, one year",
       "calendar-loss",
       {"law=schimpe-2018", "temperature=45C", "state_of_charge=1", "days=365.25"},
       "capacity_loss_percent",
       10.9063,
       0.002},
      {"Naumann 2020, 0.5 C, full depth, 1000",
       "cycle-loss",
       {"c_rate=0.5", "depth=1", "full_cycles=1000"},
       "capacity_loss_percent",
       5.4897,
       0.0005},
      {"Naumann 2020, 1 C, 0.2 deep, 5000",
       "cycle-loss",
       {"c_rate=1", "depth=0.2", "full_cycles=5000"},
       "capacity_loss_percent",
       9.4492,
       0.0005},
      {"Wang 2011, C/2, 25 C, 4400 Ah of 2.2 Ah cells",
       "cycle-loss",
       {"law=wang-2011", "c_rate=0.5", "depth=1", "full_cycles=2000", "temperature=25C"},
       "capacity_loss_percent",
       9.6057,
       0.002},
      {"Wang 2011, 6 C, 45 C, 2200 Ah",
       "cycle-loss",
       {"law=wang-2011", "c_rate=6", "depth=1", "full_cycles=1000", "temperature=45C"},
       "capacity_loss_percent",
       12.8851,
       0.003},
      {"Schimpe 2018, 25 C, 1 C, 1000 full cycles",
       "cycle-loss",
       {"law=schimpe-2018", "c_rate=1", "depth=1", "full_cycles=1000", "temperature=25C"},
       "capacity_loss_percent",
       3.4333,
       0.001},
      {"Schimpe 2018, 10 C, 1 C, 500 full cycles",
       "cycle-loss",
       {"law=schimpe-2018", "c_rate=1", "depth=1", "full_cycles=500", "temperature=10C"},
       "capacity_loss_percent",
       13.4588,
       0.005},
      {"Schimpe 2018, 5 C, 0.25 C, 3650 cycles of 10 to 90 %",
       "cycle-loss",
       {"law=schimpe-2018", "c_rate=0.25", "depth=0.8", "full_cycles=2920", "temperature=5C"},
       "capacity_loss_percent",
       3.7698,
       0.002},
      {"rainflow of a charge history: full cycles are half the throughput, 2.8/2",
       "cycle-count",
       {"values=0.5,0.9,0.4,0.7,0.6,1.0,0.2,0.5"},
       "range_sum",
       1.40,
       1e-9},
      // Statistics
      {"Harter's table, n = 16: 1.7660",
       "string-weakest",
       {"cells=16", "mean=100Ah", "sd=1Ah"},
       "expected_min_Ah",
       98.2340,
       0.00005},
      {"Harter's table, n = 2: 0.5642",
       "string-weakest",
       {"cells=2", "mean=0Ah", "sd=1Ah"},
       "expected_min_Ah",
       -0.5642,
       0.00005},
      {"Harter's table, n = 8: 1.4236",
       "string-weakest",
       {"cells=8", "mean=0Ah", "sd=1Ah"},
       "expected_min_Ah",
       -1.4236,
       0.00005},
      {"GUM worked budget",
       "capacity-uncertainty",
       {"current=46.10A", "hours=5.030"},
       "capacity_Ah",
       232.347,
       0.0005},
      {"GUM worked budget",
       "capacity-uncertainty",
       {"current=46.10A", "hours=5.030"},
       "u_Ah",
       0.846,
       0.0005},
      {"GUM worked budget, k = 2",
       "capacity-uncertainty",
       {"current=46.10A", "hours=5.030"},
       "U95_Ah",
       1.69,
       0.005},
      {"standard normal table: Phi(1.645) = 0.9500",
       "guard-band",
       {"value=1.645", "u=1", "limit=0"},
       "probability_conforming",
       0.9500,
       0.00005},
      {"standard normal table: Phi(-1.96) = 0.0250",
       "guard-band",
       {"value=1.96", "u=1", "limit=0", "side=upper"},
       "probability_conforming",
       0.0250,
       0.00005},
      {"NIST e-Handbook 1.3.5.17.1, G",
       "outliers",
       {"values=199.31,199.53,200.19,200.82,201.92,201.95,202.18,245.57", "test=grubbs",
        "side=max"},
       "statistic",
       2.4687,
       0.0001},
      {"NIST e-Handbook, critical value one-sided",
       "outliers",
       {"values=199.31,199.53,200.19,200.82,201.92,201.95,202.18,245.57", "test=grubbs",
        "side=max"},
       "critical",
       2.032,
       0.0005},
      {"Grubbs' table, n = 8, two-sided 5 %",
       "outliers",
       {"values=199.31,199.53,200.19,200.82,201.92,201.95,202.18,245.57", "test=grubbs"},
       "critical",
       2.1266,
       0.00005},
      {"modified z-score of the handbook's data",
       "outliers",
       {"values=199.31,199.53,200.19,200.82,201.92,201.95,202.18,245.57", "test=mad"},
       "statistic",
       29.963,
       0.0005},
      {"binomial table, 16 of 19 at 0.95",
       "spares",
       {"needed=16", "reject=5", "confidence=95"},
       "odds_percent",
       98.6764,
       0.0001},
      {"binomial table, 32 good of 3 % rejects at 95 %",
       "spares",
       {"needed=32", "reject=3", "confidence=95"},
       "order",
       35.0,
       0.0},
      {"binomial table, 96 good of 10 % rejects at 99 %",
       "spares",
       {"needed=96", "reject=10", "confidence=99"},
       "order",
       116.0,
       0.0},
      // Money
      {"published example: 1000 + 100 + 50, duty 20 %, tax 18 %",
       "landed-cost",
       {"unit_price=1000", "freight=100", "insurance=50", "duty=20", "vat=18"},
       "total",
       1628.40,
       0.005},
      {"published example: 10000 + 1000 + 200, same rates",
       "landed-cost",
       {"unit_price=10000", "freight=1000", "insurance=200", "duty=20", "vat=18"},
       "total",
       15859.20,
       0.005},
      {"documentation of a public numerics library",
       "internal-rate",
       {"flows=-100,39,59,55,20"},
       "rate_percent",
       28.09484211599611,
       1e-9},
      {"the same library's financial successor",
       "internal-rate",
       {"flows=-250000,100000,150000,200000,250000,300000"},
       "rate_percent",
       56.72303344358536,
       1e-9},
      {"NIST Handbook 135: uniform present value, 3 %, 20 years: 14.88",
       "present-value",
       {"rate=3", "flows=0,1,1,1,1,1,1,1,1,1,1,1,1,1,1,1,1,1,1,1,1"},
       "present_value",
       14.88,
       0.005},
      {"published levelised cost, lithium-ion: 76 $/MWh",
       "storage-cost",
       {"capital=9.66e9", "usable=42e6kWh", "full_cycles_per_year=365", "years=20",
        "rate=5.88235294", "round_trip=95", "energy_price=0.012", "upkeep_per_year=59985000",
        "fade_percent_per_year=1"},
       "per_kWh",
       0.076,
       0.0005},
      {"the same for a flow battery: 58 $/MWh",
       "storage-cost",
       {"capital=6.165e9", "usable=42e6kWh", "full_cycles_per_year=365", "years=25",
        "rate=5.88235294", "round_trip=65", "energy_price=0.012", "upkeep_per_year=123300000"},
       "per_kWh",
       0.058,
       0.0005},
      // Sun
      {"NREL/TP-560-34302 A.5",
       "sun-position",
       {"utc=2003-10-17T19:30:30Z", "latitude=39.742476", "longitude=-105.1786",
        "elevation=1830.14m", "pressure=820mbar", "air=11C"},
       "zenith_deg",
       50.11162,
       0.01},
      {"NREL/TP-560-34302 A.5",
       "sun-position",
       {"utc=2003-10-17T12:30:30-07:00", "latitude=39.742476", "longitude=-105.1786",
        "elevation=1830.14m", "pressure=820mbar", "air=11C"},
       "azimuth_deg",
       194.34024,
       0.01},
      {"PSA 2020 without refraction, 52 N 10 E",
       "sun-position",
       {"utc=2025-06-21T12:00:00Z", "latitude=52", "longitude=10", "pressure=0mbar"},
       "zenith_deg",
       29.484422,
       0.0001},
      // Bank and box
      {"hand example: 2400 W from one cell",
       "bank-figures",
       {"power=2400W"},
       "current_A",
       750.0,
       1e-9},
      {"hand example: the same from sixteen",
       "bank-figures",
       {"series=16", "power=2400W"},
       "current_A",
       46.875,
       1e-9},
      {"trade example: 16 cells of 230 Ah are about 11.8 kWh",
       "bank-figures",
       {"series=16", "capacity=230Ah"},
       "energy_kWh",
       11.8,
       0.05},
      {"trade example: 16 of 230 Ah, 70 % missing, 10 A",
       "top-balance-time",
       {"cells=16", "capacity=230Ah", "missing=70", "supply=10A"},
       "hours",
       257.6,
       0.05},
      {"trade example: 300 kgf on 174 x 207 mm are 11.86 psi",
       "clamping",
       {"face_width=174mm", "face_height=207mm", "force_kgf=300"},
       "pressure_kPa",
       11.86 * 6.894757,
       0.1},
      {"trade example: 1.18 N.m on each of four M8",
       "clamping",
       {"face_width=174mm", "face_height=207mm", "force_kgf=300", "rod=M8"},
       "torque_Nm",
       1.18,
       0.005},
  };
  return rows;
}

TEST(Reckonings, agree_with_published_figures) {
  for (const Published& row : published()) {
    const base::Reckoning* reckoning = works::find_reckoning(row.name);
    ASSERT_NE(reckoning, nullptr) << row.name;
    const base::Json answer = base::run_to_json(
        *reckoning, base::read_arguments(*reckoning, std::span<const std::string>(row.arguments)));
    EXPECT_NEAR(answer["outputs"][row.output].get<double>(), row.expected, row.tolerance)
        << row.name << " against: " << row.source;
  }
}

TEST(Reckonings, have_each_at_least_one_published_check) {
  std::set<std::string> checked = {"pack-sharing", "cycle-count"};  // lists, checked below
  for (const Published& row : published()) checked.insert(row.name);
  for (const base::Reckoning& r : works::reckonings())
    EXPECT_TRUE(checked.contains(std::string(r.name))) << r.name;
}

std::vector<double> list_of(const char* name, std::vector<std::string> arguments,
                            const char* output) {
  const base::Reckoning* r = works::find_reckoning(name);
  return base::run_to_json(*r, base::read_arguments(
                                   *r, std::span<const std::string>(arguments)))["outputs"][output]
      .get<std::vector<double>>();
}

// A charger maker's instruction sheet prints 17.95, 13.1, 10.2, 8.9 A for four batteries in a row
// at 50 A; link over pack resistance was fitted once (0.0754) and reproduces all four within 0.03 A
// (the sheet's figures add up to 50.15 A).
TEST(PackSharing, reproduces_a_makers_sheet_for_four_in_a_row) {
  const auto currents =
      list_of("pack-sharing",
              {"packs=4", "pack=10mOhm", "link=0.754mOhm", "take_off=same-end", "current=50.15A"},
              "currents_A");
  const double printed[] = {17.95, 13.1, 10.2, 8.9};
  for (std::size_t i = 0; i < 4; ++i) EXPECT_NEAR(currents[i], printed[i], 0.03);
}

// Solved by others with a circuit simulator (ngspice 39), to five decimals.
TEST(PackSharing, agrees_with_a_circuit_simulator) {
  const auto row =
      list_of("pack-sharing",
              {"packs=4", "pack=10mOhm", "link=0.25mOhm", "take_off=same-end", "current=200A"},
              "currents_A");
  const double same_end[] = {58.14346, 51.05064, 46.51034, 44.29556};
  const auto cross =
      list_of("pack-sharing",
              {"packs=4", "pack=10mOhm", "link=0.25mOhm", "take_off=diagonal", "current=200A"},
              "currents_A");
  const double diagonal[] = {51.21951, 48.78049, 48.78049, 51.21951};
  for (std::size_t i = 0; i < 4; ++i) {
    EXPECT_NEAR(row[i], same_end[i], 1e-5);
    EXPECT_NEAR(cross[i], diagonal[i], 1e-5);
  }
}

// An engineer's published figures for 1 mOhm packs and links: 73/20/5/2 % and 37.5/12.5/12.5/37.5
// A.
TEST(PackSharing, agrees_with_an_engineers_published_figures) {
  const auto row = list_of(
      "pack-sharing", {"packs=4", "pack=1mOhm", "link=1mOhm", "take_off=same-end", "current=100A"},
      "currents_A");
  const double same_end[] = {73.2, 19.6, 5.4, 1.8};
  const auto cross = list_of(
      "pack-sharing", {"packs=4", "pack=1mOhm", "link=1mOhm", "take_off=diagonal", "current=100A"},
      "currents_A");
  const double diagonal[] = {37.5, 12.5, 12.5, 37.5};
  for (std::size_t i = 0; i < 4; ++i) {
    EXPECT_NEAR(row[i], same_end[i], 0.05);
    EXPECT_NEAR(cross[i], diagonal[i], 1e-9);
  }
}

// ASTM E1049-85, 5.4.4, the standard's own history: ranges 3:0.5, 4:1.5, 6:0.5, 8:1.0, 9:0.5.
TEST(CycleCount, counts_the_standards_history) {
  const base::Reckoning* r = works::find_reckoning("cycle-count");
  const std::vector<std::string> typed = {"values=-2,1,-3,5,-1,3,-4,4,-2"};
  std::map<double, double> counted;
  const base::Json answer =
      base::run_to_json(*r, base::read_arguments(*r, std::span<const std::string>(typed)));
  for (const auto& c : answer["outputs"]["cycles"]) counted[c[0]] += c[2].get<double>();
  const std::map<double, double> expected = {{3, 0.5}, {4, 1.5}, {6, 0.5}, {8, 1.0}, {9, 0.5}};
  EXPECT_EQ(counted, expected);
}

// Extra cells for 90/95/99 % odds: a table computed by others from the binomial distribution.
TEST(Spares, agree_with_a_table_of_extra_cells) {
  struct Row {
    int needed;
    double reject;
    int extra[3];
  };
  for (const Row& row :
       {Row{4, 1, {0, 0, 1}}, Row{8, 5, {1, 2, 3}}, Row{16, 2, {1, 1, 2}}, Row{32, 5, {3, 4, 5}},
        Row{64, 3, {4, 5, 6}}, Row{128, 10, {19, 21, 24}}}) {
    const double odds[] = {90, 95, 99};
    for (int i = 0; i < 3; ++i) {
      const base::Figure f = works::reckon(
          "spares",
          {{"needed", row.needed}, {"reject_percent", row.reject}, {"confidence_percent", odds[i]}},
          "order");
      EXPECT_EQ(f.value, row.needed + row.extra[i])
          << row.needed << " at " << row.reject << " % for " << odds[i] << " %";
    }
  }
}

}  // namespace

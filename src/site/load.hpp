// SPDX-License-Identifier: Apache-2.0
// What a house uses where nobody measured it: a standard profile, made as jumpy as one household
// is.
#pragma once

#include "site/year.hpp"

namespace site {

struct House {
  double annual_kWh = 4000.0;
  double peaky = 1.0;  ///< 0: smooth as the mean of many homes; 1: as one household (an assumption)
  unsigned seed = 1;
  double car_kWh = 0.0;  ///< a year, at home, on arrival
  double car_kW = 11.0;
  double heat_kWh = 0.0;  ///< a year, of heat, by a heat pump
  double heat_limit_C = 15.0, flow_C = 38.0;
  /// On workdays from 8 to 16 h by so much more, 1 doubles, −1 leaves nothing: who is at home. The
  /// day keeps its energy (an assumption).
  double at_home = 0.0;
};

/// Mean of many households over a step, W for each 1000 kWh a year: hourly values of the standard
/// profile of 1999 with its day factor. [VDEW1999] `day_type` 0 workday, 1 Saturday, 2 Sunday or
/// holiday.
[[nodiscard]] double standard_profile_W(int month, int day, int day_of_year, int day_type,
                                        double hour);
/// F(t) = −3.92e−10 t⁴ + 3.2e−7 t³ − 7.02e−5 t² + 2.1e−3 t + 1.24. [VDEW1999]
[[nodiscard]] double day_factor(int day_of_year);
/// Coefficient of performance of an air-source heat pump by the lift, 15 to 60 K. [Staffell2012]
[[nodiscard]] double air_heat_pump_cop(double lift_K);

/// Fills the year's load: the profile scaled to the year's sum, its days' energies kept and cut
/// into appliances' pulses (seeded), a car on arrival, a heat pump by the air's temperature (one
/// value a day; may be empty without a heat pump). No holidays but Sundays.
void put_load(Year& year, const House& house, const std::vector<double>& daily_air_C = {});

}  // namespace site

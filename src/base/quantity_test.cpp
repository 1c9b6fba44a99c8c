// SPDX-License-Identifier: Apache-2.0
#include "base/quantity.hpp"

#include <concepts>
#include <type_traits>

#include <gtest/gtest.h>

namespace {

using namespace base;  // what is under test

template <class A, class B>
concept addable = requires(A a, B b) {
  a + b;
};

// What must not compile does not.
static_assert(addable<Volts, Volts>);
static_assert(!addable<Volts, Amps>);
static_assert(!addable<WattHours, Watts>);
static_assert(!addable<Money, WattHours>);
static_assert(!addable<Temperature, Temperature>);
static_assert(!std::convertible_to<double, Volts> && !std::convertible_to<Volts, double>);
static_assert(std::same_as<decltype(Volts() * Amps()), Watts>);
static_assert(std::same_as<decltype(Volts() / Amps()), Ohms>);
static_assert(std::same_as<decltype(AmpHours() * Volts()), WattHours>);
static_assert(std::same_as<decltype(Ohms() * Farads()), Seconds>);
static_assert(std::same_as<decltype(Volts() / Volts()), double>);
static_assert(sizeof(Volts) == sizeof(double));

TEST(Quantity, names_a_unit_to_get_in_and_out) {
  EXPECT_DOUBLE_EQ((230.0 * units::Ah * (3.2 * units::V)).in(units::Wh), 736.0);
  EXPECT_DOUBLE_EQ((0.5 * units::V / (4.0 * units::mOhm)).in(units::A), 125.0);
  EXPECT_DOUBLE_EQ((2.5 * units::kWh).in(units::Wh), 2500.0);
}

TEST(Temperature, is_a_point_whose_difference_is_in_kelvin) {
  EXPECT_DOUBLE_EQ((Temperature::from_C(25.0) - Temperature::from_C(20.0)).in(units::K), 5.0);
  EXPECT_DOUBLE_EQ((Temperature::from_C(20.0) + 5.0 * units::K).in_C(), 25.0);
}

}  // namespace

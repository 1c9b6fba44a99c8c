// SPDX-License-Identifier: Apache-2.0
// Quantities: a number that knows its dimension. Coherent SI inside; a unit is named to get in or
// out.
#pragma once

#include <compare>

namespace base {

/// Exponents of the SI base units that this trade needs, and of money (a currency is one of the
/// project's inputs, so money never mixes with anything else by accident).
template <int Kg, int M, int S, int A, int K, int Money = 0>
struct Dimension {};

/// A number with a dimension. Use: `auto e = 2.5 * units::kWh; double shown = e.in(units::Wh);`
/// Sums need equal dimensions, products and quotients make new ones; what does not fit does not
/// compile.
template <class D>
class [[nodiscard]] Quantity {
 public:
  constexpr Quantity() = default;
  static constexpr Quantity from_si(double value) { return Quantity(value); }
  /// The bare number, in the unit named.
  [[nodiscard]] constexpr double in(Quantity unit) const { return si_ / unit.si_; }
  [[nodiscard]] constexpr double si() const { return si_; }

  constexpr Quantity& operator+=(Quantity other) { return si_ += other.si_, *this; }
  constexpr Quantity& operator-=(Quantity other) { return si_ -= other.si_, *this; }
  constexpr Quantity& operator*=(double factor) { return si_ *= factor, *this; }
  friend constexpr Quantity operator+(Quantity a, Quantity b) { return Quantity(a.si_ + b.si_); }
  friend constexpr Quantity operator-(Quantity a, Quantity b) { return Quantity(a.si_ - b.si_); }
  friend constexpr Quantity operator-(Quantity a) { return Quantity(-a.si_); }
  friend constexpr Quantity operator*(Quantity a, double b) { return Quantity(a.si_ * b); }
  friend constexpr Quantity operator*(double a, Quantity b) { return Quantity(a * b.si_); }
  friend constexpr Quantity operator/(Quantity a, double b) { return Quantity(a.si_ / b); }
  friend constexpr double operator/(Quantity a, Quantity b) { return a.si_ / b.si_; }
  friend constexpr auto operator<=>(Quantity, Quantity) = default;

 private:
  explicit constexpr Quantity(double si) : si_(si) {}
  double si_ = 0.0;
};

template <int A, int B, int C, int D, int E, int F, int G, int H, int I, int J, int K, int L>
constexpr auto operator*(Quantity<Dimension<A, B, C, D, E, F>> x,
                         Quantity<Dimension<G, H, I, J, K, L>> y) {
  if constexpr (A + G == 0 && B + H == 0 && C + I == 0 && D + J == 0 && E + K == 0 && F + L == 0)
    return x.si() * y.si();
  else
    return Quantity<Dimension<A + G, B + H, C + I, D + J, E + K, F + L>>::from_si(x.si() * y.si());
}

template <int A, int B, int C, int D, int E, int F, int G, int H, int I, int J, int K, int L>
requires(A != G || B != H || C != I || D != J || E != K || F != L) constexpr auto operator/(
    Quantity<Dimension<A, B, C, D, E, F>> x, Quantity<Dimension<G, H, I, J, K, L>> y) {
  return Quantity<Dimension<A - G, B - H, C - I, D - J, E - K, F - L>>::from_si(x.si() / y.si());
}

using Metres = Quantity<Dimension<0, 1, 0, 0, 0>>;
using SquareMetres = Quantity<Dimension<0, 2, 0, 0, 0>>;
using Kilograms = Quantity<Dimension<1, 0, 0, 0, 0>>;
using Seconds = Quantity<Dimension<0, 0, 1, 0, 0>>;
using Newtons = Quantity<Dimension<1, 1, -2, 0, 0>>;
using Pascals = Quantity<Dimension<1, -1, -2, 0, 0>>;
using Amps = Quantity<Dimension<0, 0, 0, 1, 0>>;
using AmpHours = Quantity<Dimension<0, 0, 1, 1, 0>>;
using Volts = Quantity<Dimension<1, 2, -3, -1, 0>>;
using Ohms = Quantity<Dimension<1, 2, -3, -2, 0>>;
using OhmsPerMetre = Quantity<Dimension<1, 1, -3, -2, 0>>;
using Farads = Quantity<Dimension<-1, -2, 4, 2, 0>>;
using Watts = Quantity<Dimension<1, 2, -3, 0, 0>>;
using WattHours = Quantity<Dimension<1, 2, -2, 0, 0>>;
using Kelvin = Quantity<Dimension<0, 0, 0, 0, 1>>;  ///< a difference; a point is a Temperature
using VoltsPerKelvin = Quantity<Dimension<1, 2, -3, -1, -1>>;
using Money = Quantity<Dimension<0, 0, 0, 0, 0, 1>>;

/// A temperature as a point. The difference of two is in kelvin; two points do not add up.
class Temperature {
 public:
  static constexpr Temperature from_C(double celsius) { return Temperature(celsius + 273.15); }
  [[nodiscard]] constexpr double in_C() const { return kelvin_ - 273.15; }
  [[nodiscard]] constexpr double in_K() const { return kelvin_; }
  friend constexpr Kelvin operator-(Temperature a, Temperature b) {
    return Kelvin::from_si(a.kelvin_ - b.kelvin_);
  }
  friend constexpr Temperature operator+(Temperature a, Kelvin b) {
    return Temperature(a.kelvin_ + b.si());
  }
  friend constexpr auto operator<=>(Temperature, Temperature) = default;

 private:
  explicit constexpr Temperature(double kelvin) : kelvin_(kelvin) {}
  double kelvin_;
};

namespace units {
inline constexpr auto m = Metres::from_si(1.0);
inline constexpr auto mm = Metres::from_si(1e-3);
inline constexpr auto m2 = SquareMetres::from_si(1.0);
inline constexpr auto mm2 = SquareMetres::from_si(1e-6);
inline constexpr auto kg = Kilograms::from_si(1.0);
inline constexpr auto s = Seconds::from_si(1.0);
inline constexpr auto h = Seconds::from_si(3600.0);
inline constexpr auto day = Seconds::from_si(86400.0);
inline constexpr auto N = Newtons::from_si(1.0);
inline constexpr auto kPa = Pascals::from_si(1e3);
inline constexpr auto A = Amps::from_si(1.0);
inline constexpr auto mA = Amps::from_si(1e-3);
inline constexpr auto kA = Amps::from_si(1e3);
inline constexpr auto Ah = AmpHours::from_si(3600.0);
inline constexpr auto V = Volts::from_si(1.0);
inline constexpr auto mV = Volts::from_si(1e-3);
inline constexpr auto Ohm = Ohms::from_si(1.0);
inline constexpr auto mOhm = Ohms::from_si(1e-3);
inline constexpr auto mOhm_per_m = OhmsPerMetre::from_si(1e-3);
inline constexpr auto mF = Farads::from_si(1e-3);
inline constexpr auto W = Watts::from_si(1.0);
inline constexpr auto kW = Watts::from_si(1e3);
inline constexpr auto Wh = WattHours::from_si(3600.0);
inline constexpr auto kWh = WattHours::from_si(3.6e6);
inline constexpr auto K = Kelvin::from_si(1.0);
inline constexpr auto mV_per_K = VoltsPerKelvin::from_si(1e-3);
inline constexpr auto money = Money::from_si(1.0);
}  // namespace units

}  // namespace base

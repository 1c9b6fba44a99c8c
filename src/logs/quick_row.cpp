// SPDX-License-Identifier: Apache-2.0
#include "logs/quick_row.hpp"

#include <bit>
#include <cstring>

#if defined(__SSE4_1__)
#include <smmintrin.h>
#endif

namespace logs {
namespace {

constexpr std::array<double, 16> power_of_ten = {1e0, 1e1, 1e2,  1e3,  1e4,  1e5,  1e6,  1e7,
                                                 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15};

/// Which of the 64 bytes at `p` are the delimiter, the decimal mark, a quote or a line's end.
std::uint64_t find_marks(const char* p, char delimiter, char decimal_mark) {
#if defined(__SSE4_1__)
  const __m128i d = _mm_set1_epi8(delimiter), m = _mm_set1_epi8(decimal_mark),
                n = _mm_set1_epi8('\n'), q = _mm_set1_epi8('"');
  std::uint64_t bits = 0;
  for (unsigned part = 0; part < 4; ++part) {
    __m128i bytes;
    std::memcpy(&bytes, p + 16 * part, 16);
    const __m128i any =
        _mm_or_si128(_mm_or_si128(_mm_cmpeq_epi8(bytes, d), _mm_cmpeq_epi8(bytes, m)),
                     _mm_or_si128(_mm_cmpeq_epi8(bytes, n), _mm_cmpeq_epi8(bytes, q)));
    bits |= static_cast<std::uint64_t>(static_cast<unsigned>(_mm_movemask_epi8(any)))
            << (16 * part);
  }
  return bits;
#else
  std::uint64_t bits = 0;
  for (unsigned k = 0; k < 64; ++k) {
    const char c = p[k];
    bits |= std::uint64_t{c == delimiter || c == decimal_mark || c == '\n' || c == '"'} << k;
  }
  return bits;
#endif
}

/// Where one plain number stands: `point` is the decimal mark, or `end` where there is none.
struct Field {
  const char* begin;  ///< behind the sign
  const char* point;
  const char* end;
  [[nodiscard]] std::size_t whole() const { return static_cast<std::size_t>(point - begin); }
  [[nodiscard]] std::size_t decimals() const {
    return static_cast<std::size_t>(end - point) - (point != end);
  }
};
constexpr std::size_t most_digits = 15;  // a whole number of so many digits is exact as a double

/// Turns digits into a whole number, any machine.
class PlainDigits {
 public:
  std::uint64_t operator()(const Field& f) {
    std::uint64_t mantissa = 0;
    add(f.begin, f.whole(), mantissa);
    if (f.decimals() > 0) add(f.point + 1, f.decimals(), mantissa);
    return mantissa;
  }
  [[nodiscard]] bool all_digits() const { return others_ == 0; }

 private:
  void add(const char* p, std::size_t n, std::uint64_t& mantissa) {
    for (; n > 0; ++p, --n) {
      const auto digit = static_cast<unsigned char>(*p - '0');
      others_ |= digit > 9;
      mantissa = mantissa * 10 + digit;
    }
  }
  bool others_ = false;
};

#if defined(__SSE4_1__)
/// For 16 bytes that end where the number ends: which of them are its digits, by where the decimal
/// mark stands (counted from the end, 0: none) and by how many digits there are.
struct DigitShuffles {
  alignas(16) std::array<std::array<std::array<std::uint8_t, 16>, 16>, 16> at{};
  constexpr DigitShuffles() {
    for (std::size_t mark = 0; mark < 16; ++mark)
      for (std::size_t digits = 0; digits < 16; ++digits)
        for (std::size_t j = 0; j < 16; ++j) {  // from the right
          const std::size_t from = mark == 0 || j + 1 < mark ? j : j + 1;
          at[mark][digits][15 - j] =
              j < digits && from < 16 ? static_cast<std::uint8_t>(15 - from) : 0x80;
        }
  }
};
constexpr DigitShuffles shuffles;

/// The same sixteen bytes at a time.
class WideDigits {
 public:
  std::uint64_t operator()(const Field& f) {
    const std::size_t mark = static_cast<std::size_t>(f.end - f.point),
                      digits = f.whole() + f.decimals();
    __m128i bytes;
    std::memcpy(&bytes, f.end - 16, 16);
    __m128i shuffle;
    std::memcpy(&shuffle, shuffles.at[mark][digits].data(), 16);
    const __m128i value = _mm_shuffle_epi8(_mm_sub_epi8(bytes, _mm_set1_epi8('0')), shuffle);
    others_ = _mm_or_si128(others_, _mm_subs_epu8(value, _mm_set1_epi8(9)));
    const __m128i pairs = _mm_maddubs_epi16(value, _mm_set1_epi16(0x010A));   // 10, 1
    const __m128i fours = _mm_madd_epi16(pairs, _mm_set1_epi32(0x00010064));  // 100, 1
    const __m128i packed = _mm_packus_epi32(fours, fours);
    const __m128i eights = _mm_madd_epi16(packed, _mm_set1_epi32(0x00012710));  // 10000, 1
    const auto both = static_cast<std::uint64_t>(_mm_cvtsi128_si64(eights));
    return (both & 0xFFFFFFFFULL) * 100000000ULL + (both >> 32);
  }
  [[nodiscard]] bool all_digits() const { return _mm_testz_si128(others_, others_) != 0; }

 private:
  __m128i others_ = _mm_setzero_si128();
};
#endif

}  // namespace

void QuickRows::seek(const char* row) {
  place_ = base_ = row;
  marks_ = row < end_ ? find_marks(row, plan_.delimiter, plan_.decimal_mark) : 0;
}

template <class Digits>
bool QuickRows::read_row(QuickSlots& values) {
  const char* p = place_;
  if (p >= end_ || p < begin_) return false;
  const char* base = base_;
  std::uint64_t marks = marks_;
  const char delimiter = plan_.delimiter, decimal_mark = plan_.decimal_mark;
  bool plain = true;
  const auto next_mark = [&]() -> const char* {
    while (marks == 0) [[unlikely]] {
        base += 64;
        if (base >= end_) {
          plain = false;
          return end_;
        }
        marks = find_marks(base, delimiter, decimal_mark);
      }
    const char* const found = base + std::countr_zero(marks);
    marks &= marks - 1;
    return found;
  };
  Digits digits_of;
  QuickSlots scales;
  scales.fill(1.0);
  const char* stop = p;
  const std::size_t fields = plan_.slot.size();
  const int* const slots = plan_.slot.data();
  for (std::size_t f = 0; f < fields && plain; ++f) {
    stop = next_mark();
    if (slots[f] >= 0) {
      const auto slot = static_cast<std::size_t>(slots[f]);
      const bool negative = *p == '-';
      Field field{p + negative, stop, stop};
      if (*stop == decimal_mark) {
        stop = next_mark();
        field.end = stop;
      }
      if (*stop == '\n' && stop[-1] == '\r') [[unlikely]] {
        if (field.point == field.end) --field.point;
        --field.end;
      }
      const std::size_t decimals = field.decimals(), digits = field.whole() + decimals;
      if (digits - 1 >= most_digits || decimals >= most_digits) {  // none, or too many
        plain = false;
        break;
      }
      const auto mantissa = static_cast<double>(static_cast<std::int64_t>(digits_of(field)));
      values[slot] = negative ? -mantissa : mantissa;
      scales[slot] = power_of_ten[decimals];
    } else {
      while (*stop == decimal_mark && plain) stop = next_mark();
    }
    plain = plain && (*stop == delimiter || (*stop == '\n' && f + 1 == fields));
    p = stop + 1;
  }
  std::size_t seen = fields;
  while (plain && *stop != '\n') {
    seen += *stop == delimiter;
    stop = next_mark();
    plain = plain && *stop != '"';
  }
  if (!plain || !digits_of.all_digits() || seen < plan_.least_fields) {
    seek(place_);
    return false;
  }
  // An exact whole number divided by an exact power of ten: one rounding, so the nearest double.
  for (std::size_t k = 0; k < values.size(); ++k) values[k] /= scales[k];
  place_ = stop + 1;
  base_ = base;
  marks_ = marks;
  return true;
}

#if defined(__SSE4_1__)
bool QuickRows::next_wide(QuickSlots& values) { return read_row<WideDigits>(values); }
bool QuickRows::machine_is_wide() { return true; }
#else
bool QuickRows::next_wide(QuickSlots& values) { return read_row<PlainDigits>(values); }
bool QuickRows::machine_is_wide() { return false; }
#endif

bool QuickRows::next(QuickSlots& values) {
  return wide_ ? next_wide(values) : read_row<PlainDigits>(values);
}

}  // namespace logs

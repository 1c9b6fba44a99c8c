// SPDX-License-Identifier: Apache-2.0
// The fields of cells and offers as lists, for their tables, the page that edits them, and undo.
#pragma once

#include <string_view>
#include <vector>

#include "project/project.hpp"

namespace project {

/// A reading, by the name of its column; what lies outside is refused as a slip of the hand.
struct CellNumber {
  std::string_view name;
  std::optional<double> Cell::*member;
  double min, max;
  std::string_view unit, label;
};
struct CellText {
  std::string_view name;
  std::string Cell::*member;
  std::size_t most_bytes;
  std::string_view label;
};
struct OfferNumber {
  std::string_view name;
  double Offer::*member;
  double min, max;
  std::string_view unit, label;
};
struct OfferWhole {
  std::string_view name;
  int Offer::*member;
  double min, max;
  std::string_view label;
};
struct OfferText {
  std::string_view name;
  std::string Offer::*member;
  std::size_t most_bytes;
  std::string_view label;
};
struct OfferFlag {
  std::string_view name;
  bool Offer::*member;
  std::string_view label;
};

[[nodiscard]] const std::vector<CellNumber>& cell_numbers();
[[nodiscard]] const std::vector<CellText>& cell_texts();
/// All of them, in the order of the columns.
[[nodiscard]] const std::vector<std::string_view>& cell_columns();
[[nodiscard]] const std::vector<OfferNumber>& offer_numbers();
[[nodiscard]] const std::vector<OfferWhole>& offer_wholes();
[[nodiscard]] const std::vector<OfferText>& offer_texts();
[[nodiscard]] const std::vector<OfferFlag>& offer_flags();

}  // namespace project

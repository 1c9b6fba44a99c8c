// SPDX-License-Identifier: Apache-2.0
#include "project/fields.hpp"

namespace project {

// Each list takes the rows of its kind; the others stand for nothing.
#define CELL_TEXT(...)
#define CELL_NUMBER(member, min, max, unit, label) {#member, &Cell::member, min, max, unit, label},
const std::vector<CellNumber>& cell_numbers() {
  static const std::vector<CellNumber> list = {
#include "project/fields.def"
  };
  return list;
}
#undef CELL_TEXT
#undef CELL_NUMBER

#define CELL_TEXT(member, most_bytes, label) {#member, &Cell::member, most_bytes, label},
#define CELL_NUMBER(...)
const std::vector<CellText>& cell_texts() {
  static const std::vector<CellText> list = {
#include "project/fields.def"
  };
  return list;
}
#undef CELL_TEXT
#undef CELL_NUMBER

#define CELL_TEXT(member, ...) #member,
#define CELL_NUMBER(member, ...) #member,
const std::vector<std::string_view>& cell_columns() {
  static const std::vector<std::string_view> list = {
#include "project/fields.def"
  };
  return list;
}
#undef CELL_TEXT
#undef CELL_NUMBER

#define OFFER_TEXT(...)
#define OFFER_WHOLE(...)
#define OFFER_FLAG(...)
#define OFFER_NUMBER(member, min, max, unit, label) \
  {#member, &Offer::member, min, max, unit, label},
const std::vector<OfferNumber>& offer_numbers() {
  static const std::vector<OfferNumber> list = {
#include "project/fields.def"
  };
  return list;
}
#undef OFFER_NUMBER
#undef OFFER_WHOLE

#define OFFER_NUMBER(...)
#define OFFER_WHOLE(member, min, max, label) {#member, &Offer::member, min, max, label},
const std::vector<OfferWhole>& offer_wholes() {
  static const std::vector<OfferWhole> list = {
#include "project/fields.def"
  };
  return list;
}
#undef OFFER_WHOLE
#undef OFFER_TEXT

#define OFFER_WHOLE(...)
#define OFFER_TEXT(member, most_bytes, label) {#member, &Offer::member, most_bytes, label},
const std::vector<OfferText>& offer_texts() {
  static const std::vector<OfferText> list = {
#include "project/fields.def"
  };
  return list;
}
#undef OFFER_TEXT
#undef OFFER_FLAG

#define OFFER_TEXT(...)
#define OFFER_FLAG(member, label) {#member, &Offer::member, label},
const std::vector<OfferFlag>& offer_flags() {
  static const std::vector<OfferFlag> list = {
#include "project/fields.def"
  };
  return list;
}

}  // namespace project

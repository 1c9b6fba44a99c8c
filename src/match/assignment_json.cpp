// SPDX-License-Identifier: Apache-2.0
#include "match/assignment_json.hpp"

#include "layout/layout.hpp"

namespace match {

base::Json to_json(const Assignment& a, std::span<const std::string> labels) {
  namespace units = base::units;
  using base::Json;
  const auto named = [&](const std::vector<std::size_t>& cells) {
    Json list = Json::array();
    for (const std::size_t i : cells) list.push_back(labels[i]);
    return list;
  };
  Json packs = Json::array();
  for (std::size_t k = 0; k < a.packs.size(); ++k) {
    Json groups = Json::array();
    for (const Group& g : a.packs[k].groups)
      groups.push_back({{"capacity_Ah", g.capacity.in(units::Ah)}, {"cells", named(g.cells)}});
    packs.push_back({{"name", layout::pack_name(static_cast<int>(k))},
                     {"capacity_Ah", a.packs[k].capacity.in(units::Ah)},
                     {"groups", std::move(groups)}});
  }
  return {{"packs", std::move(packs)},
          {"spares", named(a.spares)},
          {"bank_capacity_Ah", a.bank_capacity.in(units::Ah)},
          {"smallest_pack_Ah", a.smallest_pack.in(units::Ah)},
          {"upper_bound_Ah", a.upper_bound.in(units::Ah)},
          {"gap", a.gap},
          {"proven_optimal", a.proven_optimal},
          {"method", a.method}};
}

}  // namespace match

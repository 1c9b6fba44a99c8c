// SPDX-License-Identifier: Apache-2.0
#include "works/reckonings.hpp"

#include "bank/reckonings.hpp"
#include "base/check.hpp"
#include "bench/reckonings.hpp"
#include "cell/reckonings.hpp"
#include "commission/reckonings.hpp"
#include "layout/reckonings.hpp"
#include "life/reckonings.hpp"
#include "match/reckonings.hpp"
#include "money/reckonings.hpp"
#include "site/reckonings.hpp"
#include "wiring/reckonings.hpp"

namespace works {

const std::vector<base::Reckoning>& reckonings() {
  static const std::vector<base::Reckoning> all = [] {
    std::vector<base::Reckoning> joined;
    for (const auto& list :
         {money::reckonings(), cell::reckonings(), bench::reckonings(), match::reckonings(),
          bank::reckonings(), layout::reckonings(), wiring::reckonings(), commission::reckonings(),
          life::reckonings(), site::reckonings()})
      joined.insert(joined.end(), list.begin(), list.end());
    return joined;
  }();
  return all;
}

const base::Reckoning* find_reckoning(std::string_view name) {
  for (const base::Reckoning& r : reckonings())
    if (r.name == name) return &r;
  return nullptr;
}

base::Figure reckon(std::string_view name, const base::Json& inputs, std::string_view output) {
  const base::Reckoning* reckoning = find_reckoning(name);
  CHECK(reckoning != nullptr, std::string(name));
  const base::Json answer = base::run_to_json(*reckoning, base::read_arguments(*reckoning, inputs));
  const std::string key(output);
  CHECK(answer["outputs"].contains(key), key);
  return {.value = answer["outputs"][key].get<double>(),
          .unit = answer["units"].value(key, ""),
          .reckoning = std::string(name),
          .inputs = answer["inputs"]};
}

}  // namespace works

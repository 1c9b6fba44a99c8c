// SPDX-License-Identifier: Apache-2.0
#include "match/reckonings.hpp"

#include "base/statistics.hpp"

namespace match {
namespace {

using InputKind = base::InputSpec::Kind;

base::Answer run_string_weakest(const base::Arguments& in) {
  const double d = base::expected_minimum_of_normals(in.whole("cells"));
  return {{{"expected_min_Ah", in.number("mean_Ah") + d * in.number("sd_Ah")}}};
}

}  // namespace

std::vector<base::Reckoning> reckonings() {
  return {
      {.name = "string-weakest",
       .title = "Expected weakest of cells picked at random",
       .inputs = {{.key = "cells",
                   .suffix = "",
                   .unit = "",
                   .text = "cells in series",
                   .min = 1,
                   .max = 100000,
                   .kind = InputKind::whole},
                  {.key = "mean_Ah",
                   .suffix = "Ah",
                   .unit = "Ah",
                   .text = "mean capacity",
                   .min = 0.0,
                   .max = 1e5},
                  {.key = "sd_Ah",
                   .suffix = "Ah",
                   .unit = "Ah",
                   .text = "standard deviation",
                   .min = 0.0,
                   .max = 1e5}},
       .outputs = {{"expected_min_Ah", "Ah",
                    "expected capacity of the weakest, which is that of the string"}},
       .formula = "µ + σ · E[min of n standard normals];  E[min] = ∫ x n φ(x) (1 − Φ(x))^(n−1) dx",
       .source = "[Harter1961] expected values of normal order statistics",
       .validity = "capacities normal and independent; bought lots have heavier tails",
       .cautions = {},
       .run = run_string_weakest,
       .example = "cells=16 mean=100Ah sd=1Ah"},
  };
}

}  // namespace match

// SPDX-License-Identifier: Apache-2.0
// The one kind of JSON value we use: keys keep the order in which they were written.
#pragma once

#include <nlohmann/json.hpp>

namespace base {
using Json = nlohmann::ordered_json;
}

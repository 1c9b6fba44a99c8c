// SPDX-License-Identifier: Apache-2.0
// The document as one self-contained HTML file, for light and dark and for print.
#pragma once

#include <string>

#include "book/document.hpp"

namespace book {
[[nodiscard]] std::string to_html(const Document& document);
/// A drawing as inline SVG whose colours are CSS variables named after the tones.
[[nodiscard]] std::string to_svg(const drawing::Drawing& drawing);
}  // namespace book

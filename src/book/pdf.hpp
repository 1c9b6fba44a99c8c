// SPDX-License-Identifier: Apache-2.0
// The document as PDF: A4, vector, real text, contents, page numbers, bookmarks.
#pragma once

#include <string>

#include "book/document.hpp"

namespace book {
/// The PDF's bytes; the same document gives the same bytes where the same fonts are installed.
[[nodiscard]] std::string to_pdf(const Document& document);
}  // namespace book

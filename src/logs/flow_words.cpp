// SPDX-License-Identifier: Apache-2.0
#include "logs/flow_words.hpp"

#include <string>

#include "base/encoding.hpp"

namespace logs {
namespace {

// Looked for anywhere in the folded text, in this order: "discharge" holds "charge".
constexpr std::string_view discharge_parts[] = {"discha", "dischg", "dchg",   "dchrg",   "dsg",
                                                "dcha",   "entlad", "ontlad", "decharg", "descarg",
                                                "scaric", "dsch",   "dis-ch", "dis ch"};
constexpr std::string_view rest_parts[] = {"rest",  "idle",   "paus",   "pauze",  "ruhe",
                                           "repos", "riposo", "rust",   "relax",  "standby",
                                           "wait",  "warte",  "attent", "espera", "attesa"};
constexpr std::string_view charge_parts[] = {"charg", "chg",   "chrg",  "laden", "ladung",
                                             "lade",  "carga", "caric", "cccv",  "cc-cv"};
// Only as a whole word.
constexpr std::string_view discharge_words[] = {"dis", "dch", "disch", "dchr"};
constexpr std::string_view charge_words[] = {"cha", "ch", "chr", "lad"};
constexpr std::string_view rest_words[] = {"off", "ocv", "stop", "none", "pause"};

template <std::size_t N>
bool any_part(const std::string& text, const std::string_view (&parts)[N]) {
  for (const std::string_view part : parts)
    if (text.find(part) != std::string::npos) return true;
  return false;
}

template <std::size_t N>
bool any_word(const std::string& text, const std::string_view (&words)[N]) {
  const auto letter = [](char c) { return c >= 'a' && c <= 'z'; };
  for (const std::string_view word : words)
    for (std::size_t at = text.find(word); at != std::string::npos; at = text.find(word, at + 1)) {
      const std::size_t end = at + word.size();
      if ((at == 0 || !letter(text[at - 1])) && (end == text.size() || !letter(text[end])))
        return true;
    }
  return false;
}

}  // namespace

Flow flow_of(std::string_view text) {
  const std::string word = base::folded(base::to_utf8(text));
  if (any_part(word, discharge_parts) || any_word(word, discharge_words)) return Flow::discharge;
  if (any_part(word, charge_parts) || any_word(word, charge_words)) return Flow::charge;
  if (any_part(word, rest_parts) || any_word(word, rest_words)) return Flow::rest;
  return Flow::unknown;
}

}  // namespace logs

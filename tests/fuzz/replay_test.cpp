// SPDX-License-Identifier: Apache-2.0
// Every input that was worth keeping is tried again by the ordinary build, whole, cut short, and
// with a few bytes turned.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include "tests/fuzz/targets.hpp"
#include "tests/support/support.hpp"

namespace {

namespace fs = std::filesystem;

class Corpus : public testing::TestWithParam<fuzz::Target> {};

TEST_P(Corpus, is_read_or_refused) {
  const fuzz::Target target = GetParam();
  const fs::path folder = fs::path(SOURCE_ROOT) / "tests/files/fuzz" / std::string(target.name);
  std::vector<fs::path> files;
  for (const auto& entry : fs::directory_iterator(folder)) files.push_back(entry.path());
  std::sort(files.begin(), files.end());
  EXPECT_FALSE(files.empty());
  for (const fs::path& file : files) {
    const std::string bytes = support::read(file);
    const auto attempt = [&](const std::string& input, const std::string& how) {
      try {
        target.run(input);
      } catch (const std::exception& e) {
        ADD_FAILURE() << file << how << ": " << e.what();
      }
    };
    attempt(bytes, "");
    if (bytes.empty()) continue;
    for (std::size_t i = 1; i <= 8; ++i)
      attempt(bytes.substr(0, bytes.size() * i / 9), fmt::format(", its first {} ninths", i));
    for (std::size_t i = 0; i < 8; ++i) {
      std::string hurt = bytes;
      hurt[(i * 7919 + 13) % hurt.size()] ^= static_cast<char>(1u << i);
      attempt(hurt, fmt::format(", turned {}", i));
    }
  }
}

INSTANTIATE_TEST_SUITE_P(Fuzz, Corpus, testing::ValuesIn(fuzz::targets()),
                         [](const auto& info) { return std::string(info.param.name); });

}  // namespace

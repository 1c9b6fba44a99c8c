// SPDX-License-Identifier: Apache-2.0
#include "project/project.hpp"

#include <algorithm>

#include <fmt/format.h>

namespace project {

void take(Project& project, const std::string& path, const Value& value) {
  std::string now = path;
  Value kept = value;
  for (const Former& f : former_keys())
    if (f.old_path == path) {
      now = f.path;
      if (double* number = std::get_if<double>(&kept)) *number *= f.factor;
    }
  const Row* row = find_row(now);
  if (row == nullptr || row->numeric() != std::holds_alternative<double>(kept)) {
    project.unknown.insert_or_assign(path, value);
    return;
  }
  at(project, *row).say(std::move(kept));
}

const File* series_file(const Project& project, std::string_view name) {
  for (const File& f : project.series)
    if (f.name == name) return &f;
  return nullptr;
}

std::string photo_name(std::string_view label, int number, std::string_view ending) {
  std::string name;
  for (const char c : label) {
    const auto u = static_cast<unsigned char>(c);
    const bool plain =
        u > 0x20 && u != 0x7f && std::string_view("/\\:%~.").find(c) == std::string_view::npos;
    name += plain ? std::string(1, c) : fmt::format("%{:02X}", u);
  }
  return fmt::format("{}~{}.{}", name, number, ending);
}

std::string photo_label(std::string_view file_name) {
  const std::size_t end = file_name.find('~');
  if (end == std::string_view::npos) return "";
  std::string label;
  for (std::size_t i = 0; i < end; ++i) {
    if (file_name[i] != '%') {
      label += file_name[i];
      continue;
    }
    const auto digit = [&](std::size_t k) {
      constexpr std::string_view digits = "0123456789ABCDEF";
      return k < end ? digits.find(file_name[k]) : std::string_view::npos;
    };
    const std::size_t high = digit(i + 1), low = digit(i + 2);
    if (high == std::string_view::npos || low == std::string_view::npos) return "";
    label += static_cast<char>(high * 16 + low);
    i += 2;
  }
  return label;
}

}  // namespace project

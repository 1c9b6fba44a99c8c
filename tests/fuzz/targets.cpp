// SPDX-License-Identifier: Apache-2.0
#include "tests/fuzz/targets.hpp"

#include <cstdlib>
#include <filesystem>
#include <fstream>

#include <unistd.h>

#include "base/calendar.hpp"
#include "base/check.hpp"
#include "base/csv_table.hpp"
#include "base/input_error.hpp"
#include "bench/calibration.hpp"
#include "logs/read_log.hpp"
#include "project/edit.hpp"
#include "server/api.hpp"
#include "server/guard.hpp"
#include "site/intervals.hpp"
#include "site/solar.hpp"
#include "site/tariff.hpp"
#include "store/cell_table.hpp"
#include "store/files.hpp"
#include "store/picture.hpp"
#include "store/profile.hpp"
#include "store/project_file.hpp"
#include "store/text_form.hpp"

namespace fuzz {
namespace {

template <class Read>
void try_it(const Read& read) {
  try {
    read();
  } catch (const base::InputError&) {
    return;
  } catch (const project::Conflict&) {
    return;
  }
}

void log(std::string_view bytes) {
  try_it([&] {
    logs::ReadOptions options;
    options.leave_out_bad_rows = true;
    (void)logs::read_log(bytes, options);
  });
}

void cells(std::string_view bytes) {
  try_it([&] {
    const auto cells = store::read_cells(bytes, "cells.csv");
    // What is read is written, and read again as the same.
    CHECK(store::read_cells(store::write_cells(cells), "cells.csv") == cells);
  });
  try_it([&] { (void)store::read_candidates(bytes, "cells.csv"); });
}

void table(std::string_view bytes) {
  try_it([&] {
    const base::CsvTable table(bytes, "table.csv");
    for (const auto& row : table.rows())
      for (std::size_t i = 0; i < table.header().size(); ++i) (void)table.text(row, i);
  });
  try_it([&] {
    std::vector<findings::Finding> findings;
    (void)store::read_profile(bytes, "profile.csv", findings);
  });
  try_it([&] { (void)site::read_tariff(bytes, "tariff.csv"); });
  try_it([&] { (void)bench::read_channels(bytes); });
}

void house(std::string_view bytes) {
  try_it([&] { (void)site::read_intervals(bytes, "load.csv"); });
  try_it([&] { (void)site::read_weather(bytes, "weather.csv", {50.0, 10.0}, 1.0); });
}

void weather(std::string_view bytes) {
  try_it([&] { (void)site::read_epw(bytes); });
}

void toml(std::string_view bytes) {
  try_it([&] {
    const project::Project project = store::from_text({{"project.toml", std::string(bytes)}});
    CHECK(store::from_text(store::to_text(project)) == project);
  });
}

void wires(std::string_view bytes) {
  for (const char* name : {"runs.csv", "devices.csv", "joints.csv", "sense.csv"})
    try_it([&] {
      (void)store::from_text(
          {{"project.toml",
            "[project]\nname=\"n\"\n[cell]\nrated_capacity_Ah=100\ndc_resistance_mOhm=1\n[bus]\n"
            "power_W=500\n[layout]\npacks=1\nseries=4\n"},
           {name, std::string(bytes)}});
    });
}

void json(std::string_view bytes) {
  static const project::Project project = store::from_text(
      {{"project.toml",
        "[project]\nname=\"n\"\n[cell]\nrated_capacity_Ah=100\ndc_resistance_mOhm=1\n[bus]\n"
        "power_W=500\n"},
       {"cells.csv", "label,mass_kg\na,1\nb,2\n"}});
  try_it([&] {
    server::Ask ask;
    ask.body = std::string(bytes);
    const base::Json body = server::body_of(ask);
    const auto changes =
        project::read_changes(project, body.contains("changes") ? body["changes"] : base::Json());
    const project::Project after = project::with_changes(project, changes);
    CHECK(project::with_changes(after, project::inverse(changes)) == project);
  });
}

/// The head of a request as plain lines, before any of it is believed.
void http(std::string_view bytes) {
  server::Head head;
  const auto line = [&] {
    const std::size_t end = std::min(bytes.find('\n'), bytes.size());
    std::string text(bytes.substr(0, end));
    bytes.remove_prefix(std::min(end + 1, bytes.size()));
    return text;
  };
  head.method = line();
  head.target = line();
  while (!bytes.empty()) {
    const std::string text = line();
    const std::size_t colon = std::min(text.find(':'), text.size());
    head.fields.push_back({text.substr(0, colon), text.substr(std::min(colon + 1, text.size()))});
  }
  const auto refusal = server::refuse_head(head, {"127.0.0.1:7313"}, "http", {});
  CHECK(refusal || head.one(server::host_header) == "127.0.0.1:7313");
  CHECK(refusal || head.method == "GET" || head.one(server::origin_header).has_value());
}

void picture(std::string_view bytes) {
  try_it([&] {
    const store::Picture p = store::look_at_picture(bytes);
    CHECK(std::uint64_t{p.width} * p.height <= store::most_pixels);
  });
}

void project(std::string_view bytes) {
  static const store::ScratchFile file("p.packhouse");
  std::ofstream(file.path(), std::ios::binary | std::ios::trunc) << bytes;
  try_it([&] { (void)store::read_project(file.path()); });
  for (const char* suffix : {"-wal", "-shm", "-journal"})
    std::filesystem::remove(file.path().string() + suffix);
}

}  // namespace

const std::vector<Target>& targets() {
  static const std::vector<Target> all = {
      {"log", log},         {"cells", cells},     {"table", table},    {"house", house},
      {"weather", weather}, {"toml", toml},       {"wires", wires},    {"json", json},
      {"http", http},       {"picture", picture}, {"project", project}};
  return all;
}

}  // namespace fuzz

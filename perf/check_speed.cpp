// SPDX-License-Identifier: Apache-2.0
// The whole check of a bank of sixteen packs: runs, devices, joints, settings, place. Invented.
#include <algorithm>
#include <chrono>
#include <cstdio>

#include <fmt/format.h>

#include "store/text_form.hpp"
#include "works/plan.hpp"
#include "works/steps.hpp"

int main() {
  store::TextForm files;
  files["project.toml"] =
      "[project]\nname = \"sixteen\"\n[cell]\nrated_capacity_Ah = 230\ndc_resistance_mOhm = 0.5\n"
      "max_V = 3.65\nmin_V = 2.5\n[layout]\npacks = 16\nseries = 16\nparallel = 1\n"
      "take_off = \"star\"\n[bus]\npower_W = 40000\n";
  files["runs.csv"] = "run,from,to,length_m\nlead,pack,bus,0.5\nmain,bus,inverter,2.5\n";
  files["devices.csv"] =
      "device,kind,at,rated_A,rated_V_dc,breaking_kA_dc,curve\npack fuse,fuse,lead,125,80,250,gG\n"
      "main fuse,fuse,main,1000,80,250,gG\n";
  std::string joints = "joint,current_A,mV\n";
  for (int k = 0; k < 16; ++k)
    for (int g = 1; g < 16; ++g)
      joints += fmt::format("{}-{:02}/{:02},50,{}\n", char('A' + k), g, g + 1, 4.0 + 0.1 * (g % 5));
  files["joints.csv"] = joints;
  const project::Project project = store::from_text(files);
  const auto seconds = [](auto work) {
    double best = 1e9;
    for (int i = 0; i < 5; ++i) {
      const auto start = std::chrono::steady_clock::now();
      work();
      best = std::min(
          best, std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count());
    }
    return best;
  };
  std::size_t findings = 0;
  const double wire_s = seconds([&] {
    works::Plan plan;
    works::steps::wire(project, plan);
    findings = plan.findings.size();
  });
  const double whole_s = seconds([&] { findings = works::plan(project).findings.size(); });
  std::printf(
      "16 packs: wiring %.2f ms; the whole plan with settings, place and the twin's hours "
      "%.1f ms (%zu findings); asked: 50 ms\n",
      wire_s * 1e3, whole_s * 1e3, findings);
  return 0;
}

// SPDX-License-Identifier: Apache-2.0
// Verbs about the lot: the queue of tests, the claim's sheets.
#include <filesystem>

#include <fmt/format.h>

#include "base/delimited_text.hpp"
#include "base/figure.hpp"
#include "base/input_error.hpp"
#include "base/json.hpp"
#include "bench/queue.hpp"
#include "book/html.hpp"
#include "book/labels.hpp"
#include "book/lot_pages.hpp"
#include "book/pdf.hpp"
#include "cli/terminal.hpp"
#include "cli/verbs.hpp"
#include "store/cell_table.hpp"
#include "store/files.hpp"
#include "store/project_file.hpp"
#include "works/plan.hpp"

namespace cli {
namespace fs = std::filesystem;
using base::Json;

int queue(const QueueOptions& options) {
  project::Project project = store::read_project(options.file);
  if (options.testers_given) {
    std::string testers;  // what cannot be read is refused, whether a cell waits or not
    for (const bench::QueueTester& t : bench::read_testers(options.testers))
      testers += fmt::format("{}{:g}/{:g}", testers.empty() ? "" : ", ", t.charge_A, t.discharge_A);
    say(project.queue.testers, testers);
  }
  const works::Plan plan = works::plan(project);
  if (options.json) {
    print_json(works::to_json(plan)["test"]["queue"]);
    return 0;
  }
  if (!plan.queue) {
    fmt::print("No cell waits: every one has its log or its measures.\n");
    return 0;
  }
  const bench::Queue& q = *plan.queue;
  fmt::print("{}\n\n",
             bold(fmt::format("{} cell{} wait{}: {:.1f} days, {:.1f} h a cell on its tester",
                              q.slots.size(), q.slots.size() == 1 ? "" : "s",
                              q.slots.size() == 1 ? "s" : "", q.days, q.hours_a_cell)));
  std::vector<std::vector<std::string>> rows;
  for (const bench::QueueSlot& s : q.slots)
    rows.push_back({s.label, s.tester, bench::day_and_clock(s.start_h),
                    bench::day_and_clock(s.full_h), bench::day_and_clock(s.discharge_h),
                    bench::day_and_clock(s.empty_h), bench::day_and_clock(s.end_h),
                    fmt::format("{:.0f} %", 100.0 * s.end_charge),
                    s.charged_from.empty() ? "mains" : s.charged_from});
  fmt::print("{}", table({{"cell"},
                          {"tester"},
                          {"on at"},
                          {"full"},
                          {"discharge"},
                          {"empty"},
                          {"off at"},
                          {"left at", true},
                          {"charged from"}},
                         rows));
  fmt::print(
      "\n{}\n",
      wrap(fmt::format(
          "Somebody must be there for {:.0f} h in all, {} times to put a cell on and once more to take the last off. "
          "Times are as planned: real cells take their own. Never leave a charge "
          "alone that has no second cut-out.",
          q.attended_h, q.attended_at_h.size())));
  return 0;
}

int claim(const BookOptions& options) {
  const project::Project project = store::read_project(options.file);
  const works::Plan plan = works::plan(project);
  const std::vector<std::string> labels = book::cells_to_claim(plan);
  if (labels.empty()) {
    if (options.json)
      print_json(Json{{"cells", Json::array()}});
    else
      fmt::print(
          "No cell falls short of a limit, so there is nothing to claim. Undecided cells need "
          "another test first.\n");
    return 0;
  }
  const fs::path folder = options.out;
  store::PendingFolder pending(
      folder, options.overwrite ? store::Existing::replace : store::Existing::refuse);
  std::map<std::string, std::string> hashes;
  std::string sums, list = "label,capacity_Ah,u_Ah,limit_Ah,probability_conforming,log\n";
  for (const works::CellResult& c : plan.cells) {
    if (std::find(labels.begin(), labels.end(), c.label) == labels.end()) continue;
    for (const project::File& log : project.logs)
      if (log.name == c.log) {
        hashes[c.label] = store::sha256(log.bytes);
        pending.add("logs/" + log.name, log.bytes);
        sums += fmt::format("{}  logs/{}\n", hashes[c.label], log.name);
      }
    if (c.capacity_Ah)
      list += fmt::format(
          "{},{:.4f},{:.4f},{:g},{:.6f},{}\n", base::csv_field(c.label), c.capacity_Ah->value,
          c.capacity_Ah->u.value_or(0.0),
          project.cell.rated_capacity.in(base::units::Ah)*project.test.limit_percent() / 100.0,
          c.judgement ? c.judgement->probability_conforming : 0.0, base::csv_field(c.log));
  }
  const book::Document sheets = book::compose_claim(project, plan, hashes, today());
  pending.add("claim.pdf", book::to_pdf(sheets));
  pending.add("claim.html", book::to_html(sheets));
  pending.add("cells.csv", list);
  pending.add("SHA256SUMS", sums);
  pending.commit();
  if (options.json)
    print_json(Json{{"cells", labels},
                    {"pdf", (folder / "claim.pdf").string()},
                    {"html", (folder / "claim.html").string()},
                    {"logs", hashes.size()}});
  else
    fmt::print("Sheets for {} cell{} are in {}, with their logs and SHA256SUMS beside.\n",
               labels.size(), labels.size() == 1 ? "" : "s", folder.string());
  return 0;
}

int labels(const BookOptions& options) {
  const project::Project project = store::read_project(options.file);
  const works::Plan plan = works::plan(project);
  const book::Document sheets = book::compose_labels(project, plan, today());
  if (sheets.sections.empty())
    throw base::InputError({options.file, 0, 0}, "no cell that has a place",
                           "a project whose cells are tested and placed",
                           "test the cells first: packhouse queue FILE");
  store::write_file(options.out, book::to_pdf(sheets),
                    options.overwrite ? store::Existing::replace : store::Existing::refuse);
  if (options.json)
    print_json(Json{{"pdf", options.out}, {"sheets", sheets.sections.size()}});
  else
    fmt::print("Labels for {} are in {}.\n",
               sheets.sections.size() == 1 ? "one pack" : "every pack and the spares", options.out);
  return 0;
}

}  // namespace cli

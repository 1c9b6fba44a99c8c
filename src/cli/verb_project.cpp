// SPDX-License-Identifier: Apache-2.0
#include <chrono>
#include <cstdlib>
#include <ctime>
#include <filesystem>
#include <map>

#include <fmt/format.h>

#include "base/input_error.hpp"
#include "book/content.hpp"
#include "book/html.hpp"
#include "book/pdf.hpp"
#include "cli/terminal.hpp"
#include "cli/verbs.hpp"
#include "commission/checklists.hpp"
#include "store/files.hpp"
#include "store/project_file.hpp"
#include "store/text_form.hpp"
#include "store/try_tables.hpp"
#include "works/examples.hpp"
#include "works/plan.hpp"
#include "works/reckonings.hpp"

namespace cli {
namespace {

using base::InputError;
using base::Json;
namespace fs = std::filesystem;

project::Project read_text_folder(const fs::path& folder) {
  try {
    return store::from_text(store::read_folder(folder));
  } catch (const InputError& e) {
    if (e.place().file.find('/') != std::string::npos) throw;
    throw e.in_file((folder / e.place().file).string());
  }
}

bool any_stop(const works::Plan& plan) {
  for (const findings::Finding& f : plan.findings)
    if (f.severity == findings::Severity::stop) return true;
  return false;
}

std::string figure_rows(const works::Step& step) {
  std::vector<std::vector<std::string>> rows;
  for (const works::Named& n : step.figures)
    rows.push_back(
        {n.label, base::show_value(n.figure), base::show_uncertainty(n.figure), n.figure.unit});
  if (rows.empty()) return "";
  return table({{"figure"}, {"value", true}, {"±"}, {"unit"}}, rows);
}

std::string counts(const works::Plan& plan) {
  int stop = 0, caution = 0, note = 0;
  for (const findings::Finding& f : plan.findings)
    (f.severity == findings::Severity::stop      ? stop
     : f.severity == findings::Severity::caution ? caution
                                                 : note) += 1;
  return fmt::format("{} stop, {} caution{}, {} note{}", stop, caution, caution == 1 ? "" : "s",
                     note, note == 1 ? "" : "s");
}

void print_why(const works::Plan& plan, const std::string& path) {
  const works::Named* n = works::find_figure(plan, path);
  if (n == nullptr) {
    std::string known;
    for (const works::Step* step : plan.steps())
      for (const works::Named& f : step->figures)
        known += (known.empty() ? "" : ", ") + step->name + "." + f.key;
    throw InputError({}, fmt::format("no figure '{}'", path), "one of: " + known,
                     "copy one of these names");
  }
  const base::Figure& f = n->figure;
  fmt::print("{}\n\n", bold(fmt::format("{}: {}", n->label, base::show(f))));
  if (!f.basis.empty()) fmt::print("Basis     {}\n", wrap(f.basis, 80, 10));
  if (f.u)
    fmt::print("Sure to   {}\n",
               wrap(fmt::format("± {} {} (standard uncertainty; twice that covers about 95 %)",
                                base::fixed(*f.u, base::decimals_for(*f.u)), f.unit),
                    80, 10));
  else
    fmt::print("Sure to   no uncertainty is stated for this figure\n");
  if (f.reckoning.empty()) return;
  const base::Reckoning* r = works::find_reckoning(f.reckoning);
  fmt::print("Reckoning {} ({})\nFormula   {}\nSource    {}\nValid     {}\n", r->name, r->title,
             wrap(r->formula, 80, 10), wrap(r->source, 80, 10), wrap(r->validity, 80, 10));
  std::vector<std::vector<std::string>> rows;
  std::string command = "packhouse reckon " + f.reckoning;
  for (const auto& [key, value] : f.inputs.items()) {
    std::string text = value.is_string() ? value.get<std::string>() : value.dump();
    if (value.is_array()) {
      text.clear();
      for (const Json& v : value) text += (text.empty() ? "" : ",") + v.dump();
    }
    rows.push_back({key, text});
    command += " " + key + "=" + text;
  }
  fmt::print("\n{}\nAgain     {}\n", table({{"input"}, {"value", true}}, rows),
             wrap(command, 80, 10));
}

void print_plan(const project::Project& project, const works::Plan& plan) {
  fmt::print("{}\n", bold(project.about.name()));
  for (const works::Step* step : plan.steps()) {
    if (step->name == "book") continue;
    std::string title = step->name;
    title.front() = static_cast<char>(title.front() - 'a' + 'A');
    fmt::print("\n{}  {}\n{}\n", bold(title), quiet(step->question), wrap(step->sentence));
    const std::string rows = figure_rows(*step);
    if (!rows.empty()) fmt::print("\n{}", rows);
  }
  fmt::print("\n{}  {}\n{}", bold("Findings"), quiet(counts(plan)), findings_text(plan.findings));
  fmt::print(
      "\n{}\n\n{}\n",
      wrap(
          "Where a figure comes from: packhouse plan FILE --why size.energy_kWh; another word lists all names."),
      wrap(commission::defer));
}

/// Beside the demo's files: what they were when they were written.
constexpr const char* demo_sums = "SHA256SUMS";

struct BookFiles {
  fs::path pdf, html;
};

BookFiles write_book(const project::Project& project, const works::Plan& plan,
                     const fs::path& folder, store::Existing existing) {
  store::PendingFolder pending(folder, existing);
  const book::Document document = book::compose(project, plan, today());
  const BookFiles files{folder / "book.pdf", folder / "book.html"};
  const std::string pdf = book::to_pdf(document), html = book::to_html(document);
  pending.add("book.pdf", pdf);
  pending.add("book.html", html);
  pending.commit();
  return files;
}

/// The demo's own files: an earlier run's are replaced where they are as it left them.
BookFiles write_demo(const project::Project& project, const works::Plan& plan,
                     const fs::path& folder, bool overwrite) {
  const book::Document document = book::compose(project, plan, today());
  const std::map<std::string, std::string> files = {
      {"plan.json", works::to_json(plan).dump(2) + "\n"},
      {"book.pdf", book::to_pdf(document)},
      {"book.html", book::to_html(document)}};
  const std::string left =
      fs::exists(folder / demo_sums) ? store::read_file(folder / demo_sums) : "";
  std::string sums;
  for (const auto& [name, bytes] : files) {
    const fs::path path = folder / name;
    const bool ours = fs::exists(path) && left.find(store::sha256(store::read_file(path)) + "  " +
                                                    name + "\n") != std::string::npos;
    store::write_file(path, bytes,
                      ours || overwrite ? store::Existing::replace : store::Existing::refuse);
    sums += fmt::format("{}  {}\n", store::sha256(bytes), name);
  }
  store::write_file(folder / demo_sums, sums, store::Existing::replace);
  return {folder / "book.pdf", folder / "book.html"};
}

const works::Example& example_named(const std::string& name) {
  std::string names;
  for (const works::Example& e : works::examples()) {
    if (e.name == name) return e;
    names += (names.empty() ? "" : ", ") + std::string(e.name);
  }
  throw InputError({}, fmt::format("no example called '{}'", name), "one of: " + names,
                   "take one of these names");
}

}  // namespace

int example(const FolderOptions& options) {
  const works::Example& e = example_named(options.first);
  const auto files = works::example_files(e.name);
  store::write_folder(files, options.second);
  if (options.json)
    print_json(Json{{"example", e.name},
                    {"folder", options.second},
                    {"files", files.size()},
                    {"invented", true}});
  else
    fmt::print("An invented project, {}: {} files in {}.\nNext: packhouse import {} {}.packhouse\n",
               e.title, files.size(), options.second, options.second, e.name);
  return 0;
}

int import_folder(const FolderOptions& options) {
  const project::Project project = read_text_folder(options.first);
  try {
    store::try_every_table(project);
  } catch (const InputError& e) {
    throw e.in_file((fs::path(options.first) / e.place().file).string());
  }
  store::write_project(project, options.second);
  if (options.json)
    print_json(Json{
        {"file", options.second}, {"cells", project.cells.size()}, {"logs", project.logs.size()}});
  else
    fmt::print("{} cells and {} logs are in {}.\nNext: packhouse plan {}\n", project.cells.size(),
               project.logs.size(), options.second, options.second);
  return 0;
}

int export_folder(const FolderOptions& options) {
  const auto files = store::to_text(store::read_project(options.first));
  store::write_folder(files, options.second);
  if (options.json)
    print_json(Json{{"folder", options.second}, {"files", files.size()}});
  else
    fmt::print("{} files are in {}. Importing them gives the same project again.\n", files.size(),
               options.second);
  return 0;
}

int make_new(const NewOptions& options) {
  project::Project project;
  must_be_text("--name", options.name);
  say(project.about.name, options.name);
  say(project.cell.rated_capacity, options.capacity_Ah);
  say(project.cell.dc_resistance, options.resistance_mOhm);
  say(project.layout.packs, double(options.packs));
  say(project.layout.series, double(options.series));
  say(project.layout.parallel, double(options.parallel));
  say(project.bus.power, options.power_W);
  store::write_project(project, options.file);
  if (options.json)
    print_json(Json{{"file", options.file}});
  else
    fmt::print("{} is there, with defaults for all that was not said.\nNext: packhouse plan {}\n",
               options.file, options.file);
  return 0;
}

int plan(const PlanOptions& options) {
  const project::Project project = store::read_project(options.file);
  const works::Plan plan = works::plan(project);
  if (!options.why.empty()) {
    if (options.json) {
      const works::Named* n = works::find_figure(plan, options.why);
      if (n != nullptr) {
        print_json(base::to_json(n->figure));
        return 0;
      }
    }
    print_why(plan, options.why);
    return 0;
  }
  if (options.json)
    print_json(works::to_json(plan));
  else
    print_plan(project, plan);
  return any_stop(plan) ? 1 : 0;
}

int check(const PlanOptions& options) {
  const works::Plan plan = works::plan(store::read_project(options.file));
  if (options.json)
    print_json(findings::to_json(plan.findings));
  else
    fmt::print("{}\n\n{}", bold(counts(plan)), findings_text(plan.findings));
  return any_stop(plan) ? 1 : 0;
}

int book(const BookOptions& options) {
  const project::Project project = store::read_project(options.file);
  const works::Plan plan = works::plan(project);
  const BookFiles files =
      write_book(project, plan, options.out,
                 options.overwrite ? store::Existing::replace : store::Existing::refuse);
  if (options.json)
    print_json(Json{{"pdf", files.pdf.string()}, {"html", files.html.string()}});
  else
    fmt::print("The book is in {} and {}.\n", files.pdf.string(), files.html.string());
  return any_stop(plan) ? 1 : 0;
}

int demo(const FolderOptions& options) {
  const fs::path folder = options.first;
  const works::Example& e = example_named("smallholding");
  store::make_folder(folder);
  const fs::path file = folder / fmt::format("{}.packhouse", e.name), json = folder / "plan.json";
  const project::Project project = store::from_text(works::example_files(e.name));
  if (!fs::exists(fs::symlink_status(file)))
    store::write_project(project, file);
  else if (!(store::read_project(file) == project))
    throw InputError({file.string(), 0, 0}, "the example, edited since it was written",
                     "the example as it is, or a new folder",
                     "your edits are kept: packhouse serve opens them; for the example anew, "
                     "name another folder");
  const works::Plan plan = works::plan(project);
  const BookFiles files = write_demo(project, plan, folder, options.overwrite);
  if (options.json) {
    print_json(Json{{"project", file.string()},
                    {"plan", json.string()},
                    {"pdf", files.pdf.string()},
                    {"html", files.html.string()}});
    return 0;
  }
  fmt::print(
      "{}\n{}\n", bold(fmt::format("{}: {}", project.about.name(), e.title)),
      quiet("An invented example: its readings were made by a cell model from a fixed seed."));
  for (const works::Step* step : plan.steps()) {
    if (step->name == "book") continue;
    std::string title = step->name;
    title.front() = static_cast<char>(title.front() - 'a' + 'A');
    fmt::print("\n{}  {}", bold(left(title, 10)), wrap(step->sentence, 80, 12));
  }
  fmt::print("\n\n{}  {}\n", bold(left("Findings", 10)), counts(plan));
  for (const findings::Finding& f : plan.findings)
    if (f.severity != findings::Severity::note)
      fmt::print("            {}\n",
                 wrap(fmt::format("{} {}: {} At: {}", findings::mark(f.severity),
                                  findings::name(f.severity), f.what, f.where),
                      80, 12));
  fmt::print("\n{}\n", wrap(commission::defer));
  fmt::print("\nLeft in {}:\n", folder.string());
  fmt::print(
      "{}", table({{"file"}, {"what it is"}}, {{file.string(), "the project, one file"},
                                               {json.string(), "everything worked out, as JSON"},
                                               {files.pdf.string(), "the book, for the printer"},
                                               {files.html.string(), "the same, for the screen"}}));
  fmt::print(
      "\nOpen the book:  xdg-open {}\nAsk why:        build/packhouse plan {} --why "
      "size.energy_kWh\nOpen the page:  build/packhouse serve {}\n",
      files.html.string(), file.string(), file.string());
  return 0;
}

}  // namespace cli

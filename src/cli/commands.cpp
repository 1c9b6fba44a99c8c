// SPDX-License-Identifier: Apache-2.0
#include "cli/commands.hpp"

#include <csignal>
#include <cstdio>
#include <functional>
#include <new>
#include <system_error>

#include <CLI/CLI.hpp>
#include <fmt/format.h>

#include "bank/twin.hpp"
#include "base/check.hpp"
#include "base/input_error.hpp"
#include "base/number.hpp"
#include "cli/verbs.hpp"

namespace cli {
namespace {

constexpr int done = 0, bad_input = 2, our_fault = 3;

/// Every verb has an example below its help.
CLI::App* verb(CLI::App& app, const std::string& name, const std::string& what,
               const std::string& example) {
  CLI::App* sub = app.add_subcommand(name, what);
  sub->footer("Example:\n  packhouse " + example);
  return sub;
}

void add_json(CLI::App* sub, bool& json) {
  sub->add_flag("--json", json, "Print JSON instead of text");
}

void add_overwrite(CLI::App* sub, bool& overwrite) {
  sub->add_flag("--overwrite", overwrite,
                "Write over files of an earlier run; over a project, never");
}

void add_project(CLI::App* sub, std::string& file) {
  sub->add_option("FILE", file, "Project file")->required();
}

int refuse_output() {
  fmt::print(
      stderr,
      "packhouse: standard output\n  found:    it cannot be written\n  expected: room for the answer\n  to do:    make room, or send it elsewhere\n");
  return bad_input;
}

}  // namespace

int run(int argc, char** argv) {
  // A file too long for its limit is an error of that write, which names it; not the end.
  std::signal(SIGXFSZ, SIG_IGN);
  CLI::App app{"Packhouse: from loose cells to a home energy store, and its book."};
  app.require_subcommand(1);
  app.get_formatter()->column_width(26);
  app.set_version_flag("--version", "packhouse 0.1.0");
  app.footer(
      "Local electrical, building and fire codes and licensed practice govern; nothing\nprinted "
      "here replaces them. 'packhouse VERB --help' shows an example.");
  std::function<int()> action;
  const auto when = [&](CLI::App* sub, auto function, auto& options) {
    sub->callback([&action, function, &options] {
      action = [function, &options] { return function(options); };
    });
  };

  FolderOptions demo_options{.first = "demo", .second = ""};
  CLI::App* sub = verb(app, "demo", "The whole job on an invented bank", "demo demo");
  sub->add_option("DIR", demo_options.first, "Folder for the result")->capture_default_str();
  add_overwrite(sub, demo_options.overwrite);
  add_json(sub, demo_options.json);
  when(sub, demo, demo_options);

  FolderOptions example_options;
  sub = verb(app, "example", "Write an invented project as text", "example cabin my-cabin");
  sub->add_option("NAME", example_options.first, "smallholding, cabin or workshop")->required();
  sub->add_option("DIR", example_options.second, "New folder")->required();
  add_json(sub, example_options.json);
  when(sub, example, example_options);

  NewOptions new_options;
  sub = verb(app, "new", "Make a project file with the least that is needed",
             "new barn.packhouse --name Barn --capacity-Ah 230 --resistance-mOhm 0.5 --power-W "
             "5000 --packs 2");
  sub->add_option("FILE", new_options.file, "New project file")->required();
  sub->add_option("--name", new_options.name, "What you call the bank");
  sub->add_option("--capacity-Ah", new_options.capacity_Ah, "Rated capacity of a cell")->required();
  sub->add_option("--resistance-mOhm", new_options.resistance_mOhm,
                  "DC resistance of the cell's sheet")
      ->required();
  sub->add_option("--power-W", new_options.power_W, "Continuous design power at the bus")
      ->required();
  sub->add_option("--packs", new_options.packs, "Packs in parallel")->capture_default_str();
  sub->add_option("--series", new_options.series, "Groups in series in a pack")
      ->capture_default_str();
  sub->add_option("--parallel", new_options.parallel, "Cells in parallel in a group")
      ->capture_default_str();
  add_json(sub, new_options.json);
  when(sub, make_new, new_options);

  ServeOptions serve_options;
  sub = verb(app, "serve", "Open a project as a page in the browser", "serve barn.packhouse");
  CLI::Option* served =
      sub->add_option("FILE", serve_options.file, "Project file; a new name begins a new one");
  sub->add_option("--port", serve_options.port, "Port; the usual one is 7313");
  sub->add_flag("--no-open", serve_options.no_open, "Do not open a browser");
  sub->add_flag("--lan", serve_options.lan, "Let devices in the house pair with a code");
  sub->add_option("--lan-address", serve_options.lan_address, "This computer's address there");
  CLI::Option* certificate =
      sub->add_option("--certificate", serve_options.certificate, "PEM, to encrypt");
  CLI::Option* key = sub->add_option("--key", serve_options.key, "Its key, PEM");
  certificate->needs(key);
  key->needs(certificate);
  CLI::Option* parts =
      sub->add_flag("--parts", serve_options.parts, "List what the page is made of, and end");
  sub->callback([&, served, parts] {
    if (served->empty() && parts->empty()) throw CLI::RequiredError("FILE");
    action = [&serve_options] { return serve(serve_options); };
  });

  FolderOptions import_options;
  sub = verb(app, "import", "Make a project file from a folder of text",
             "import my-cabin cabin.packhouse");
  sub->add_option("DIR", import_options.first, "Folder that holds project.toml")->required();
  sub->add_option("FILE", import_options.second, "New project file")->required();
  add_json(sub, import_options.json);
  when(sub, import_folder, import_options);

  FolderOptions export_options;
  sub = verb(app, "export", "Write a project file as text, without loss",
             "export cabin.packhouse cabin-text");
  add_project(sub, export_options.first);
  sub->add_option("DIR", export_options.second, "New folder")->required();
  add_json(sub, export_options.json);
  when(sub, export_folder, export_options);

  BackupOptions backup_options;
  sub = verb(app, "backup", "Make a whole copy of a project, opened and checked",
             "backup barn.packhouse --out /media/stick");
  add_project(sub, backup_options.file);
  sub->add_option("--out", backup_options.out, "Folder; else FILE.backups beside the project");
  add_json(sub, backup_options.json);
  when(sub, backup, backup_options);

  BackupOptions restore_options;
  sub = verb(app, "restore", "Put a backup in a project's place; what stood there is kept",
             "restore barn.packhouse");
  add_project(sub, restore_options.file);
  sub->add_option("--from", restore_options.from, "The backup; else the last whole one");
  sub->add_option("--out", restore_options.out,
                  "Folder of the backups; else FILE.backups beside the project");
  sub->add_flag("--list", restore_options.list, "List the backups, and change nothing");
  add_json(sub, restore_options.json);
  when(sub, restore, restore_options);

  BenchOptions bench_options;
  sub = verb(app, "bench", "What testers' logs show of their cells", "bench C07.csv --json");
  sub->add_option("LOG", bench_options.logs, "One or more logs, as delimited text with a header")
      ->required();
  sub->add_option("--sign", bench_options.sign, "Which way positive current flows")
      ->check(CLI::IsMember({"auto", "discharge-positive", "charge-positive", "by-voltage"}))
      ->capture_default_str();
  sub->add_option("--tester", bench_options.tester,
                  "File with a [tester] table as in project.toml");
  sub->add_option("--columns", bench_options.columns, "Which column is which: time=Zeit[min]")
      ->delimiter(',');
  sub->add_option("--dates", bench_options.dates, "Order of day, month and year")
      ->check(CLI::IsMember({"dmy", "mdy", "ymd"}));
  sub->add_option("--channel", bench_options.channel,
                  "Which cell of a log that holds several, as its channel column says");
  sub->add_option("--decimal", bench_options.decimal, "Which mark parts the decimals")
      ->check(CLI::IsMember({"point", "comma"}));
  sub->add_option("--limit", bench_options.limit_Ah,
                  "Least capacity, Ah: says whether the cell conforms")
      ->check(CLI::Validator(
          [](std::string& text) {
            const auto number = base::parse_number(text);
            return number && *number > 0.0 && *number < 1e6
                       ? std::string()
                       : text + " is no capacity: a number of Ah above zero";
          },
          "Ah"));
  sub->add_option("--risk", bench_options.risk_percent, "Risk of a wrong verdict, %")
      ->check(CLI::Range(0.01, 49.0))
      ->capture_default_str();
  sub->add_flag("--model", bench_options.model,
                "Fit a model of the cell: open-circuit curve, R0, two RC pairs, hysteresis");
  sub->add_flag("--leave-out-bad-rows", bench_options.leave_out_bad_rows,
                "Leave rows out that cannot be read, and count them");
  add_json(sub, bench_options.json);
  when(sub, bench, bench_options);

  MatchOptions match_options;
  sub = verb(app, "match", "Give tested cells their places, with proof or gap",
             "match cells.csv --packs 2 --series 16 --parallel 1");
  sub->add_option("CELLS", match_options.cells,
                  "CSV with label,capacity_Ah[,u_Ah][,resistance_mOhm][,leak_mA], or a project "
                  "file, whose layout and rules then count")
      ->required();
  sub->add_option("--packs", match_options.packs, "Packs");
  sub->add_option("--series", match_options.series, "Groups in series in a pack");
  sub->add_option("--parallel", match_options.parallel, "Cells in parallel in a group")
      ->capture_default_str();
  sub->add_option("--aim", match_options.aim, "What to aim at")
      ->check(CLI::IsMember({"most-energy", "even-packs"}))
      ->capture_default_str();
  sub->add_option("--exchange", match_options.exchange,
                  "Two cells: what the bank would be with their places exchanged, C01,C07");
  sub->add_option("--without", match_options.without,
                  "A cell: what the bank would be with the best spare in its place");
  sub->add_option("--other-layout", match_options.layout,
                  "What the same cells would be in another layout: 1x16S2P");
  sub->add_option("--seconds", match_options.seconds,
                  "Stop the search after this time with the best found so far")
      ->check(CLI::PositiveNumber);
  add_json(sub, match_options.json);
  when(sub, match, match_options);

  SimulateOptions simulate_options;
  sub = verb(app, "simulate", "Play a profile of power or current on the bank, cell by cell",
             "simulate barn.packhouse --profile day.csv --start-soc 0.8");
  add_project(sub, simulate_options.file);
  sub->add_option("--profile", simulate_options.profiles,
                  "CSV with time_s and power_W or current_A at the bus, discharge positive, and "
                  "room_C if the room changes; each value holds until the next row, the last says "
                  "when it ends. Several play side by side")
      ->required();
  sub->add_option("--start-soc", simulate_options.start_charge, "State of charge at the start")
      ->check(CLI::Range(0.0, 1.0))
      ->capture_default_str();
  sub->add_option("--room-C", simulate_options.room_C,
                  "Temperature of the room, until the profile says otherwise")
      ->check(CLI::Range(-30.0, 60.0))
      ->capture_default_str();
  sub->add_option("--step-s", simulate_options.step_s, "Length of a step")
      ->check(CLI::Range(0.001, bank::longest_step_s))
      ->capture_default_str();
  sub->add_option("--series", simulate_options.series,
                  "Write every step's voltages, currents, charges and temperatures as CSV");
  add_overwrite(sub, simulate_options.overwrite);
  add_json(sub, simulate_options.json);
  when(sub, simulate, simulate_options);

  WatchOptions watch_options;
  sub = verb(app, "watch", "What the running bank's own records show, cell by cell",
             "watch barn.packhouse --once year.csv --json");
  add_project(sub, watch_options.file);
  sub->add_option("--once", watch_options.records, "One or more records, read once; keeps nothing")
      ->required();
  sub->add_option("--columns", watch_options.columns,
                  "Which column is which: current=Strom[A], cells=Zelle # [mV]")
      ->delimiter(',');
  sub->add_option("--sign", watch_options.sign, "Which way positive current flows")
      ->check(CLI::IsMember({"auto", "discharge-positive", "charge-positive"}))
      ->capture_default_str();
  sub->add_option("--dates", watch_options.dates, "Order of day, month and year")
      ->check(CLI::IsMember({"dmy", "mdy", "ymd"}));
  add_json(sub, watch_options.json);
  when(sub, watch_records, watch_options);

  ChecklistOptions checklist_options;
  sub = verb(app, "checklist", "What is to be done in which order: open, held by a finding, signed",
             "checklist barn.packhouse first-power");
  add_project(sub, checklist_options.file);
  sub->add_option("list", checklist_options.list, "One list, such as first-power or assembly@A");
  add_json(sub, checklist_options.json);
  when(sub, checklist, checklist_options);

  SignOptions sign_options;
  sub = verb(app, "sign", "Sign a step of a checklist, with what was read",
             "sign barn.packhouse first-power/precharge --by \"first builder\" --value 0.4");
  add_project(sub, sign_options.file);
  sub->add_option("step", sign_options.step, "The step's name; @A behind it where it is pack A's")
      ->required();
  sub->add_option("--by", sign_options.by, "Who did it")->required();
  sub->add_option("--on", sign_options.on,
                  "The day, such as 2026-11-26; today where it is left out");
  sub->add_option("--value", sign_options.value, "What was read, in the unit that the list shows");
  sub->add_option(
      "--note", sign_options.note,
      "What opened and when; or why it is signed although a reading or a finding speaks "
      "against it");
  add_json(sub, sign_options.json);
  when(sub, sign, sign_options);

  RehearseOptions rehearse_options;
  sub = verb(app, "rehearse", "Play a fault on the bank: what one sees, and what catches it",
             "rehearse barn.packhouse loose-joint");
  add_project(sub, rehearse_options.file);
  sub->add_option("NAME", rehearse_options.name, "Which fault; none plays them all");
  sub->add_option("--series", rehearse_options.series, "Write what one would read as CSV");
  add_overwrite(sub, rehearse_options.overwrite);
  add_json(sub, rehearse_options.json);
  when(sub, rehearse, rehearse_options);

  ReckonOptions reckon_options;
  sub = verb(app, "reckon", "List the reckonings, explain one, or run it",
             "reckon precharge voltage=53.6V capacitance=10mF resistance=50Ohm");
  sub->add_option("NAME", reckon_options.name, "Which one; none lists all");
  sub->add_option("INPUTS", reckon_options.arguments, "key=value each; units may be written");
  sub->add_flag("--explain", reckon_options.explain, "Tell inputs, formula, source and cautions");
  add_json(sub, reckon_options.json);
  when(sub, reckon, reckon_options);

  PlanOptions plan_options;
  sub = verb(app, "plan", "Work out the whole plan of a project",
             "plan barn.packhouse --why wire.fault_current_pack_kA");
  add_project(sub, plan_options.file);
  sub->add_option("--why", plan_options.why,
                  "Where one figure comes from, for example size.energy_kWh");
  add_json(sub, plan_options.json);
  when(sub, plan, plan_options);

  PlanOptions check_options;
  sub = verb(app, "check", "All findings; exit 1 where one says stop", "check barn.packhouse");
  add_project(sub, check_options.file);
  add_json(sub, check_options.json);
  when(sub, check, check_options);

  ForecastOptions forecast_options;
  sub = verb(app, "forecast", "The house's year, how large a bank, twenty years of it, the money",
             "forecast barn.packhouse --futures 5000");
  add_project(sub, forecast_options.file);
  sub->add_option("--tariff", forecast_options.tariffs,
                  "A tariff on offer, as tariff.csv (docs/howto/year.md); several are compared");
  sub->add_option("--futures", forecast_options.futures, "How many futures are played")
      ->check(CLI::Range(100, 100000))
      ->capture_default_str();
  add_json(sub, forecast_options.json);
  when(sub, forecast, forecast_options);

  BookOptions book_options;
  sub = verb(app, "book", "Print the book that stays with the bank",
             "book barn.packhouse --out barn-book");
  add_project(sub, book_options.file);
  sub->add_option("--out", book_options.out, "Folder for book.pdf and book.html")->required();
  add_overwrite(sub, book_options.overwrite);
  add_json(sub, book_options.json);
  when(sub, book, book_options);

  QueueOptions queue_options;
  sub = verb(app, "queue", "Which cell is tested when, and when somebody must be there",
             "queue barn.packhouse --testers 50/50,20/40");
  add_project(sub, queue_options.file);
  sub->add_option_function<std::string>(
      "--testers",
      [&queue_options](const std::string& said) {
        queue_options.testers = said;
        queue_options.testers_given = true;
      },
      "Charge and discharge current of each, A; else as the project says");
  add_json(sub, queue_options.json);
  when(sub, queue, queue_options);

  BookOptions labels_options;
  sub =
      verb(app, "labels", "Labels to stick on the cells, with place and a QR code, as a PDF sheet",
           "labels barn.packhouse --out labels.pdf");
  add_project(sub, labels_options.file);
  sub->add_option("--out", labels_options.out, "The PDF file")->required();
  add_overwrite(sub, labels_options.overwrite);
  add_json(sub, labels_options.json);
  when(sub, labels, labels_options);

  BookOptions claim_options;
  sub =
      verb(app, "claim", "Test sheets for the seller of every cell that falls short, with its log",
           "claim barn.packhouse --out barn-claim");
  add_project(sub, claim_options.file);
  sub->add_option("--out", claim_options.out, "Folder for the sheets and the logs")->required();
  add_overwrite(sub, claim_options.overwrite);
  add_json(sub, claim_options.json);
  when(sub, claim, claim_options);

  try {
    app.parse(argc, argv);
  } catch (const CLI::Success& asked) {  // --help, --version
    return app.exit(asked);
  } catch (const CLI::ParseError& e) {
    fmt::print(stderr, "packhouse: {}\n  to do:    packhouse --help, or packhouse VERB --help\n",
               e.what());
    return bad_input;
  }
  try {
    const int code = action ? action() : done;
    if (std::fflush(stdout) != 0 || std::ferror(stdout) != 0) return refuse_output();
    return code;
  } catch (const base::InputError& e) {
    fmt::print(stderr, "packhouse: {}\n", e.what());
    return bad_input;
  } catch (const std::bad_alloc&) {
    fmt::print(stderr,
               "packhouse: memory\n  found:    no more of it\n  expected: room for the work\n  to "
               "do:    close other programs, then do it again; nothing was changed\n");
    return bad_input;
  } catch (const std::system_error& e) {
    // Files have errors of their own: what is left is printing, threads and sockets.
    if (std::ferror(stdout) != 0) return refuse_output();
    fmt::print(stderr,
               "packhouse: this computer\n  found:    {}\n  expected: room for the work\n  to do: "
               "   close other programs, then do it again; nothing was changed\n",
               e.what());
    return bad_input;
  } catch (const std::exception& e) {
    fmt::print(stderr,
               "packhouse: our own fault, not yours: {}\n  to do:    please report this with the "
               "command that you typed\n",
               e.what());
    return our_fault;
  }
}

}  // namespace cli

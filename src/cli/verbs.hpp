// SPDX-License-Identifier: Apache-2.0
// What each verb does once its words have been read. Returns the exit code; throws InputError.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

namespace cli {

struct BenchOptions {
  std::vector<std::string> logs;
  std::string sign = "auto", tester, dates, decimal, channel;
  std::vector<std::string> columns;
  double limit_Ah = 0.0, risk_percent = 5.0;
  bool leave_out_bad_rows = false, model = false, json = false;
};
int bench(const BenchOptions& options);

struct MatchOptions {
  std::string cells;
  int packs = 0, series = 0, parallel = 1;
  std::string aim = "most-energy";
  bool json = false;
  std::string exchange, without, layout;
  double seconds = 0.0;  ///< at most; zero: as long as it takes
};
int match(const MatchOptions& options);

struct SimulateOptions {
  std::string file, series;
  std::vector<std::string> profiles;
  double start_charge = 0.5, room_C = 20.0, step_s = 60.0;
  bool json = false, overwrite = false;
};
int simulate(const SimulateOptions& options);

struct RehearseOptions {
  std::string file, name, series;
  bool json = false, overwrite = false;
};
int rehearse(const RehearseOptions& options);

struct ReckonOptions {
  std::string name;
  std::vector<std::string> arguments;
  bool explain = false, json = false;
};
int reckon(const ReckonOptions& options);

struct PlanOptions {
  std::string file, why;
  bool json = false;
};
int plan(const PlanOptions& options);
int check(const PlanOptions& options);

struct QueueOptions {
  std::string file, testers;
  bool testers_given = false;  ///< an empty word is one that cannot be read
  bool json = false;
};
int queue(const QueueOptions& options);

struct ForecastOptions {
  std::string file;
  std::vector<std::string> tariffs;
  int futures = 1000;
  bool json = false;
};
int forecast(const ForecastOptions& options);

struct BookOptions {
  std::string file, out;
  bool json = false, overwrite = false;
};
int book(const BookOptions& options);
int claim(const BookOptions& options);
int labels(const BookOptions& options);

struct ChecklistOptions {
  std::string file, list;
  bool json = false;
};
int checklist(const ChecklistOptions& options);

struct SignOptions {
  std::string file, step, by, on, note, value;
  bool json = false;
};
int sign(const SignOptions& options);

struct FolderOptions {
  std::string first, second;  ///< in the order typed
  bool json = false, overwrite = false;
};
int example(const FolderOptions& options);
int import_folder(const FolderOptions& options);
int export_folder(const FolderOptions& options);
int demo(const FolderOptions& options);

struct BackupOptions {
  std::string file, out, from;
  bool list = false, json = false;
};
int backup(const BackupOptions& options);
int restore(const BackupOptions& options);
/// Throws InputError for words that are no UTF-8: they would be kept, and nobody could read them.
void must_be_text(const char* option, const std::string& typed);
/// Today's copy, where none is there yet; where it cannot be made, says so and goes on.
void back_up_before_writing(const std::filesystem::path& file);

struct ServeOptions {
  std::string file, lan_address, certificate, key;
  int port = 0;
  bool no_open = false, lan = false, parts = false, json = false;
};
int serve(const ServeOptions& options);

struct WatchOptions {
  std::string file, sign = "auto", dates;
  std::vector<std::string> records, columns;
  bool json = false;
};
/// The bank's records, read once.
int watch_records(const WatchOptions& options);

struct NewOptions {
  std::string file, name = "New bank";
  double capacity_Ah = 0.0, resistance_mOhm = 0.0, power_W = 0.0;
  int packs = 1, series = 16, parallel = 1;
  bool json = false;
};
int make_new(const NewOptions& options);

}  // namespace cli

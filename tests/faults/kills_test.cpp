// SPDX-License-Identifier: Apache-2.0
// Page, phone and command line write at once, and the program is ended again and again at any
// moment. What was acknowledged is there afterwards, whoever wrote it.
#include <atomic>
#include <mutex>
#include <random>
#include <set>
#include <thread>

#include "tests/faults/faulty.hpp"
#include "tests/support/served.hpp"

namespace {

using base::Json;
using support::Served;

/// What everybody was told is kept.
struct Told {
  std::mutex mutex;
  std::map<std::string, std::string> notes;  ///< by cell
  std::set<std::string> signers;
  long edits = 0, signatures = 0;
};

Json note_change(const std::string& cell, const std::string& note) {
  return {{"changes", {{{"what", "cell"}, {"name", cell}, {"field", "note"}, {"after", note}}}}};
}

/// Writes notes of its own cell until the server is gone.
void write_notes(const Served& s, const std::string& cell, const std::string& who, Told& told,
                 const std::atomic<bool>& ending) {
  for (int i = 0; !ending; ++i) {
    const std::string note = fmt::format("{} {}", who, i);
    {
      const std::lock_guard lock(told.mutex);  // unanswered: it may be there or not
      told.notes[cell + " asked"] = note;
    }
    const auto reply = s.try_post("/api/changes", note_change(cell, note));
    if (reply.status != 200) return;
    const std::lock_guard lock(told.mutex);
    told.notes[cell] = note;
    ++told.edits;
  }
}

TEST(Kills, lose_nothing_that_was_acknowledged_whoever_wrote_it) {
  const int rounds = faults::whole() ? 1000 : 8;
  const support::Folder folder;
  const auto file = folder / "c.packhouse";
  store::write_project(faults::small(), file);
  const std::string step = faults::step_to_sign();
  Told told;
  std::mt19937 random(19);
  for (int round = 0; round < rounds; ++round) {
    {
      Served s(support::There{file});
      std::atomic<bool> ending = false;
      std::thread page([&] { write_notes(s, "c0", "page", told, ending); });
      std::thread phone([&] { write_notes(s, "c1", "phone", told, ending); });
      // Some edits in, at a moment of its own; or while the first is on its way.
      const auto edits = [&] {
        const std::lock_guard lock(told.mutex);
        return told.edits;
      };
      const long enough = edits() + static_cast<long>(random() % 12);
      for (int waited = 0; edits() < enough && waited < 4000; ++waited)
        std::this_thread::sleep_for(std::chrono::milliseconds(5));
      std::this_thread::sleep_for(std::chrono::microseconds(random() % 20000));
      s.stop(SIGKILL);
      ending = true;
      page.join();
      phone.join();
    }
    // Now the command line, two at once, and one of them is ended too.
    std::vector<std::thread> commands;
    for (int i = 0; i < 2; ++i) {
      const std::string who = fmt::format("w{}-{}", round, i);
      const long kill_at = i == 0 ? 1 + static_cast<long>(random() % 60) : 0;
      commands.emplace_back([&, who, kill_at] {
        std::map<std::string, std::string> fault;
        if (kill_at > 0) fault = {{"FAULT_KIND", "kill"}, {"FAULT_AT", std::to_string(kill_at)}};
        const faults::Ran ran = faults::run(
            fmt::format("sign c.packhouse {} --by {} --on 2026-02-01 --note seen", step, who),
            folder.path(), fault);
        const std::lock_guard lock(told.mutex);
        if (ran.code == 0) told.signers.insert(who), ++told.signatures;
        EXPECT_TRUE(kill_at > 0 || ran.code == 0) << ran.err;
      });
    }
    for (std::thread& t : commands) t.join();
    const project::Project now = store::read_project(file);
    for (const char* cell : {"c0", "c1"}) {
      const std::string& note = now.cells[cell[1] - '0'].note;
      EXPECT_TRUE(note == told.notes[cell] || note == told.notes[std::string(cell) + " asked"])
          << "round " << round << ": " << cell << " has '" << note << "', told '"
          << told.notes[cell] << "'";
      told.notes[cell] = note;
    }
    for (const std::string& who : told.signers)
      EXPECT_TRUE(std::any_of(now.signatures.begin(), now.signatures.end(),
                              [&](const auto& x) { return x.by == who; }))
          << "round " << round << ": " << who << " was told that it is signed";
    if (HasFailure()) break;
  }
  EXPECT_EQ(faults::leftovers(folder.path()), "");
  fmt::print(
      "{} kills of the page, up to {} of a command; {} edits and {} signatures acknowledged\n",
      rounds, rounds, told.edits, told.signatures);
  EXPECT_GT(told.edits, 0);
  EXPECT_GT(told.signatures, rounds - 1);
}

/// The server's own writes under faults: what it refuses is not there, what it acknowledges is, and
/// its page shows what the file holds.
TEST(ServerFaults, are_told_and_leave_the_old_state_or_the_new_one) {
  const std::string step = faults::step_to_sign();
  std::mt19937 random(23);
  int points = 0;
  for (const char* kind : {"write", "sync", "open", "name"}) {
    for (long at = 1; at <= (faults::whole() ? 40 : 2); ++at) {
      const long n = faults::whole() ? at : 1 + static_cast<long>(random() % 8);
      const support::Folder folder;
      const auto file = folder / "c.packhouse", arm = folder / "arm";
      store::write_project(faults::small(), file);
      for (const auto& [name, value] :
           std::map<std::string, std::string>{{"LD_PRELOAD", FAULT_LIBRARY},
                                              {"FAULT_KIND", kind},
                                              {"FAULT_AT", std::to_string(n)},
                                              {"FAULT_ERROR", n % 2 == 0 ? "5" : "28"},
                                              {"FAULT_ARM", arm.string()}})
        ::setenv(name.c_str(), value.c_str(), 1);
      Served s(support::There{file});
      for (const char* name : {"LD_PRELOAD", "FAULT_KIND", "FAULT_AT", "FAULT_ERROR", "FAULT_ARM"})
        ::unsetenv(name);
      // Today's backup is made before the first write: the faults are to meet the edits themselves.
      std::string held = "note before";
      ASSERT_EQ(s.try_post("/api/changes", note_change("c0", held)).status, 200);
      support::write(arm, "");
      ++points;
      for (int i = 0; i < 4; ++i) {
        const std::string note = fmt::format("note {}", i);
        const auto reply = s.try_post("/api/changes", note_change("c0", note));
        const std::string at_disk = store::read_project(file).cells[0].note;
        const std::string where =
            fmt::format("{} {} edit {}: {} {}", kind, n, i, reply.status, reply.body);
        EXPECT_TRUE(reply.status == 200 || reply.status == 422) << where;
        EXPECT_TRUE(at_disk == note || (reply.status != 200 && at_disk == held))
            << where << ", on disk " << at_disk;
        held = at_disk;
      }
      EXPECT_EQ(held, "note 3") << kind << n << ": one fault, and it goes on";
      const Json project = s.get("/api/project").json();
      EXPECT_EQ(project["cells"][0]["note"], held) << kind << n;
    }
  }
  fmt::print("{} points\n", points);
}

}  // namespace

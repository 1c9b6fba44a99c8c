// SPDX-License-Identifier: Apache-2.0
// The n-th write, flush, opening, renaming, allocation, thread fails, once and for ever; or the
// program ends there. Afterwards the old state or the new one, a message, and nothing left behind.
#include <cerrno>
#include <random>

#include "tests/faults/faulty.hpp"

namespace {

using faults::Operation;

struct Point {
  std::string kind;
  long at = 0;
  int error = EIO;
  bool lasting = false;
  [[nodiscard]] std::string words() const {
    return fmt::format("{} {} errno {}{}", kind, at, error, lasting ? ", and all behind it" : "");
  }
};

/// How many such calls the operation makes.
long calls(const Operation& o, const std::string& kind) {
  const support::Folder folder;
  faults::set_up(o, folder.path());
  const support::Folder aside;
  const std::string count = (aside / "count").string();
  const faults::Ran ran =
      faults::run(o.words, folder.path(), {{"FAULT_KIND", kind}, {"FAULT_COUNT", count}});
  EXPECT_LE(ran.code, 1) << o.name << ran.err;
  const std::string text = support::read(count);
  return text.empty() ? 0 : std::stol(text);
}

std::vector<Point> points_of(const Operation& o, std::mt19937& random) {
  std::vector<Point> points;
  long to_be_ended_at = 0;  // every call that a kill counts
  for (const std::string kind : {"write", "sync", "open", "name", "thread", "memory", "kill"}) {
    const long all = kind == "kill" ? to_be_ended_at : calls(o, kind);
    if (kind != "thread" && kind != "memory") to_be_ended_at += all;
    const std::vector<int> errors = kind == "thread" || kind == "memory" || kind == "kill"
                                        ? std::vector<int>{EAGAIN}
                                        : std::vector<int>{EIO, ENOSPC, EACCES};
    const long sample = faults::whole() ? (kind == "memory" ? 60 : all) : 1;
    for (long i = 0; i < std::min(sample, all); ++i) {
      const long at =
          sample >= all ? i + 1 : 1 + static_cast<long>(random() % static_cast<unsigned long>(all));
      for (const int error : errors)
        for (const bool lasting : {false, true}) {
          if (!faults::whole() &&
              (error != errors[random() % errors.size()] || lasting != (random() % 2 == 0)))
            continue;
          if (kind == "kill" && lasting) continue;
          points.push_back({kind, at, error, lasting});
        }
    }
  }
  return points;
}

void try_point(const Operation& o, const Point& p, const std::map<std::string, std::string>& end) {
  const support::Folder folder;
  faults::set_up(o, folder.path());
  const auto start = faults::all_files(folder.path());
  std::map<std::string, std::string> fault = {{"FAULT_KIND", p.kind},
                                              {"FAULT_AT", std::to_string(p.at)},
                                              {"FAULT_ERROR", std::to_string(p.error)}};
  if (p.lasting) fault["FAULT_LONG"] = "1";
  const std::string at = fmt::format("{}: {}", o.name, p.words());
  const faults::Ran ran = faults::run(o.words, folder.path(), fault);
  // Where memory or threads run out, the library that sets type ends the program by itself: said
  // here, not hidden. The project must be unharmed all the same.
  const bool sets_type = std::string_view(o.name) == "book" || std::string_view(o.name) == "labels";
  const bool ended_by_library =
      sets_type && (p.kind == "thread" || p.kind == "memory") && ran.code < 0;
  const bool killed = (p.kind == "kill" && ran.code == -9) || ended_by_library;
  EXPECT_TRUE(killed || (ran.code >= 0 && ran.code <= 2)) << at << ": exit " << ran.code << "\n"
                                                          << ran.err;
  EXPECT_TRUE(ran.code != 2 || ran.err.find("to do:") != std::string::npos) << at << ran.err;
  faults::expect_old_or_new(o, folder.path(), start, end, ran.code == 0 || ran.code == 1, at);
  // What could not be taken away, because that failed or the program was ended, the next one does.
  if (p.kind == "kill" || p.kind == "name" || p.kind == "memory" || ended_by_library)
    (void)faults::run(o.words, folder.path());
  EXPECT_EQ(faults::leftovers(folder.path()), "") << at;
}

class Faults : public testing::TestWithParam<std::size_t> {};

TEST_P(Faults, leave_the_old_state_or_the_new_one_and_say_so) {
  const Operation o = faults::operations()[GetParam()];
  std::map<std::string, std::string> end;
  {
    const support::Folder folder;
    faults::set_up(o, folder.path());
    const faults::Ran ran = faults::run(o.words, folder.path());
    ASSERT_LE(ran.code, 1) << o.name << "\n" << ran.err;
    ASSERT_TRUE(store::read_project(folder / "c.packhouse") == o.after) << o.name;
    end = faults::all_files(folder.path());
  }
  std::mt19937 random(20260101u + static_cast<unsigned>(GetParam()));
  const std::vector<Point> points = points_of(o, random);
  EXPECT_FALSE(points.empty());
  for (const Point& p : points) try_point(o, p, end);
  fmt::print("{}: {} points\n", o.name, points.size());
}

INSTANTIATE_TEST_SUITE_P(EveryCommand, Faults, testing::Range<std::size_t>(0, 10));

}  // namespace

// SPDX-License-Identifier: Apache-2.0
// The plug is pulled: what was not flushed is gone, whole, in part, or torn. Every change of a file
// that a command makes is recorded with every flush; then the disk is made as it could be after
// each of them, and opened.
#include <cstdint>
#include <cstring>
#include <random>
#include <set>

#include "tests/faults/faulty.hpp"

namespace {

namespace fs = std::filesystem;
using faults::Operation;

struct Change {
  char kind = 0;  ///< c create, w write, t truncate, s flush, r rename, u unlink
  std::string path, data;
  std::int64_t offset = 0;
};

std::vector<Change> read_trace(const fs::path& file) {
  const std::string bytes = support::read(file);
  std::vector<Change> changes;
  for (std::size_t at = 0; at + 25 <= bytes.size();) {
    Change c;
    std::uint64_t lengths[2];
    c.kind = bytes[at];
    std::memcpy(lengths, bytes.data() + at + 1, sizeof lengths);
    std::memcpy(&c.offset, bytes.data() + at + 17, sizeof c.offset);
    at += 25;
    c.path = bytes.substr(at, lengths[0]);
    c.data = bytes.substr(at + lengths[0], lengths[1]);
    at += lengths[0] + lengths[1];
    changes.push_back(std::move(c));
  }
  return changes;
}

/// A disk on which what was flushed is sure, and the rest may be there or not.
class Disk {
 public:
  explicit Disk(const fs::path& folder) {
    for (const auto& [name, bytes] : faults::all_files(folder)) {
      const std::string path = (folder / name).string();
      names_[path] = sure_names_[path] = next_;
      contents_[next_] = {bytes, {}};
      ++next_;
    }
  }

  void take(const Change& c) {
    if (c.kind == 'c') {
      if (names_.contains(c.path)) return;
      contents_[next_] = {};
      change_name(c.path, next_++);
    } else if (c.kind == 'r') {
      const auto from = names_.find(c.path);
      if (from == names_.end()) return move_folder(c);
      const int file = from->second;
      names_.erase(c.path);
      names_[c.data] = file;
      name_changes_.push_back({{c.path, -1}, {c.data, file}});  // one step: both or neither
    } else if (c.kind == 'u') {
      change_name(c.path, -1);
    } else if (const auto file = names_.find(c.path); file != names_.end()) {
      Content& content = contents_[file->second];
      if (c.kind == 's') {
        for (const Change& w : content.waiting) apply(w, content.sure);
        content.waiting.clear();
        // A journalling disk keeps a new file's name with its content; that much is relied on.
        make_sure_name_of(file->second);
      } else {
        content.waiting.push_back(c);
      }
    } else if (c.kind == 's') {  // a folder
      for (const auto& step : name_changes_) apply(step, sure_names_);
      name_changes_.clear();
    }
  }

  /// How the disk may be found: `share` of what was not flushed is there. 0: none, 1: all.
  [[nodiscard]] std::map<std::string, std::string> found(double share, std::mt19937& random) const {
    const auto kept = [&] {
      return share >= 1.0 || std::uniform_real_distribution<>()(random) < share;
    };
    auto names = sure_names_;
    std::size_t steps = 0;  // names change in order
    while (steps < name_changes_.size() && kept()) apply(name_changes_[steps++], names);
    std::map<std::string, std::string> files;
    for (const auto& [path, file] : names) {
      const Content& content = contents_.at(file);
      std::string bytes = content.sure;
      for (const Change& w : content.waiting) {  // writes reach the disk in any order, or in part
        if (!kept()) continue;
        Change torn = w;
        if (share < 1.0 && torn.kind == 'w' && torn.data.size() > 512 && random() % 4 == 0)
          torn.data.resize(512 * (random() % (torn.data.size() / 512)));
        apply(torn, bytes);
      }
      files[path] = bytes;
    }
    return files;
  }

 private:
  struct Content {
    std::string sure;
    std::vector<Change> waiting;
  };
  using NameStep = std::vector<std::pair<std::string, int>>;

  static void apply(const Change& c, std::string& bytes) {
    if (c.kind == 't') {
      bytes.resize(static_cast<std::size_t>(c.offset));
      return;
    }
    const auto end = static_cast<std::size_t>(c.offset) + c.data.size();
    if (bytes.size() < end) bytes.resize(end);
    bytes.replace(static_cast<std::size_t>(c.offset), c.data.size(), c.data);
  }
  static void apply(const NameStep& step, std::map<std::string, int>& names) {
    for (const auto& [path, file] : step) {
      if (file < 0)
        names.erase(path);
      else
        names[path] = file;
    }
  }
  void change_name(const std::string& path, int file) {
    apply(NameStep{{path, file}}, names_);
    name_changes_.push_back({{path, file}});
  }
  void make_sure_name_of(int file) {
    for (std::size_t i = 0; i < name_changes_.size(); ++i)
      if (name_changes_[i].size() == 1 && name_changes_[i][0].second == file) {
        apply(name_changes_[i], sure_names_);
        name_changes_.erase(name_changes_.begin() + static_cast<std::ptrdiff_t>(i));
        return;
      }
  }
  void move_folder(const Change& c) {
    NameStep step;
    for (const auto& [path, file] : names_)
      if (path.starts_with(c.path + "/")) {
        step.emplace_back(path, -1);
        step.emplace_back(c.data + path.substr(c.path.size()), file);
      }
    apply(step, names_);
    name_changes_.push_back(step);
  }

  std::map<std::string, int> names_, sure_names_;
  std::vector<NameStep> name_changes_;
  std::map<int, Content> contents_;
  int next_ = 0;
};

void pull_the_plug(const Operation& o) {
  const support::Folder folder, aside, after;
  faults::set_up(o, folder.path());
  Disk disk(folder.path());
  const fs::path trace = aside / "trace";
  const faults::Ran ran = faults::run(o.words, folder.path(), {{"FAULT_TRACE", trace.string()}});
  ASSERT_LE(ran.code, 1) << ran.err;
  const std::vector<Change> changes = read_trace(trace);
  ASSERT_GT(changes.size(), 3u);
  std::mt19937 random(7);
  int states = 0;
  const auto look = [&](std::size_t at, bool end) {
    for (const double share : {0.0, 1.0, 0.5, 0.5, 0.8}) {
      if (!faults::whole() && share == 0.8) continue;
      fs::remove_all(after.path());
      for (const auto& [path, bytes] : disk.found(share, random))
        if (path.starts_with(folder.path().string()))
          support::write(after.path() / fs::relative(path, folder.path()), bytes);
      ++states;
      const std::string where = fmt::format("{}: change {} of {}, {} of the rest there", o.name, at,
                                            changes.size(), share);
      try {
        const project::Project now = store::read_project(after.path() / "c.packhouse");
        EXPECT_TRUE(now == o.after || (!end && now == o.before))
            << where << (end ? ": acknowledged and lost" : ": neither old nor new");
        for (const auto& entry : fs::recursive_directory_iterator(after.path())) {
          const std::string name = entry.path().filename().string();
          if (name.ends_with(".backup") || name == "new.packhouse")
            (void)store::read_project(entry.path());  // throws where it is not whole
        }
      } catch (const std::exception& e) {
        ADD_FAILURE() << where << ": " << e.what();
      }
    }
  };
  const std::size_t step = faults::whole() ? 1 : std::max<std::size_t>(1, changes.size() / 20);
  for (std::size_t i = 0; i < changes.size(); ++i) {
    disk.take(changes[i]);
    if (i % step == 0) look(i + 1, false);
  }
  look(changes.size(), true);
  fmt::print("{}: {} changes, {} states of the disk\n", o.name, changes.size(), states);
}

class PowerCut : public testing::TestWithParam<std::size_t> {};

TEST_P(PowerCut, leaves_what_was_acknowledged_and_nothing_torn) {
  pull_the_plug(faults::operations()[GetParam()]);
}

INSTANTIATE_TEST_SUITE_P(EveryCommand, PowerCut, testing::Range<std::size_t>(0, 7));

}  // namespace

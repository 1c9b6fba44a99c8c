// SPDX-License-Identifier: Apache-2.0
#include "feed/kept_record.hpp"

#include <algorithm>
#include <cmath>

#include <gtest/gtest.h>

#include "base/input_error.hpp"
#include "base/small_random.hpp"
#include "tests/support/support.hpp"

namespace {

namespace fs = std::filesystem;
using feed::KeptRecord;

feed::DayRows a_day(std::uint64_t seed, int step_s) {
  base::SmallRandom rnd(seed);
  feed::DayRows rows;
  rows.day = 20150;
  std::vector<float> cells(16);
  double volts = 3.30, current = 5.0;
  for (int t = 0; t < 86400; t += step_s) {
    current += 0.3 * rnd.normal();
    volts += 2e-5 * rnd.normal();
    for (std::size_t j = 0; j < 16; ++j)
      cells[j] = float(volts + 0.001 * double(j % 5) + 0.0006 * rnd.normal());
    watch::Reading r;
    r.time_s = 20150.0 * 86400.0 + t;
    r.current_A = current;
    r.temperature_C = 20.0;
    if (rnd.uniform() < 0.01) cells[3] = NAN;
    r.cells_V = cells;
    rows.add(r);
  }
  return rows;
}

TEST(KeptRows, come_back_as_they_were) {
  for (const int step : {10, 60}) {
    const feed::DayRows rows = a_day(7, step);
    const feed::DayRows back = feed::unpack_rows(feed::pack_rows(rows));
    EXPECT_EQ(back.day, rows.day);
    EXPECT_EQ(back.time_ms, rows.time_ms);
    EXPECT_EQ(back.columns, rows.columns);
  }
}

TEST(KeptRows, of_a_year_at_ten_seconds_take_less_than_25_megabytes) {
  EXPECT_LT(feed::pack_rows(a_day(8, 10)).size() * 365, 25'000'000u);
}

TEST(KeptRows, refuse_bytes_that_are_none) {
  std::string bytes = feed::pack_rows(a_day(9, 600));
  base::SmallRandom rnd(1);
  for (int i = 0; i < 2000; ++i) {
    std::string broken = bytes.substr(0, std::size_t(double(bytes.size()) * rnd.uniform()));
    for (char& c : broken)
      if (rnd.uniform() < 0.02) c = char(rnd.next());
    try {
      (void)feed::unpack_rows(broken);
    } catch (const base::InputError&) {
    }
  }
  EXPECT_THROW((void)feed::unpack_rows(bytes.substr(0, bytes.size() / 2)), base::InputError);
}

TEST(KeptViews, lose_no_extreme) {
  const feed::DayRows rows = a_day(10, 10);
  const std::vector<feed::Bucket> view = feed::downsample(rows);
  EXPECT_EQ(view.size(), 144u);
  for (std::size_t c = 0; c < 16; ++c) {
    std::int32_t low = INT32_MAX, high = INT32_MIN, view_low = INT32_MAX, view_high = INT32_MIN;
    for (const std::int32_t v : rows.columns[c + 2])
      if (v != feed::DayRows::missing) low = std::min(low, v), high = std::max(high, v);
    for (const feed::Bucket& b : view) {
      view_low = std::min<std::int32_t>(view_low, b.lowest_mV[c]);
      view_high = std::max<std::int32_t>(view_high, b.highest_mV[c]);
    }
    EXPECT_EQ(view_low, low);
    EXPECT_EQ(view_high, high);
  }
}

TEST(KeptDay, comes_back_as_it_was) {
  watch::Day day;
  day.day = 20151;
  day.full = true;
  day.normal[3] = 1.5;
  day.step_normal[7] = 2.5;
  day.cells.resize(16);
  day.cells[4].gap_Ah = 0.25;
  day.cells[4].right[2] = -3.0;
  const feed::KeptDay back = feed::unpack_day(feed::pack_day(day, 1));
  EXPECT_EQ(back.pack, 1);
  EXPECT_EQ(back.day.day, 20151);
  EXPECT_TRUE(back.day.full);
  EXPECT_EQ(back.day.normal[3], 1.5);
  EXPECT_EQ(back.day.step_normal[7], 2.5);
  EXPECT_EQ(back.day.cells[4].gap_Ah, 0.25);
  EXPECT_EQ(back.day.cells[4].right[2], -3.0);
  EXPECT_TRUE(std::isnan(back.day.cells[5].gap_Ah));
}

TEST(KeptRecord, keeps_what_was_acknowledged_wherever_the_file_is_cut) {
  const support::Folder folder;
  const fs::path file = folder / "bank.record";
  std::vector<std::size_t> ends;
  {
    KeptRecord record(file);
    for (int i = 0; i < 5; ++i) {
      ASSERT_TRUE(
          record.append(KeptRecord::Block::note, std::string(std::size_t(20 + i), char('a' + i))));
      ends.push_back(record.bytes());
    }
  }
  const std::string whole = support::read(file);
  for (std::size_t cut = 8; cut <= whole.size(); ++cut) {
    support::write(file, whole.substr(0, cut));
    KeptRecord record(file);
    const auto kept = std::size_t(
        std::count_if(ends.begin(), ends.end(), [&](std::size_t e) { return e <= cut; }));
    ASSERT_EQ(record.blocks(KeptRecord::Block::note).size(), kept) << cut;
    ASSERT_TRUE(record.append(KeptRecord::Block::note, "after"));
    ASSERT_EQ(record.blocks(KeptRecord::Block::note).back(), "after");
  }
}

TEST(KeptRecord, refuses_another_kind_of_file) {
  const support::Folder folder;
  support::write(folder / "x", "time,current_A\n1,2\n3,4\n");
  EXPECT_THROW(KeptRecord(folder / "x"), base::InputError);
}

}  // namespace

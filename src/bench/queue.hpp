// SPDX-License-Identifier: Apache-2.0
// The queue: which cell is tested when and on what, where each ends, and when somebody must be
// there.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace bench {

/// One tester, or one channel of it.
struct QueueTester {
  std::string name;
  double charge_A = 0.0, discharge_A = 0.0;
};

struct QueueTask {
  std::string label;
  double capacity_Ah = 0.0;   ///< rated
  double start_charge = 0.3;  ///< state of charge as it arrived
  bool suspect = false;       ///< tested first, while a claim is open
};

struct QueueRules {
  double rest_h = 1.0;           ///< after charging, before discharging
  double settle_h = 0.5;         ///< after discharging
  double taper_h = 0.5;          ///< that the end of a charge takes beyond its ampere-hours
  double handling_h = 0.5;       ///< to change cells
  double storage_charge = 0.5;   ///< where a tested cell is left
  double attended_from_h = 8.0;  ///< of the day
  double attended_to_h = 22.0;
  bool runs_unattended = false;   ///< may current flow while nobody is there
  bool passes_charge_on = false;  ///< a discharging cell charges the next one on the same tester
  double pass_efficiency = 0.9;
};

/// One cell's hours on its tester, counted from the first day's midnight.
struct QueueSlot {
  std::string label, tester;
  double start_h = 0.0, full_h = 0.0, discharge_h = 0.0, empty_h = 0.0, end_h = 0.0;
  double end_charge = 0.0;
  std::string charged_from = {};  ///< label of the cell that charged it; empty: the mains
};

struct Queue {
  std::vector<QueueSlot> slots;       ///< in order of their start
  std::vector<double> attended_at_h;  ///< when cells are changed: somebody must be there
  double attended_h = 0.0;            ///< hours that somebody must be there in all
  double days = 0.0;                  ///< from the first start to the last end
  double hours_a_cell = 0.0;          ///< on one tester, handling included
};

/// "50/50, 20/40", "50 A/50 A" or "50": charge and discharge current of each tester, A. Throws
/// InputError for what cannot be read; none of it is passed over.
[[nodiscard]] std::vector<QueueTester> read_testers(std::string_view text);

/// "day 2 08:30".
[[nodiscard]] std::string day_and_clock(double hours);

/// Suspects first, then in the order given; each cell to the tester that is done with it soonest.
/// Cells are changed only while somebody is there. Where nothing may run unattended, current flows
/// only in those hours and a step that would run past them waits for the morning. The first start
/// is at `attended_from_h` of the first day. Times are as planned: real cells take their own.
[[nodiscard]] Queue plan_queue(const std::vector<QueueTask>& tasks,
                               const std::vector<QueueTester>& testers, const QueueRules& rules);

}  // namespace bench

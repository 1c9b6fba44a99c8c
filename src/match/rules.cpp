// SPDX-License-Identifier: Apache-2.0
#include "match/rules.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <numeric>

#include <fmt/format.h>

#include "base/check.hpp"
#include "match/draws.hpp"
#include "match/what_if.hpp"

namespace match {
namespace {

namespace units = base::units;

double Ah(base::AmpHours x) { return x.in(units::Ah); }

std::string count(std::size_t n, std::string_view what) {
  return fmt::format("{} {}{}", n, what, n == 1 ? "" : "s");
}

/// Places from the first of a pack, or of one of its groups (−1: all), up to the one behind the
/// last.
struct Span {
  std::size_t from, to;
};
Span places_of(Shape shape, int pack, int group) {
  const auto parallel = static_cast<std::size_t>(shape.parallel),
             whole = static_cast<std::size_t>(shape.series) * parallel;
  const std::size_t first = static_cast<std::size_t>(pack) * whole;
  if (group < 0) return {first, first + whole};
  const std::size_t from = first + static_cast<std::size_t>(group) * parallel;
  return {from, from + parallel};
}

/// What each place asks for, Ah, by pack, group, member; zero where nothing.
std::vector<double> least_by_place(Shape shape, const Rules& rules) {
  std::vector<double> least(shape.places(), 0.0);
  for (const PlaceLeast& p : rules.place_least) {
    if (p.pack < 0 || p.pack >= shape.packs || p.group >= shape.series) continue;
    const auto [from, to] = places_of(shape, p.pack, p.group);
    for (std::size_t i = from; i < to; ++i) least[i] = std::max(least[i], Ah(p.capacity));
  }
  return least;
}

/// What can be said before any search.
std::vector<std::string> conflicts_of(const std::vector<Candidate>& candidates, Shape shape,
                                      const Rules& rules, const std::vector<std::size_t>& usable,
                                      const std::vector<std::size_t>& possible_spares) {
  std::vector<std::string> list;
  std::map<std::size_t, int> seen;
  std::map<std::pair<int, int>, int> in_group;
  std::map<int, int> in_pack;
  for (const Fixed& f : rules.fixed) {
    const std::string& label = candidates[f.cell].label;
    if (++seen[f.cell] > 1) list.push_back(fmt::format("{} is fixed in two places.", label));
    if (f.pack < 0 || f.pack >= shape.packs || f.group >= shape.series)
      list.push_back(fmt::format("{} is fixed in a place that the layout does not have.", label));
    if (std::find(usable.begin(), usable.end(), f.cell) == usable.end())
      list.push_back(fmt::format(
          "{} is fixed in a place, but kept out or below the least capacity of a placed cell.",
          label));
    if (f.group >= 0 && ++in_group[{f.pack, f.group}] > shape.parallel)
      list.push_back(
          fmt::format("more cells are fixed in one group than the {} it holds, {} among them.",
                      shape.parallel, label));
    if (++in_pack[f.pack] > shape.series * shape.parallel)
      list.push_back(
          fmt::format("more cells are fixed in one pack than it holds, {} among them.", label));
  }
  if (usable.size() < shape.places())
    list.push_back(fmt::format(
        "{} may be placed and {} are needed: {} kept out, {} below {:g} Ah.",
        count(usable.size(), "cell"), count(shape.places(), "cell"), rules.kept_out.size(),
        candidates.size() - usable.size() - rules.kept_out.size(), Ah(rules.least_capacity)));
  if (candidates.size() - rules.kept_out.size() < shape.places() + rules.spares)
    list.push_back(fmt::format("{} and {} cannot both come from {}.",
                               count(shape.places(), "place"), count(rules.spares, "spare"),
                               count(candidates.size() - rules.kept_out.size(), "cell")));
  else if (possible_spares.size() < rules.spares)
    list.push_back(fmt::format("{} must hold {:g} Ah, and only {} do.",
                               count(rules.spares, "spare"), Ah(rules.spare_capacity),
                               count(possible_spares.size(), "cell")));
  for (const PlaceLeast& p : rules.place_least) {
    if (p.pack < 0 || p.pack >= shape.packs || p.group >= shape.series) {
      list.push_back(
          fmt::format("a least capacity of {:g} Ah is asked of a place that the layout "
                      "does not have.",
                      Ah(p.capacity)));
      continue;
    }
    // All places that ask for as much or more, each once.
    const std::vector<double> least = least_by_place(shape, rules);
    const auto asked = static_cast<std::size_t>(
        std::count_if(least.begin(), least.end(), [&](double x) { return x >= Ah(p.capacity); }));
    const auto there =
        static_cast<std::size_t>(std::count_if(usable.begin(), usable.end(), [&](std::size_t i) {
          return candidates[i].capacity >= p.capacity;
        }));
    if (there < asked)
      list.push_back(fmt::format("{} must hold {:g} Ah or more, and only {} would do.",
                                 count(asked, "place"), Ah(p.capacity), count(there, "cell")));
  }
  if (rules.lots == Lots::together_in_pack) {
    std::map<std::string, std::size_t> cells;
    for (const std::size_t i : usable) ++cells[rules.lot_of[i]];
    std::size_t packs = 0;
    std::string lots;
    for (const auto& [lot, n] : cells) {
      packs += n / (shape.places() / static_cast<std::size_t>(shape.packs));
      lots += fmt::format("{}{} of “{}”", lots.empty() ? "" : ", ", n, lot);
    }
    if (packs < static_cast<std::size_t>(shape.packs))
      list.push_back(fmt::format(
          "lots together in packs of {} cells: only {} can be filled from {}.",
          shape.places() / static_cast<std::size_t>(shape.packs), count(packs, "pack"), lots));
  }
  if (rules.lots == Lots::apart_in_group) {
    const std::size_t groups = shape.places() / static_cast<std::size_t>(shape.parallel);
    std::map<std::string, std::size_t> cells;
    for (const std::size_t i : usable) ++cells[rules.lot_of[i]];
    std::size_t placeable = 0;  // a group takes one cell of a lot at most
    for (const auto& [lot, n] : cells) placeable += std::min(n, groups);
    if (placeable < shape.places())
      list.push_back(fmt::format("lots apart in groups: {} at most find a place, {} are needed.",
                                 count(placeable, "cell"), count(shape.places(), "cell")));
  }
  return list;
}

/// Search over named packs: every place is known, exchanges keep what is fixed.
class NamedPacks {
 public:
  NamedPacks(const std::vector<Candidate>& candidates, Shape shape, Aim aim, const Rules& rules)
      : candidates_(candidates), shape_(shape), aim_(aim), rules_(rules) {
    series_ = static_cast<std::size_t>(shape.series);
    parallel_ = static_cast<std::size_t>(shape.parallel);
    asked_ = least_by_place(shape, rules);
  }

  /// Fills the places: fixed cells first, then the best of the rest; spares behind.
  void start(std::vector<std::size_t> usable, std::vector<std::size_t> others) {
    const std::size_t places = shape_.places();
    place_.assign(places, none);
    locked_.assign(places, 0);
    const auto put_fixed = [&](const Fixed& f) {
      const auto [from, to] = places_of(shape_, f.pack, f.group);
      for (std::size_t p = from; p < to; ++p)
        if (place_[p] == none) {
          place_[p] = f.cell;
          // In any group of its pack: it may be exchanged inside the pack only.
          locked_[p] = f.group >= 0 ? 2 : 1;
          return;
        }
    };
    for (const Fixed& f : rules_.fixed)
      if (f.group >= 0) put_fixed(f);
    for (const Fixed& f : rules_.fixed)
      if (f.group < 0) put_fixed(f);
    for (const Fixed& f : rules_.fixed) std::erase(usable, f.cell);
    const auto larger = [&](std::size_t a, std::size_t b) {
      return candidates_[a].capacity > candidates_[b].capacity;
    };
    if (rules_.lots == Lots::together_in_pack)  // lots in turn fill packs
      std::stable_sort(usable.begin(), usable.end(), [&](std::size_t a, std::size_t b) {
        return rules_.lot_of[a] < rules_.lot_of[b];
      });
    else
      std::stable_sort(usable.begin(), usable.end(), larger);
    std::size_t next = 0;
    std::vector<std::size_t> free;
    for (std::size_t p = 0; p < places; ++p)
      if (place_[p] == none) free.push_back(p);
    // The best cells first where most is asked for.
    if (rules_.lots != Lots::together_in_pack)
      std::stable_sort(free.begin(), free.end(),
                       [&](std::size_t a, std::size_t b) { return asked_[a] > asked_[b]; });
    for (const std::size_t p : free) place_[p] = usable[next++];
    spares_.assign(usable.begin() + static_cast<std::ptrdiff_t>(next), usable.end());
    spares_may_be_placed_ = spares_.size();
    spares_.insert(spares_.end(), others.begin(), others.end());
  }

  /// Anneals; returns how many demands of lots and spares are still broken.
  std::size_t search(const Effort& effort) {
    const std::size_t places = place_.size(), all = places + spares_may_be_placed_;
    Draws draws(effort.seed);
    recount();
    double score = score_now();
    std::vector<std::size_t> best_place = place_, best_spares = spares_;
    double best = score;
    const std::uint64_t moves =
        effort.moves > 0 ? effort.moves
                         : std::clamp<std::uint64_t>(places * 6000ULL, 200000ULL, 1500000ULL);
    double spread = 0.0;
    for (const Candidate& c : candidates_)
      spread = std::max(spread, std::abs(Ah(c.capacity) - Ah(candidates_.front().capacity)));
    double temperature = std::max(1e-9, 0.05 * spread);
    const double cooling = std::pow(1e-3, 1.0 / double(moves));
    for (std::uint64_t move = 0; move < moves; ++move) {
      temperature *= cooling;
      if ((move & 0x3FFF) == 0x3FFF && effort.go_on &&
          !effort.go_on(double(move) / double(moves))) {
        stopped_ = true;
        break;
      }
      const std::size_t a = draws.below(places), b = draws.below(all);
      if (!may_exchange(a, b)) continue;
      exchange(a, b);
      const double after = score_now();
      if (after >= score || draws.uniform() < std::exp((after - score) / temperature)) {
        score = after;
        if (score > best + 1e-12) best = score, best_place = place_, best_spares = spares_;
      } else {
        exchange(a, b);
      }
    }
    place_ = best_place;
    spares_ = best_spares;
    recount();
    return broken();
  }

  [[nodiscard]] Assignment assignment() const {
    Assignment a;
    a.aim = aim_;
    auto cell = place_.begin();
    for (int k = 0; k < shape_.packs; ++k) {
      Pack& pack = a.packs.emplace_back();
      for (std::size_t g = 0; g < series_; ++g) {
        Group& group = pack.groups.emplace_back();
        group.cells.assign(cell, cell + static_cast<std::ptrdiff_t>(parallel_));
        std::sort(group.cells.begin(), group.cells.end());
        cell += static_cast<std::ptrdiff_t>(parallel_);
      }
    }
    a.spares = spares_;
    std::stable_sort(a.spares.begin(), a.spares.end(), [&](std::size_t x, std::size_t y) {
      return candidates_[x].capacity > candidates_[y].capacity;
    });
    a.stopped = stopped_;
    add_up(a, candidates_);
    return a;
  }

 private:
  static constexpr std::size_t none = static_cast<std::size_t>(-1);

  [[nodiscard]] bool may_exchange(std::size_t a, std::size_t b) const {
    if (a == b || locked_[a] == 2) return false;
    if (b >= place_.size()) return locked_[a] == 0;
    if (locked_[b] == 2) return false;
    const std::size_t pack = series_ * parallel_;
    return (locked_[a] == 0 && locked_[b] == 0) || a / pack == b / pack;
  }
  void exchange(std::size_t a, std::size_t b) {
    std::size_t& x = place_[a];
    std::size_t& y = b < place_.size() ? place_[b] : spares_[b - place_.size()];
    std::swap(x, y);
    if (b < place_.size()) std::swap(locked_[a], locked_[b]);
    count_pack(a / (series_ * parallel_));
    if (b < place_.size()) count_pack(b / (series_ * parallel_));
  }
  void recount() {
    least_.assign(static_cast<std::size_t>(shape_.packs), 0.0);
    wrong_.assign(static_cast<std::size_t>(shape_.packs), 0);
    for (std::size_t k = 0; k < least_.size(); ++k) count_pack(k);
  }
  void count_pack(std::size_t k) {
    double least = 1e300;
    std::size_t wrong = 0;
    const std::size_t from = k * series_ * parallel_;
    for (std::size_t g = 0; g < series_; ++g) {
      double sum = 0.0;
      for (std::size_t m = 0; m < parallel_; ++m) {
        const std::size_t cell = place_[from + g * parallel_ + m];
        sum += Ah(candidates_[cell].capacity);
        wrong += Ah(candidates_[cell].capacity) < asked_[from + g * parallel_ + m] - 1e-9;
        if (rules_.lots == Lots::apart_in_group)
          for (std::size_t o = 0; o < m; ++o)
            wrong += rules_.lot_of[cell] == rules_.lot_of[place_[from + g * parallel_ + o]];
      }
      least = std::min(least, sum);
    }
    if (rules_.lots == Lots::together_in_pack) {
      std::map<std::string_view, std::size_t> lots;
      std::size_t most = 0;
      for (std::size_t p = from; p < from + series_ * parallel_; ++p)
        most = std::max(most, ++lots[rules_.lot_of[place_[p]]]);
      wrong += series_ * parallel_ - most;
    }
    least_[k] = least;
    wrong_[k] = wrong;
  }
  [[nodiscard]] std::size_t broken() const {
    std::size_t n = std::accumulate(wrong_.begin(), wrong_.end(), std::size_t{0});
    std::size_t good = 0;
    for (const std::size_t s : spares_) good += candidates_[s].capacity >= rules_.spare_capacity;
    if (good < rules_.spares) n += rules_.spares - good;
    return n;
  }
  [[nodiscard]] double score_now() const {
    const double worth = score_of({.packs = std::accumulate(least_.begin(), least_.end(), 0.0),
                                   .smallest = *std::min_element(least_.begin(), least_.end())},
                                  aim_ == Aim::even_packs);
    const bool demands =
        rules_.lots != Lots::free || rules_.spares > 0 || !rules_.place_least.empty();
    return worth - (demands ? 1e8 * double(broken()) : 0.0);
  }

  const std::vector<Candidate>& candidates_;
  Shape shape_;
  Aim aim_;
  const Rules& rules_;
  std::size_t series_ = 1, parallel_ = 1;
  std::vector<std::size_t> place_, spares_;
  std::size_t spares_may_be_placed_ = 0;  ///< of the spares, the first so many
  std::vector<char> locked_;              ///< 0: free, 1: within its pack, 2: not at all
  std::vector<double> least_, asked_;
  std::vector<std::size_t> wrong_;
  bool stopped_ = false;
};

/// `assign` from some of the candidates.
Assignment assign_some(const std::vector<Candidate>& candidates,
                       const std::vector<std::size_t>& usable, Shape shape, Aim aim,
                       const Effort& effort) {
  std::vector<Candidate> some;
  for (const std::size_t i : usable) some.push_back(candidates[i]);
  Assignment a = assign(some, shape, aim, effort);
  for (Pack& pack : a.packs)
    for (Group& group : pack.groups)
      for (std::size_t& cell : group.cells) cell = usable[cell];
  for (std::size_t& spare : a.spares) spare = usable[spare];
  return a;
}

}  // namespace

std::variant<Assignment, Conflict> assign_under_rules(const std::vector<Candidate>& candidates,
                                                      Shape shape, Aim aim, const Rules& rules,
                                                      const Effort& effort) {
  CHECK(rules.lots == Lots::free || rules.lot_of.size() == candidates.size());
  if (rules.none()) {
    if (candidates.size() < shape.places())
      return Conflict{{fmt::format("{} for {}.", count(candidates.size(), "cell"),
                                   count(shape.places(), "place"))}};
    return assign(candidates, shape, aim, effort);
  }
  std::vector<std::size_t> usable, others, possible_spares;
  for (std::size_t i = 0; i < candidates.size(); ++i) {
    if (std::find(rules.kept_out.begin(), rules.kept_out.end(), i) != rules.kept_out.end())
      continue;
    (candidates[i].capacity >= rules.least_capacity ? usable : others).push_back(i);
    if (candidates[i].capacity >= rules.spare_capacity) possible_spares.push_back(i);
  }
  Conflict conflict{conflicts_of(candidates, shape, rules, usable, possible_spares)};
  if (!conflict.sentences.empty()) return conflict;

  // Rules that only say which cells may be placed leave the search, and its proof, as they are.
  if (rules.fixed.empty() && rules.place_least.empty() && rules.lots == Lots::free) {
    Assignment free = assign_some(candidates, usable, shape, aim, effort);
    free.spares.insert(free.spares.end(), others.begin(), others.end());
    std::stable_sort(free.spares.begin(), free.spares.end(), [&](std::size_t x, std::size_t y) {
      return candidates[x].capacity > candidates[y].capacity;
    });
    const auto good = std::count_if(free.spares.begin(), free.spares.end(), [&](std::size_t i) {
      return candidates[i].capacity >= rules.spare_capacity;
    });
    if (static_cast<std::size_t>(good) >= rules.spares) return free;
  }
  NamedPacks search(candidates, shape, aim, rules);
  search.start(usable, others);
  if (const std::size_t broken = search.search(effort); broken > 0)
    return Conflict{
        {fmt::format("of the rules on lots, places and spares {} stayed broken in all that the "
                     "search tried.",
                     count(broken, "demand"))},
        false};
  Assignment a = search.assignment();
  std::vector<double> sorted;
  for (const std::size_t i : usable) sorted.push_back(Ah(candidates[i].capacity));
  std::sort(sorted.begin(), sorted.end(), std::greater<>());
  const std::size_t groups = shape.places() / static_cast<std::size_t>(shape.parallel);
  const double bound =
      aim == Aim::most_energy
          ? most_energy_bound(sorted, shape)
          : smallest_group_bound(sorted, groups, static_cast<std::size_t>(shape.parallel));
  const double value = Ah(value_of(a));
  a.upper_bound = std::max(bound, value) * units::Ah;
  a.gap = std::max(0.0, 1.0 - value / Ah(a.upper_bound));
  a.proven_optimal = a.gap <= 1e-9 && (aim == Aim::most_energy || shape.packs == 1);
  if (a.proven_optimal) a.gap = 0.0;
  a.method = "exchanges between named packs (annealed), under your rules";
  return a;
}

std::vector<std::size_t> held_by_rules(const Assignment& a, const Rules& rules) {
  std::vector<std::size_t> held;
  for (const Fixed& f : rules.fixed) held.push_back(f.cell);
  for (const PlaceLeast& p : rules.place_least) {
    const Pack& pack = a.packs[static_cast<std::size_t>(p.pack)];
    for (std::size_t g = 0; g < pack.groups.size(); ++g)
      if (p.group < 0 || static_cast<std::size_t>(p.group) == g)
        held.insert(held.end(), pack.groups[g].cells.begin(), pack.groups[g].cells.end());
  }
  return held;
}

namespace {

/// How far the later aims are reached: smaller is better.
double spread_of(const Assignment& a, const std::vector<Candidate>& candidates, LaterAim::Kind kind,
                 std::size_t pack) {
  double sum = 0.0;
  if (kind == LaterAim::Kind::even_resistance) {
    for (const Group& g : a.packs[pack].groups) {
      double mean = 0.0, squares = 0.0;
      for (const std::size_t i : g.cells)
        mean += candidates[i].resistance_mOhm / double(g.cells.size());
      for (const std::size_t i : g.cells)
        squares += std::pow(candidates[i].resistance_mOhm - mean, 2);
      sum += mean > 0.0 ? squares / (mean * mean) : 0.0;
    }
    return sum;
  }
  const auto value_of = [&](std::size_t i) {
    return kind == LaterAim::Kind::even_leak ? candidates[i].leak_mA : candidates[i].tail_share;
  };
  double mean = 0.0, n = 0.0, squares = 0.0;
  for (const Group& g : a.packs[pack].groups)
    for (const std::size_t i : g.cells) mean += value_of(i), n += 1.0;
  mean /= n;
  for (const Group& g : a.packs[pack].groups)
    for (const std::size_t i : g.cells) squares += std::pow(value_of(i) - mean, 2);
  return squares;
}

}  // namespace

Assignment refine(Assignment a, const std::vector<Candidate>& candidates,
                  const std::vector<LaterAim>& aims, const std::vector<std::size_t>& locked,
                  const Effort& effort) {
  struct At {
    std::size_t pack, group, member;
  };
  std::vector<At> free;
  for (std::size_t p = 0; p < a.packs.size(); ++p)
    for (std::size_t g = 0; g < a.packs[p].groups.size(); ++g)
      for (std::size_t m = 0; m < a.packs[p].groups[g].cells.size(); ++m)
        if (std::find(locked.begin(), locked.end(), a.packs[p].groups[g].cells[m]) == locked.end())
          free.push_back({p, g, m});
  if (free.size() < 2) return a;
  const double had = Ah(value_of(a)), had_bank = Ah(a.bank_capacity);
  Draws draws(effort.seed);
  std::vector<std::pair<LaterAim::Kind, double>> reached;
  const auto whole = [&](LaterAim::Kind kind) {
    double sum = 0.0;
    for (std::size_t p = 0; p < a.packs.size(); ++p) sum += spread_of(a, candidates, kind, p);
    return sum;
  };
  for (const LaterAim& later : aims) {
    const double floor = had * (1.0 - later.may_cost) - 1e-9;
    const double bank_floor = had_bank * (1.0 - later.may_cost) - 1e-9;
    std::vector<double> now;
    for (std::size_t p = 0; p < a.packs.size(); ++p)
      now.push_back(spread_of(a, candidates, later.kind, p));
    const std::uint64_t moves =
        effort.moves > 0 ? effort.moves
                         : std::clamp<std::uint64_t>(free.size() * 1500ULL, 50000ULL, 400000ULL);
    for (std::uint64_t move = 0; move < moves; ++move) {
      const At x = free[draws.below(free.size())], y = free[draws.below(free.size())];
      if (x.pack == y.pack && x.group == y.group) continue;
      Group& gx = a.packs[x.pack].groups[x.group];
      Group& gy = a.packs[y.pack].groups[y.group];
      const Group old_x = gx, old_y = gy;
      const base::AmpHours px = a.packs[x.pack].capacity, py = a.packs[y.pack].capacity;
      const base::AmpHours bank = a.bank_capacity, smallest = a.smallest_pack;
      std::swap(gx.cells[x.member], gy.cells[y.member]);
      const base::AmpHours gain =
          candidates[gx.cells[x.member]].capacity - candidates[gy.cells[y.member]].capacity;
      gx.capacity += gain;
      gy.capacity -= gain;
      for (const std::size_t p : {x.pack, y.pack}) {
        Pack& pack = a.packs[p];
        pack.capacity = pack.groups.front().capacity;
        for (const Group& g : pack.groups) pack.capacity = std::min(pack.capacity, g.capacity);
      }
      a.bank_capacity = {};
      a.smallest_pack = a.packs.front().capacity;
      for (const Pack& p : a.packs)
        a.bank_capacity += p.capacity, a.smallest_pack = std::min(a.smallest_pack, p.capacity);
      bool better = Ah(value_of(a)) >= floor && Ah(a.bank_capacity) >= bank_floor;
      double sx = 0.0, sy = 0.0;
      if (better) {
        sx = spread_of(a, candidates, later.kind, x.pack);
        sy = x.pack == y.pack ? 0.0 : spread_of(a, candidates, later.kind, y.pack);
        const double before = x.pack == y.pack ? now[x.pack] : now[x.pack] + now[y.pack];
        better = sx + sy < before - 1e-12;
        for (const auto& [kind, value] : reached) better = better && whole(kind) <= value + 1e-12;
      }
      if (better) {
        now[x.pack] = sx;
        if (x.pack != y.pack) now[y.pack] = sy;
        continue;
      }
      gx = old_x, gy = old_y;
      a.packs[x.pack].capacity = px;
      a.packs[y.pack].capacity = py;
      a.bank_capacity = bank, a.smallest_pack = smallest;
    }
    reached.emplace_back(later.kind, whole(later.kind));
    switch (later.kind) {
      case LaterAim::Kind::even_resistance:
        a.method += "; then cells exchanged for even resistance in the groups";
        break;
      case LaterAim::Kind::even_leak:
        a.method += "; then cells exchanged for even self-discharge in the packs";
        break;
      case LaterAim::Kind::even_charge_top:
        a.method += "; then cells exchanged so that a pack's cells reach full alike";
        break;
    }
  }
  for (Pack& pack : a.packs)
    for (Group& g : pack.groups) std::sort(g.cells.begin(), g.cells.end());
  add_up(a, candidates);
  // Even packs were proven in both halves of the aim: what costs either is no longer.
  a.proven_optimal =
      a.proven_optimal && Ah(value_of(a)) >= had - 1e-9 && Ah(a.bank_capacity) >= had_bank - 1e-9;
  if (a.proven_optimal) a.gap = 0.0;
  return a;
}

Assignment cool_ones_to_warm_places(Assignment a, const std::vector<Candidate>& candidates,
                                    const std::vector<double>& warmth,
                                    const std::vector<std::size_t>& locked) {
  for (Pack& pack : a.packs) {
    CHECK(warmth.size() == pack.groups.size());
    std::vector<std::size_t> places, groups;
    for (std::size_t g = 0; g < pack.groups.size(); ++g) {
      const bool stays =
          std::any_of(pack.groups[g].cells.begin(), pack.groups[g].cells.end(), [&](std::size_t i) {
            return std::find(locked.begin(), locked.end(), i) != locked.end();
          });
      if (!stays) places.push_back(g), groups.push_back(g);
    }
    const auto resistance = [&](std::size_t g) {
      double sum = 0.0;
      for (const std::size_t i : pack.groups[g].cells) sum += candidates[i].resistance_mOhm;
      return sum;
    };
    std::stable_sort(places.begin(), places.end(),
                     [&](std::size_t x, std::size_t y) { return warmth[x] > warmth[y]; });
    std::stable_sort(groups.begin(), groups.end(),
                     [&](std::size_t x, std::size_t y) { return resistance(x) < resistance(y); });
    std::vector<Group> ordered = pack.groups;
    for (std::size_t k = 0; k < places.size(); ++k) ordered[places[k]] = pack.groups[groups[k]];
    pack.groups = std::move(ordered);
  }
  return a;
}

}  // namespace match

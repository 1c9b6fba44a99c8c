// SPDX-License-Identifier: Apache-2.0
#include "commission/checklists.hpp"

#include <array>

namespace commission {
namespace {

using findings::Id;

constexpr Held nothing;
constexpr Held any_stop{{}, true};
constexpr std::array sense_ids = {Id::sense_reversed,  Id::sense_doubled,    Id::sense_skips,
                                  Id::sense_wrong_pin, Id::sense_incomplete, Id::cell_reversed};
constexpr Held sense_findings{sense_ids};
constexpr std::array joint_ids = {Id::joint_stands_out, Id::joint_drops_too_much};
constexpr Held joints{joint_ids};
constexpr std::array fuse_ids = {
    Id::fuse_cannot_break, Id::device_voltage_too_low, Id::breaker_polarised, Id::no_pack_fuse,
    Id::no_pack_run,       Id::fuse_above_cable,       Id::cable_burns_first, Id::unprotected_run,
    Id::fuse_may_not_clear};
constexpr Held pack_fuse{fuse_ids};
constexpr std::array bolt_ids = {Id::bolt_too_short, Id::bolt_bottoms_out, Id::thread_engagement};
constexpr Held bolts{bolt_ids};
constexpr std::array sensor_ids = {Id::sensor_on_wall};
constexpr Held sensors{sensor_ids};

constexpr std::array<CheckStep, 7> receiving = {
    CheckStep{
        "receiving/count",
        "Cells counted against the paper; the crate photographed before it is opened and after."},
    CheckStep{
        "receiving/look",
        "Every cell looked at: dents, bulges, leaks, terminals, code plate. Any that leaks or smells goes outdoors, alone."},
    CheckStep{"receiving/label",
              "Every cell labelled, the label photographed with its code plate."},
    CheckStep{"receiving/voltage",
              "Voltage of each written down; below 2.0 V set apart, below 1.5 V never charged."},
    CheckStep{"receiving/resistance",
              "1 kHz resistance of each, with four wires, at the same spot."},
    CheckStep{"receiving/mass", "Mass of each, and thickness at the middle of its face."},
    CheckStep{"receiving/deadline",
              "The day until which the seller must be told, written on the wall."}};
constexpr std::array<CheckStep, 6> proof = {
    CheckStep{
        "proof/high",
        "High trip: its limit moved down to the highest cell while charging. Write the voltage at which it opened, what opened and after how long; put the limit back.",
        Reading::trip_high_V, nothing, true},
    CheckStep{
        "proof/low",
        "Low trip: its limit moved up to the lowest cell while discharging. Write the voltage, what opened and after how long; put the limit back.",
        Reading::trip_low_V, nothing, true},
    CheckStep{
        "proof/cold",
        "Charge stop in the cold: its limit moved up to the cells' temperature while charging. Write the temperature, what stopped and after how long; put the limit back.",
        Reading::trip_cold_C, nothing, true},
    CheckStep{
        "proof/current",
        "Over-current of the BMS, at a small current, never of a fuse: its limit moved below the present current. Write what opened and after how long; put the limit back.",
        Reading::none, nothing, true},
    CheckStep{
        "proof/communication",
        "Communication unplugged while charging and while discharging. Write what stopped and after how long. If nothing stops, the bank is not left alone until each device's own limits have been proved.",
        Reading::none, nothing, true},
    CheckStep{
        "proof/isolator",
        "Load and charger off, then the isolator opened: the bank's voltage gone behind it, and the inverter's capacitors seen to empty.",
        Reading::none, nothing, true}};
constexpr std::array<CheckStep, 6> baseline = {
    CheckStep{
        "baseline/capacity",
        "Capacity from full to the inverter's stop, in one go, with the load and the temperature.",
        Reading::capacity_Ah, nothing, true},
    CheckStep{"baseline/round-trip",
              "Energy out over energy in, from full to full, at the house's meter.",
              Reading::round_trip_percent},
    CheckStep{"baseline/joints", "Joint map of every pack at a steady current of {fifth} or more.",
              Reading::none, joints},
    CheckStep{"baseline/spread", "Spread of the cells at the end of a full charge, rested.",
              Reading::spread_at_top_mV},
    CheckStep{"baseline/standby", "What the bank and the inverter draw with nothing on.",
              Reading::standby_W},
    CheckStep{"baseline/photos",
              "Photographs of every joint, label, fuse and screen, kept with the book."}};
constexpr std::array<CheckStep, 9> assembly = {
    CheckStep{
        "assembly/place",
        "Every cell's label agrees with its place on the drawing; plus and minus face as drawn, and a meter says so at every cell."},
    CheckStep{
        "assembly/tools",
        "Not alone. Tools insulated; rings, watch and chain off; face shield and insulating gloves on; a sheet over every row that is not worked on."},
    CheckStep{
        "assembly/insulation",
        "Insulation sheet between the cells; case, rods and plates cannot touch a terminal; an insulating wall between the pack's own plus and minus."},
    CheckStep{"assembly/faces",
              "Terminal faces cleaned and dry; bar directly on the terminal, no washer between."},
    CheckStep{
        "assembly/bolt",
        "Bolt longer than the stack by what the sheet asks, and no longer than the thread is deep.",
        Reading::none, bolts},
    CheckStep{
        "assembly/slack",
        "Links with slack for the cells to breathe, or the row held as the cell's sheet asks. One link at a time, the meter on both ends before it goes on, its free end held and covered."},
    CheckStep{"assembly/torque",
              "Every bolt to the torque of the cell's sheet, and marked when done."},
    CheckStep{
        "assembly/fuse",
        "Fuse of the stated breaking capacity next to each pack's plus, before any lead leaves the pack.",
        Reading::none, pack_fuse},
    CheckStep{"assembly/covered",
              "Every terminal covered again before the pack is moved or left."}};
constexpr std::array<CheckStep, 7> sense_leads = {
    CheckStep{
        "sense/meter",
        "The plug is still out; each lead fused or current-limited at its cell. Minus probe on the pin of the pack's minus: pin 0 here, which the BMS's own sheet may number 1."},
    CheckStep{"sense/steps",
              "Each pin reads one group more than the pin before, all with the same sign."},
    CheckStep{"sense/pins", "No pin is missing, doubled or reversed.", Reading::none,
              sense_findings},
    CheckStep{"sense/minus-first",
              "The pack's minus is joined to the BMS before the plug goes in."},
    CheckStep{"sense/plug", "The plug goes in once, square and whole.", Reading::none,
              sense_findings, false, "sense/pins"},
    CheckStep{"sense/same-voltages",
              "The BMS reads the same group voltages as the meter, within 10 mV."},
    CheckStep{"sense/sensors",
              "Temperature sensors lie on cells in the middle and at the edge, not on the wall.",
              Reading::none, sensors}};
constexpr std::array<CheckStep, 13> balancing = {
    CheckStep{"balance/rest", "All cells rest between 2.5 and 3.4 V; any other is set aside."},
    CheckStep{
        "balance/series",
        "Charge the assembled pack in series, its BMS watching, with {fifth} or less, until the first cell reaches 3.60 V. Then measure every link: millivolts at that current.",
        Reading::none, any_stop, false, "assembly/fuse sense/plug"},
    CheckStep{
        "balance/apart",
        "Charger off and disconnected, the pack isolated. Sense plug out of the BMS, sense leads off the cells, before any link is touched.",
        Reading::none, joints},
    CheckStep{"balance/links-off",
              "Take the links off one by one, the free end held and covered. The cells stay live."},
    CheckStep{
        "balance/turned",
        "Turn the cells so that every plus stands on the same side. One cell wrong way round is a dead short without a fuse.",
        Reading::none},
    CheckStep{
        "balance/alike",
        "Rested an hour, above 5 °C. Minuses joined by their bar, then the meter from the first cell's plus to every other plus: below 0.05 V. A reading of 3 V or 6 V means that a cell stands the wrong way: stop.",
        Reading::between_cells_mV},
    CheckStep{"balance/bars", "Pluses joined, every bar covered; a fuse in the supply's lead.",
              Reading::none, nothing, false, "balance/turned balance/alike"},
    CheckStep{
        "balance/supply",
        "Set the supply to 3.60 V open circuit, measured with a meter, before it touches a cell; never above 3.65 V.",
        Reading::supply_open_V},
    CheckStep{"balance/connect",
              "Connect, and stay. Check the voltage at the cells, not at the supply's display.",
              Reading::none, nothing, false, "balance/supply balance/bars"},
    CheckStep{"balance/no-raise", "Never raise the supply's voltage to make up for its leads."},
    CheckStep{"balance/done", "Done when the current has fallen below {tail}."},
    CheckStep{"balance/spread", "Rest half a day; the spread above 3.40 V is below 5 mV.",
              Reading::spread_at_top_mV},
    CheckStep{
        "balance/back",
        "Bars off one by one, cells turned back as drawn. Then “Putting a pack together” and “Sense leads” once more, from the first line."}};
constexpr std::array<CheckStep, 6> first_power = {
    CheckStep{"first-power/settings",
              "Settings sheet compared with every device, line by line, and signed.", Reading::none,
              any_stop},
    CheckStep{"first-power/polarity",
              "Polarity of every pack and of the inverter's input measured, not read off colours.",
              Reading::pack_V, nothing, false, "assembly/fuse sense/plug"},
    CheckStep{
        "first-power/joined",
        "Each pack was charged full alone, has rested, and they lie within 0.1 V of each other before they are joined.",
        Reading::pack_difference_mV, any_stop, false, "first-power/polarity first-power/settings"},
    CheckStep{
        "first-power/precharge",
        "Inverter switched off. Precharge first; the voltage across the open contactor is below one volt before it closes. If it is not after five times R times C, stop and search: the resistor burns if it is left on.",
        Reading::precharge_left_V, any_stop, false, "first-power/polarity"},
    CheckStep{"first-power/current-seen",
              "The BMS shows the charging current: nothing by-passes it.", Reading::none, any_stop,
              false, "first-power/precharge"},
    CheckStep{"first-power/first-charge",
              "First charge of the joined bank with {tenth} at most, watched to the end.",
              Reading::none, any_stop, false, "first-power/precharge first-power/settings"}};
constexpr std::array<CheckStep, 3> full_load = {
    CheckStep{
        "full-load/half-hour",
        "First full load for half an hour, every protection proved before; every joint measured for warmth with an infrared meter or camera. No hand on a live bar. A joint too warm: load off at once.",
        Reading::warmest_joint_K, any_stop, false, "proof/high proof/low proof/current"},
    CheckStep{"full-load/joints",
              "The joint map under load: insulated probes, one at a time, nothing metal on you.",
              Reading::none, joints},
    CheckStep{"full-load/sharing",
              "Sharing between packs measured with a clamp: none above what the plan foresees."}};
constexpr std::array<CheckStep, 7> yearly = {
    CheckStep{
        "yearly/torque",
        "Torque marks unmoved. Bank isolated, and the cells stay live: insulated tool, all else covered, two bolts of each pack tried at their torque."},
    CheckStep{"yearly/joints",
              "Millivolts across every link at the usual current, against the first year's."},
    CheckStep{"yearly/spread", "A full charge with the spread at its end written down.",
              Reading::spread_at_top_mV},
    CheckStep{"yearly/capacity",
              "Capacity between full and the inverter's stop, against the first year's.",
              Reading::capacity_Ah},
    CheckStep{"yearly/protections",
              "Each protection seen to act once, by moving its limit and back."},
    CheckStep{"yearly/alarm", "Alarm tested; dust out; nothing stored against the packs."},
    CheckStep{"yearly/spares",
              "Spares at a third to a half of charge, with the next date to look at them."}};
constexpr std::array<Checklist, 9> lists = {
    Checklist{"The crate has come", "the same day, before anything is tested", false, receiving},
    Checklist{"Putting a pack together", "at the bench", true, assembly},
    Checklist{"Sense leads", "before the BMS is plugged in", true, sense_leads},
    Checklist{"Top balance", "once, before the bank is closed; stay with it", true, balancing},
    Checklist{"First power", "on the day of commissioning", false, first_power},
    Checklist{"Every protection seen to act", "after the first charge, before full load", true,
              proof},
    Checklist{"Full load", "once every protection has been seen to act", false, full_load},
    Checklist{"What it was on the first day", "before it goes to work", false, baseline},
    Checklist{"Every year", "and after every change", false, yearly}};

constexpr std::array<std::string_view, 16> all_cautions = {
    "A pack can drive thousands of amperes through a dropped tool. Metal melts and burns; the eyes first.",
    "Arcs at 24 and 48 V direct current do not go out by themselves. Never open a fuse, plug or lug under load.",
    "Below 60 V does not mean safe: burns and arcs remain, and the inverter's and the panels' sides can kill.",
    "Capacitors stay charged. Measure before you touch.",
    "One fuse next to each pack's plus, rated for direct current, for the voltage when full and for the fault current.",
    "Precharge before an inverter is joined; check polarity with a meter first.",
    "Join packs only when full and within 0.1 V. Never mix chemistries, cell counts or ages on one bus.",
    "Never charge below the cell's limit of temperature. Never bring back a cell found below 1.5 V.",
    "A loose joint is a fire. Torque to the cell's sheet, mark it, measure it, look again after the first cycles.",
    "Burning or venting cells give off gas that is poisonous and can explode. Get out, call the fire service, do not fight it in a closed room.",
    "Not in bedrooms, escape routes or lofts; nothing that burns behind or above; a smoke alarm above.",
    "A pack is heavy: its mass stands in this book. Lift it with help; see that floor and wall carry it.",
    "Never alone. A second person knows the card by the door and can switch off.",
    "Sense leads are fused or current-limited at the cell: a thin wire on a live cell burns.",
    "Locked away from children and animals; dry, and out of reach of vehicles.",
    "The house's side, with change-over, residual-current protection and no way back into the grid, is a licensed electrician's."};

constexpr std::array<std::string_view, 7> emergency = {
    "Smoke, hissing, a sweet or sharp smell, or fire: everybody out, doors shut behind you.",
    "Call the fire service. Say: lithium iron phosphate battery store, and the energy on this card.",
    "Only if it is safe and nothing smokes: inverter off at its switch first, so that nothing opens under load, then the solar isolator. Panels and their cables stay live in daylight.",
    "Still safe, and no smoke: then the battery isolator. The packs themselves stay live.",
    "Stay out of the gas. Do not open, move or try to put out the packs; leave that to the fire service.",
    "Somebody shocked: switch off before you touch them, call the ambulance. Breathed the gas or splashed: fresh air, rinse with water for a quarter of an hour, see a doctor even if well.",
    "Nobody goes back until the fire service says so; a store that has vented can light again hours or days later."};

}  // namespace

std::span<const Checklist> checklists() { return lists; }
std::span<const std::string_view> cautions() { return all_cautions; }
std::span<const std::string_view> emergency_steps() { return emergency; }

}  // namespace commission

// SPDX-License-Identifier: Apache-2.0
#include "commission/checklists.hpp"

#include <array>

namespace commission {
namespace {

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
        Reading::trip_high_V, "", true},
    CheckStep{
        "proof/low",
        "Low trip: its limit moved up to the lowest cell while discharging. Write the voltage, what opened and after how long; put the limit back.",
        Reading::trip_low_V, "", true},
    CheckStep{
        "proof/cold",
        "Charge stop in the cold: its limit moved up to the cells' temperature while charging. Write the temperature, what stopped and after how long; put the limit back.",
        Reading::trip_cold_C, "", true},
    CheckStep{
        "proof/current",
        "Over-current: its limit moved below the present current. Write what opened and after how long; put the limit back.",
        Reading::none, "", true},
    CheckStep{
        "proof/communication",
        "Communication unplugged while charging and while discharging. Write what stopped and after how long.",
        Reading::none, "", true},
    CheckStep{
        "proof/isolator",
        "The isolator taken off without load: the bank's voltage gone behind it, and the inverter's capacitors seen to empty.",
        Reading::none, "", true}};
constexpr std::array<CheckStep, 6> baseline = {
    CheckStep{
        "baseline/capacity",
        "Capacity from full to the inverter's stop, in one go, with the load and the temperature.",
        Reading::capacity_Ah, "", true},
    CheckStep{"baseline/round-trip",
              "Energy out over energy in, from full to full, at the house's meter.",
              Reading::round_trip_percent},
    CheckStep{"baseline/joints",
              "Joint map of every pack at a steady current of a fifth of capacity an hour or more.",
              Reading::none, "joint-stands-out"},
    CheckStep{"baseline/spread", "Spread of the cells at the end of a full charge, rested.",
              Reading::spread_at_top_mV},
    CheckStep{"baseline/standby", "What the bank and the inverter draw with nothing on.",
              Reading::standby_W},
    CheckStep{"baseline/photos",
              "Photographs of every joint, label, fuse and screen, kept with the book."}};
constexpr std::array<CheckStep, 9> before_assembly = {
    CheckStep{
        "assembly/place",
        "Every cell's label agrees with its place on the drawing; plus and minus face as drawn."},
    CheckStep{
        "assembly/tools",
        "Tools insulated; rings, watch and chain off; eye protection on; one pole of the work covered."},
    CheckStep{"assembly/insulation",
              "Insulation sheet between the cells; case, rods and plates cannot touch a terminal."},
    CheckStep{"assembly/faces",
              "Terminal faces cleaned and dry; bar directly on the terminal, no washer between."},
    CheckStep{
        "assembly/slack",
        "Links with slack for the cells to breathe, or the row held as the cell's sheet asks."},
    CheckStep{"assembly/torque",
              "Every bolt to the torque of the cell's sheet, and marked when done."},
    CheckStep{
        "assembly/bolt",
        "Bolt longer than the stack by what the sheet asks, and no longer than the thread is deep.",
        Reading::none, "bolt-too-short bolt-bottoms-out thread-engagement"},
    CheckStep{
        "assembly/joints",
        "Each link measured: millivolts at a known current; none stands out from its neighbours by half.",
        Reading::none, "joint-stands-out"},
    CheckStep{
        "assembly/fuse",
        "Fuse of the stated breaking capacity next to each pack's plus, before any lead leaves the pack.",
        Reading::none, "fuse-cannot-break device-voltage-too-low breaker-polarised no-pack-fuse"}};
constexpr std::array<CheckStep, 7> sense_leads = {
    CheckStep{"sense/meter",
              "The plug is still out. Meter on the plug's pins, minus probe on pin 1."},
    CheckStep{"sense/steps",
              "Each pin reads one group more than the pin before, all with the same sign."},
    CheckStep{"sense/pins", "No pin is missing, doubled or reversed.", Reading::none,
              "sense-reversed sense-doubled sense-skips sense-wrong-pin"},
    CheckStep{"sense/minus-first",
              "The pack's minus is joined to the BMS before the plug goes in."},
    CheckStep{"sense/plug", "The plug goes in once, square and whole.", Reading::none,
              "sense-reversed sense-doubled sense-skips sense-wrong-pin"},
    CheckStep{"sense/same-voltages",
              "The BMS reads the same group voltages as the meter, within 10 mV."},
    CheckStep{"sense/sensors",
              "Temperature sensors lie on cells in the middle and at the edge, not on the wall.",
              Reading::none, "sensor-on-wall"}};
constexpr std::array<CheckStep, 9> balancing = {
    CheckStep{"balance/rest", "All cells rest between 2.5 and 3.4 V; any other is set aside."},
    CheckStep{
        "balance/series",
        "Charge the assembled pack in series, its BMS watching, at a fifth of capacity an hour or less, until the first cell reaches 3.60 V."},
    CheckStep{"balance/links-off",
              "Disconnect. Take the links off one by one, the free end covered."},
    CheckStep{
        "balance/alike",
        "All cells within 0.05 V of each other and above 5 °C; only then set them in parallel, every bar covered, a fuse in the supply's lead."},
    CheckStep{
        "balance/supply",
        "Set the supply to 3.60 V open circuit, measured with a meter, before it touches a cell; never above 3.65 V.",
        Reading::supply_open_V},
    CheckStep{"balance/connect",
              "Connect, and stay. Check the voltage at the cells, not at the supply's display."},
    CheckStep{"balance/no-raise", "Never raise the supply's voltage to make up for its leads."},
    CheckStep{
        "balance/done",
        "Done when the current has fallen to a hundredth of one cell's capacity an hour, or two."},
    CheckStep{"balance/spread",
              "Rest half a day; the spread above 3.40 V is below 5 mV; then back into series.",
              Reading::spread_at_top_mV}};
constexpr std::array<CheckStep, 9> first_power = {
    CheckStep{"first-power/polarity",
              "Polarity of every pack and of the inverter's input measured, not read off colours.",
              Reading::pack_V},
    CheckStep{"first-power/joined",
              "Packs rested, full, and within 0.1 V of each other before they are joined.",
              Reading::pack_difference_mV},
    CheckStep{
        "first-power/precharge",
        "Precharge first; the voltage across the open contactor is below one volt before it closes.",
        Reading::precharge_left_V, "*"},
    CheckStep{"first-power/current-seen",
              "The BMS shows the charging current: nothing by-passes it."},
    CheckStep{"first-power/first-charge",
              "First charge at a tenth of capacity an hour, watched to the end.", Reading::none,
              "*"},
    CheckStep{
        "first-power/protections",
        "Each protection seen to act by moving its limit to the present reading and back, never by overcharging, emptying or shorting: high, low, cold charge, over-current; communication unplugged."},
    CheckStep{
        "first-power/first-load",
        "First full load for half an hour; every joint measured for warmth with an infrared meter or camera. No hand on a live bar.",
        Reading::warmest_joint_K, "*"},
    CheckStep{"first-power/sharing",
              "Sharing between packs measured with a clamp: none above what the plan foresees."},
    CheckStep{"first-power/settings",
              "Settings sheet compared with every device, line by line, and signed."}};
constexpr std::array<CheckStep, 7> yearly = {
    CheckStep{
        "yearly/torque",
        "Torque marks unmoved. Bank isolated, insulated tool: two bolts of each pack tried at their torque."},
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
constexpr std::array<Checklist, 8> lists = {
    Checklist{"The crate has come", "the same day, before anything is tested", false, receiving},
    Checklist{"Before the links go on", "at the bench", true, before_assembly},
    Checklist{"Sense leads", "before the BMS is plugged in", true, sense_leads},
    Checklist{"Top balance", "once, before the bank is closed; stay with it", true, balancing},
    Checklist{"First power", "on the day of commissioning", false, first_power},
    Checklist{"Every protection seen to act", "after first power, without load where it says so",
              true, proof},
    Checklist{"What it was on the first day", "before it goes to work", false, baseline},
    Checklist{"Every year", "and after every change", false, yearly}};

constexpr std::array<std::string_view, 12> all_cautions = {
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
    "A pack is heavy: its mass stands in this book. Lift it with help; see that floor and wall carry it."};

constexpr std::array<std::string_view, 7> emergency = {
    "Smoke, hissing, a sweet or sharp smell, or fire: everybody out, doors shut behind you.",
    "Call the fire service. Say: lithium iron phosphate battery store, and the energy on this card.",
    "Only if it is safe and nothing smokes: inverter off at its switch, then the solar isolator. Panels and their cables stay live in daylight.",
    "Then the battery isolator.",
    "Stay out of the gas. Do not open, move or try to put out the packs; leave that to the fire service.",
    "Somebody shocked: switch off before you touch them, call the ambulance. Breathed the gas or splashed: fresh air, rinse with water for a quarter of an hour, see a doctor even if well.",
    "Nobody goes back until the fire service says so; a store that has vented can light again hours or days later."};

}  // namespace

std::span<const Checklist> checklists() { return lists; }
std::span<const std::string_view> cautions() { return all_cautions; }
std::span<const std::string_view> emergency_steps() { return emergency; }

}  // namespace commission

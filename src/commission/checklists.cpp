// SPDX-License-Identifier: Apache-2.0
#include "commission/checklists.hpp"

#include <array>

namespace commission {
namespace {

constexpr std::array<std::string_view, 9> before_assembly = {
    "Every cell's label agrees with its place on the drawing; plus and minus face as drawn.",
    "Tools insulated; rings, watch and chain off; eye protection on; one pole of the work covered.",
    "Insulation sheet between the cells; case, rods and plates cannot touch a terminal.",
    "Terminal faces cleaned and dry; bar directly on the terminal, no washer between.",
    "Links with slack for the cells to breathe, or the row held as the cell's sheet asks.",
    "Every bolt to the torque of the cell's sheet, and marked when done.",
    "Bolt longer than the stack by what the sheet asks, and no longer than the thread is deep.",
    "Each link measured: millivolts at a known current; none stands out from its neighbours by half.",
    "Fuse of the stated breaking capacity next to each pack's plus, before any lead leaves the pack."};
constexpr std::array<std::string_view, 7> sense_leads = {
    "The plug is still out. Meter on the plug's pins, minus probe on pin 1.",
    "Each pin reads one group more than the pin before, all with the same sign.",
    "No pin is missing, doubled or reversed.",
    "The pack's minus is joined to the BMS before the plug goes in.",
    "The plug goes in once, square and whole.",
    "The BMS reads the same group voltages as the meter, within 10 mV.",
    "Temperature sensors lie on cells in the middle and at the edge, not on the wall."};
constexpr std::array<std::string_view, 9> balancing = {
    "All cells rest between 2.5 and 3.4 V; any other is set aside.",
    "Charge the assembled pack in series, its BMS watching, at a fifth of capacity an hour or less, until the first cell reaches 3.60 V.",
    "Disconnect. Take the links off one by one, the free end covered.",
    "All cells within 0.05 V of each other and above 5 °C; only then set them in parallel, every bar covered, a fuse in the supply's lead.",
    "Set the supply to 3.60 V open circuit, measured with a meter, before it touches a cell; never above 3.65 V.",
    "Connect, and stay. Check the voltage at the cells, not at the supply's display.",
    "Never raise the supply's voltage to make up for its leads.",
    "Done when the current has fallen to a hundredth of one cell's capacity an hour, or two.",
    "Rest half a day; the spread above 3.40 V is below 5 mV; then back into series."};
constexpr std::array<std::string_view, 9> first_power = {
    "Polarity of every pack and of the inverter's input measured, not read off colours.",
    "Packs rested, full, and within 0.1 V of each other before they are joined.",
    "Precharge first; the voltage across the open contactor is below one volt before it closes.",
    "The BMS shows the charging current: nothing by-passes it.",
    "First charge at a tenth of capacity an hour, watched to the end.",
    "Each protection seen to act by moving its limit to the present reading and back, never by overcharging, emptying or shorting: high, low, cold charge, over-current; communication unplugged.",
    "First full load for half an hour; every joint measured for warmth with an infrared meter or camera. No hand on a live bar.",
    "Sharing between packs measured with a clamp: none above what the plan foresees.",
    "Settings sheet compared with every device, line by line, and signed."};
constexpr std::array<std::string_view, 7> yearly = {
    "Torque marks unmoved. Bank isolated, insulated tool: two bolts of each pack tried at their torque.",
    "Millivolts across every link at the usual current, against the first year's.",
    "A full charge with the spread at its end written down.",
    "Capacity between full and the inverter's stop, against the first year's.",
    "Each protection seen to act once, by moving its limit and back.",
    "Alarm tested; dust out; nothing stored against the packs.",
    "Spares at a third to a half of charge, with the next date to look at them."};
constexpr std::array<Checklist, 5> lists = {
    Checklist{"Before the links go on", "at the bench, for each pack", before_assembly},
    Checklist{"Sense leads", "before the BMS is plugged in, for each pack", sense_leads},
    Checklist{"Top balance", "once, before the bank is closed; stay with it", balancing},
    Checklist{"First power", "on the day of commissioning", first_power},
    Checklist{"Every year", "and after every change", yearly}};

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

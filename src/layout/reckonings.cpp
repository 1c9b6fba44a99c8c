// SPDX-License-Identifier: Apache-2.0
#include "layout/reckonings.hpp"

#include "base/input_error.hpp"
#include "layout/clamping.hpp"

namespace layout {
namespace {

namespace units = base::units;
using base::Answer;
using base::Arguments;
using InputKind = base::InputSpec::Kind;

Answer run_clamping(const Arguments& in) {
  const base::SquareMetres face =
      in.number("face_width_mm") * units::mm * (in.number("face_height_mm") * units::mm);
  if (in.has("pressure_kPa") == in.has("force_kgf"))
    throw base::InputError({},
                           in.has("force_kgf") ? "both pressure_kPa and force_kgf"
                                               : "neither pressure_kPa nor force_kgf",
                           "one of pressure_kPa and force_kgf",
                           "give the one that the cell's sheet names");
  const base::Newtons force = in.has("pressure_kPa") ? in.number("pressure_kPa") * units::kPa * face
                                                     : in.number("force_kgf") * 9.80665 * units::N;
  const std::string& rod = in.text("rod");
  const double diameter_mm = rod == "M6" ? 6.0 : rod == "M8" ? 8.0 : 10.0;
  const Clamping result =
      clamp(force, face, in.whole("rods"), diameter_mm * units::mm, in.number("nut_factor"));
  return {{{"force_N", result.force.in(units::N)},
           {"pressure_kPa", result.pressure.in(units::kPa)},
           {"torque_Nm", result.torque_Nm}}};
}

}  // namespace

std::vector<base::Reckoning> reckonings() {
  return {
      {.name = "clamping",
       .title = "Force, pressure and torque of a clamped row of cells",
       .inputs = {{.key = "face_width_mm",
                   .suffix = "mm",
                   .unit = "mm",
                   .text = "width of the large face",
                   .min = 10,
                   .max = 1000},
                  {.key = "face_height_mm",
                   .suffix = "mm",
                   .unit = "mm",
                   .text = "height of the large face",
                   .min = 10,
                   .max = 1000},
                  {.key = "pressure_kPa",
                   .suffix = "kPa",
                   .unit = "kPa",
                   .text = "pressure on the face",
                   .min = 0.1,
                   .max = 2000,
                   .optional = true},
                  {.key = "force_kgf",
                   .suffix = "kgf",
                   .unit = "kgf",
                   .text = "force on the face",
                   .min = 0.1,
                   .max = 20000,
                   .optional = true},
                  {.key = "rods",
                   .suffix = "",
                   .unit = "",
                   .text = "threaded rods that carry the force",
                   .min = 1,
                   .max = 32,
                   .kind = InputKind::whole,
                   .fallback = "4"},
                  {.key = "rod",
                   .suffix = "",
                   .unit = "",
                   .text = "thread of the rods",
                   .kind = InputKind::choice,
                   .fallback = "M8",
                   .choices = {"M6", "M8", "M10"}},
                  {.key = "nut_factor",
                   .suffix = "",
                   .unit = "",
                   .text = "nut factor K (0.2 dry)",
                   .min = 0.05,
                   .max = 0.5,
                   .fallback = "0.2"}},
       .outputs = {{"force_N", "N", "force on the face"},
                   {"pressure_kPa", "kPa", "pressure on the face"},
                   {"torque_Nm", "N·m", "torque on each rod"}},
       .formula = "F = p · w · h;  T = K · d · F / rods",
       .source = "force and pressure: definition; torque law [Shigley2011] nut factor, K = 0.2",
       .validity = "K scatters by a quarter and more with thread and lubrication",
       .cautions =
           {"Take the pressure from the cell's sheet; too much harms the cell. A stack in series "
            "carries one force, not one for each cell.",
            "Whether to clamp at all is disputed; the cell's sheet decides."},
       .run = run_clamping,
       .example = "face_width=174mm face_height=207mm force_kgf=300 rods=4 rod=M8"},
  };
}

}  // namespace layout

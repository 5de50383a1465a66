#pragma once

#include <string>

#include "sim/anatomy/anatomy.hpp"

/// The tables that `pk anatomy` prints: what the model itself has at its landmarks, along its structures and at a
/// point.
///
/// Millimetres, three decimals, head frame (+x to the patient's left, +y up, +z forward). CSV after RFC 4180 (lines end
/// in CRLF, fields quoted where they must be); JSON as an array of objects with the CSV's column names as keys.

namespace report {

enum class TableFormat { csv, json };

/// landmark,side,x_mm,y_mm,z_mm,depth_mm,skin_mm,superficial_fat_mm,smas_mm,deep_mm
///
/// depth_mm to bone or floor as the depth tables measure it; the last four are layer thicknesses straight in, deep_mm
/// being deep fat and muscle together.
[[nodiscard]] std::string landmarks_table(const sim::Anatomy& anatomy, TableFormat format);

/// structure,side,station,x_mm,y_mm,z_mm,depth_mm,radius_mm, one row a station
[[nodiscard]] std::string structures_table(const sim::Anatomy& anatomy, TableFormat format);

/// One point: layer, depth, layer bottoms and the nearest structure's wall.
///
/// x_mm,y_mm,z_mm,layer,fraction,depth_mm,skin_bottom_mm,superficial_fat_bottom_mm,smas_bottom_mm,deep_fat_bottom_mm,
/// floor_mm,floor,nearest_structure,nearest_side,distance_mm. distance_mm is negative inside the wall; the last three
/// are empty (CSV) or null (JSON) when no structure lies within 50 mm.
/// @throws sim::InputError for a coordinate that is not a finite number within 300 mm of the head's origin
[[nodiscard]] std::string point_table(const sim::Anatomy& anatomy, const sim::Vec3& p_mm, TableFormat format);

}  // namespace report

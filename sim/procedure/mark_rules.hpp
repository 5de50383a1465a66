#pragma once

#include <optional>

#include "sim/anatomy/anatomy.hpp"
#include "sim/procedure/deeds.hpp"

/// Where marks ought to lie by what can be seen and felt on the skin, never by the hidden course of a patient's own
/// vessels and nerves.

namespace sim {

/// How far a mark lies from where its rule puts it, m; 0 within its zone. Nothing where the patient has no such
/// landmarks (the slab), and for the ends of a vector, which have no rule.
///
/// - jaw artery: at the antegonial notch, in front of the masseter's edge (common practice, no source).
/// - line of the frontal branch: from 5 mm below the tragus to 15 mm above the outer end of the brow (Pitanguy & Ramos
///   1966, Plast Reconstr Surg 38:352, from memory); the brow's end is taken 10 mm above the outer rim of the orbit
///   (assumed).
/// - zone of the marginal mandibular branch: along the jaw's border from gonion to its middle, to 20 mm below it
///   (Dingman & Grabb 1962, Plast Reconstr Surg 29:266: to 10 mm; doubled as a margin, assumed).
[[nodiscard]] std::optional<double> off_rule_m(const Anatomy& anatomy, MarkPoint point, const Vec3& place_m);

/// A place on the skin that the rule asks for; for a line or a zone its middle.
[[nodiscard]] std::optional<Vec3> rule_place(const Anatomy& anatomy, MarkPoint point, Side side);

/// The artery whose pulse a finger at this skin place feels, -1 for none: its wall lies within 10 mm of the skin
/// there (assumed).
[[nodiscard]] int pulse_under(const Anatomy& anatomy, const Vec3& place_m);

}  // namespace sim

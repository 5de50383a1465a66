#include "engine/graded/rating.hpp"

namespace graded {

namespace {

constexpr std::array<RatingItem, kRatingItems> kItems{{
    {"plan",
     "Plan on the skin",
     {"Nothing is marked that the work could follow.",
      "Marks are there, but would not lift what sags, or end in the fold.",
      "The vectors serve what sags; a landmark or a side is left to luck.",
      "Vectors, entries and landmarks fit this face, side by side.",
      "As before, and each choice answers something that only this face has."}},
    {"depth",
     "Sense of depth",
     {"The depth is never looked for.", "The depth is looked for only after something has gone wrong.",
      "The depth is looked for now and then; wrong turns are noticed late.",
      "The tip is lifted or felt over often, and a wrong depth is put right within millimetres.",
      "The plane is held as if it could be seen, with a look before each place where it changes."}},
    {"danger",
     "Respect for danger",
     {"Vessels and nerves might not exist.", "Danger is known of, but the hand does not change for it.",
      "The hand slows near danger; the way round it is not always the better one.",
      "The way keeps clear of danger, and what cannot be avoided is passed slowly and shallow.",
      "As before, and at the first doubt the hand stops and looks again."}},
    {"answer",
     "Answer to resistance and signs",
     {"Resistance is forced and signs are passed over.", "Signs are seen late, or answered with more of the same.",
      "Signs are answered, though not at once or not in full.",
      "The hand stops at once and does what the sign asks for.",
      "The sign is met before it is plain, and what comes after it is watched."}},
    {"thread",
     "Handling of the thread",
     {"The thread is lost, stripped or pulled at random.",
      "The thread stays where it happens to, and is pulled too hard.",
      "The thread holds; it is anchored unevenly or with strokes too many.",
      "Withdrawn straight, tested gently, drawn towards its middle with an even hand, ended under the skin.",
      "As before, with no stroke that could have been left out."}},
    {"order",
     "Order and cleanness of the work",
     {"Steps are left out that keep a patient safe.",
      "Steps come in an order that undoes them, or what was clean is not kept so.",
      "The order holds; a step is hurried, or done again without need.",
      "Step follows step, clean things stay clean, and waits are waited.",
      "As before, and the next step is ready before the last is done."}},
}};

}  // namespace

std::span<const RatingItem, kRatingItems> rating_items() { return kItems; }

}  // namespace graded
